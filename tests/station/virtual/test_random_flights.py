from functools import cache

import numpy as np
import pytest

from station.records import Role
from station.virtual.air import GRAVITY_MPS2
from station.virtual.random_flights import FAULT_CLASSES, RARE_CLASSES, random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight

SEEDS = range(12)
HIT_AT_ONCE_S = 1.5
SLOW = {"pad-front", "front-then-flown", "pad-sun", "sun-then-flown"}


@cache
def flights(fault: str | None) -> list[VirtualFlight]:
    return [random_flight(seed, fault) for seed in SEEDS]


SETUPS = [random_setup(seed) for seed in range(150)]


@pytest.mark.parametrize(
    ("what", "low", "high"),
    [
        ("day.pad_pressure_pa", 84_000.0, 102_500.0),
        ("day.pad_temperature_c", -5.0, 38.0),
        ("barometer.noise_pa", 2.0, 9.0),
        ("radio.loss_fraction", 0.0, 0.25),
        ("altimeter.sample_period_ms", 20.0, 100.0),
        ("motor.total_impulse_ns", 40.0, 2560.0),
    ],
)
def test_what_is_drawn_fills_its_range_and_stays_in_it(what: str, low: float, high: float) -> None:
    part, name = what.split(".")
    drawn = [float(getattr(getattr(setup, part), name)) for setup in SETUPS]
    assert low <= min(drawn) < max(drawn) <= high
    assert min(drawn) < low + 0.2 * (high - low)
    assert max(drawn) > high - 0.2 * (high - low)


def test_about_half_have_an_accelerometer_and_it_can_be_chosen() -> None:
    assert 50 < sum(setup.accelerometer is not None for setup in SETUPS) < 100
    assert random_setup(1, accelerometer=True).accelerometer is not None
    assert random_setup(1, accelerometer=False).accelerometer is None


def test_choosing_the_accelerometer_changes_nothing_else() -> None:
    with_it, without = random_setup(4, accelerometer=True), random_setup(4, accelerometer=False)
    assert (with_it.rocket, with_it.motor, with_it.day, with_it.altimeter) == (
        without.rocket,
        without.motor,
        without.day,
        without.altimeter,
    )


def test_apogees_reach_from_low_to_high() -> None:
    apogees = [f.truth.apogee_m for f in flights(None) if f.truth.apogee_m is not None]
    assert 120.0 < min(apogees) < 500.0
    assert 2000.0 < max(apogees) < 6500.0


def test_apogees_can_be_bounded() -> None:
    for seed in range(5):
        truth = random_flight(seed, apogee_m=(1000.0, 1500.0)).truth
        assert truth.apogee_m is not None
        # In still air; wind and tilt cost some of it.
        assert 750.0 < truth.apogee_m < 1505.0


def test_a_flight_without_fault_lands_under_both_parachutes() -> None:
    for flight in flights(None):
        truth = flight.truth
        assert truth.drogue.opened
        assert truth.main.opened
        assert truth.touchdown_rate_mps is not None
        assert 3.0 < truth.touchdown_rate_mps < 10.0


@pytest.mark.parametrize(
    ("fault", "drogue", "main"),
    [
        ("drogue-silent", (False, False), (True, True)),
        ("main-silent", (True, True), (False, False)),
        ("drogue-stays-in", (True, False), (True, True)),
        ("main-stays-in", (True, True), (True, False)),
        ("tangled-drogue", (True, True), (True, True)),
        ("tangled-main", (True, True), (True, True)),
        ("both-at-once", (True, True), (True, True)),
        ("main-at-apogee", (True, True), (True, True)),
        ("drogue-late", (True, True), (True, True)),
    ],
)
def test_a_class_of_fault_is_what_its_name_says(fault: str, drogue: tuple[bool, bool], main: tuple[bool, bool]) -> None:
    for flight in flights(fault):
        truth = flight.truth
        assert (truth.drogue.fired_t_s is not None, truth.drogue.opened) == drogue
        # Out of a fall without a drogue the ground may be there before the canopy is.
        hit = truth.touchdown_t_s is not None and truth.touchdown_t_s - (truth.main.fired_t_s or 0.0) < HIT_AT_ONCE_S
        assert (truth.main.fired_t_s is not None, truth.main.opened or (main[1] and hit)) == main


def test_early_drogues_fire_while_the_rocket_still_climbs() -> None:
    for flight in flights("drogue-early"):
        assert flight.truth.drogue.fired_velocity_mps is not None
        assert flight.truth.drogue.fired_velocity_mps > 5.0


def test_late_drogues_fire_one_to_four_seconds_late_or_a_little_more() -> None:
    for flight in flights("drogue-late"):
        assert flight.truth.drogue.fired_t_s is not None
        assert flight.truth.apogee_t_s is not None
        assert 0.9 < flight.truth.drogue.fired_t_s - flight.truth.apogee_t_s < 5.2


def test_every_restart_comes_in_flight() -> None:
    for flight in flights("restart"):
        truth = flight.truth
        assert truth.restart_t_s is not None
        assert truth.liftoff_t_s is not None
        assert truth.touchdown_t_s is not None
        assert truth.liftoff_t_s < truth.restart_t_s


def test_ballistic_flights_hit_hard() -> None:
    assert all((flight.truth.touchdown_rate_mps or 0.0) > 40.0 for flight in flights("ballistic"))


def test_flights_with_one_parachute_plan_one() -> None:
    for flight in flights("one-parachute"):
        assert flight.setup.recovery.drogue is None
        assert flight.setup.altimeter.channel_2_role is Role.NONE


@pytest.mark.parametrize("fault", ["drogue-lets-go", "main-lets-go", "cord-parts", "only-one-lets-go"])
def test_what_lets_go_held_before_it_and_leaves_a_faster_fall(fault: str) -> None:
    torn = 0
    for flight in (random_flight(seed, fault) for seed in range(5)):
        truth = flight.truth
        role = Role.DROGUE if fault == "drogue-lets-go" else Role.MAIN
        parachute = truth.drogue if role is Role.DROGUE else truth.main
        if parachute.let_go_t_s is None:
            continue  # the ground, or the main, came before it
        torn += 1
        assert parachute.opened
        assert parachute.took_hold_t_s is None or parachute.took_hold_t_s < parachute.let_go_t_s
        after = np.searchsorted(truth.t_s, parachute.let_go_t_s) + np.array([-1, round(1.0 / truth.t_s[1])])
        if after[1] < len(truth.t_s) and truth.t_s[after[1]] < (truth.touchdown_t_s or 0.0) and role is Role.MAIN:
            assert truth.velocity_mps[after[1]] < truth.velocity_mps[after[0]] - 3.0
    assert torn >= 3


def test_a_gentle_motor_pushes_with_two_or_three_times_the_weight() -> None:
    for seed in range(40):
        setup = random_setup(seed, "gentle-motor")
        assert setup.motor is not None
        mass_kg = setup.rocket.dry_mass_kg + setup.motor.propellant_mass_kg + setup.motor.case_mass_kg
        mean_n = setup.motor.total_impulse_ns / setup.motor.thrust_curve[-1][0]
        burn_s = setup.motor.thrust_curve[-1][0]
        assert burn_s <= 9.001
        assert mean_n / (mass_kg * GRAVITY_MPS2) > 1.79
        assert mean_n / (mass_kg * GRAVITY_MPS2) < 2.81 or burn_s > 8.99


@pytest.mark.parametrize("fault", sorted(set(FAULT_CLASSES | RARE_CLASSES) - SLOW))
def test_every_class_of_fault_flies_and_is_heard(fault: str) -> None:
    flight = random_flight(77, fault)
    assert len(flight.lines) > 50
    launched = not fault.startswith("pad-")
    assert (flight.truth.liftoff_t_s is not None) == launched


def test_the_same_seed_draws_the_same_flight() -> None:
    assert random_flight(9, "restart").lines == random_flight(9, "restart").lines


def test_a_class_that_does_not_exist_is_refused_with_those_that_do() -> None:
    with pytest.raises(ValueError, match="no such class of fault: gremlins; there are none, drogue-silent"):
        random_setup(1, "gremlins")


@pytest.mark.parametrize("seed", [4, 7])
def test_a_front_that_passes_while_the_rocket_waits_fires_nothing(seed: int) -> None:
    """The altimeter's ground follows the weather: 25 m of falling pressure are no launch."""
    flight = random_flight(seed, "front-then-flown")
    truth = flight.truth
    assert truth.liftoff_t_s is not None
    for fired in (truth.channel_1_fired_t_s, truth.channel_2_fired_t_s):
        assert fired is None or fired > truth.liftoff_t_s
    assert truth.apogee_m is not None
    assert truth.apogee_m > 100.0
