"""The drag coefficient, by the reference flight and over whole virtual flights.

Reference: k = rho Cd A / 2 with rho 1.225 kg/m^3, Cd 0.60, A = pi 0.075^2/4 = 0.004417865 m^2 is 0.001623565.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from station.advice import Advice, FlightFacts, Topic
from station.advice.drag import drag_advice
from station.after_landing import judge_lines
from station.coasting import Coasting
from station.plan import FlightPlan
from station.virtual.flight_setup import FlightSetup
from station.virtual.radio import Radio
from station.virtual.random_flights import random_setup
from station.virtual.scenarios import club_rocket
from station.virtual.sensors import Barometer
from station.virtual.virtual_flight import fly_setup

PLAN = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1, rocket_diameter_m=0.075)


def test_the_reference_flights_coefficient(
    make_facts: Callable[..., FlightFacts], make_coasting: Callable[..., Coasting]
) -> None:
    found = drag_advice(make_facts(plan=PLAN, coasting=make_coasting()))
    assert found is not None
    assert found.value == pytest.approx(0.60, abs=1e-4)
    assert found.sigma == pytest.approx(0.02 * 0.60, rel=0.01)
    assert not found.change
    assert "0.60 ± 0.02: use it in the simulation" in found.headline


@pytest.mark.parametrize(("planned", "change", "says"), [(0.61, False, "0.61 fits"), (0.45, True, "not 0.45: correct")])
def test_it_is_laid_beside_the_plans(
    make_facts: Callable[..., FlightFacts],
    make_coasting: Callable[..., Coasting],
    planned: float,
    change: bool,
    says: str,
) -> None:
    plan = replace(PLAN, rocket_drag_coefficient=planned)
    found = drag_advice(make_facts(plan=plan, coasting=make_coasting()))
    assert found is not None
    assert found.change is change
    assert says in found.headline


def test_wind_makes_it_less_sure(
    make_facts: Callable[..., FlightFacts], make_coasting: Callable[..., Coasting]
) -> None:
    calm = drag_advice(make_facts(plan=replace(PLAN, wind_mps=2.0), coasting=make_coasting()))
    windy = drag_advice(make_facts(plan=replace(PLAN, wind_mps=8.0), coasting=make_coasting()))
    assert calm is not None
    assert windy is not None
    assert (windy.sigma or 0.0) > 2.0 * (calm.sigma or 0.0)


@pytest.mark.parametrize(
    "plan", [FlightPlan(), replace(PLAN, propellant_mass_kg=None), replace(PLAN, rocket_diameter_m=None)]
)
def test_without_mass_after_burnout_and_diameter_it_cannot_be_told(
    make_facts: Callable[..., FlightFacts], make_coasting: Callable[..., Coasting], plan: FlightPlan
) -> None:
    assert drag_advice(make_facts(plan=plan, coasting=make_coasting())) is None
    assert drag_advice(make_facts(plan=PLAN)) is None


# -- whole flights, from the altimeter's lines -------------------------------------------------------------------


def advised(setup: FlightSetup, seed: int) -> Advice:
    motor, rocket = setup.motor, setup.rocket
    assert motor is not None
    plan = FlightPlan(
        rocket_mass_kg=rocket.dry_mass_kg + motor.case_mass_kg + motor.propellant_mass_kg,
        propellant_mass_kg=motor.propellant_mass_kg,
        rocket_diameter_m=rocket.diameter_m,
        air_temperature_c=setup.day.pad_temperature_c,
        wind_mps=setup.day.ground_wind_mps,
    )
    report = judge_lines(fly_setup(setup, seed).heard(), file="virtual", plan=plan)
    (found,) = (piece for piece in report.next_time.advice if piece.topic is Topic.DRAG)
    return found


def without_noise(setup: FlightSetup) -> FlightSetup:
    """Still air, a perfect barometer, and every line heard."""
    day = replace(setup.day, ground_wind_mps=0.0, high_wind_mps=0.0, gust_mps=0.0, vertical_gust_mps=0.0)
    barometer = Barometer(noise_pa=0.0, lag_s=0.0, resolution_pa=0.01, port_wind_coefficient=0.0)
    radio = Radio(loss_fraction=0.0, corrupt_fraction=0.0, noise_fraction=0.0)
    return replace(setup, day=day, barometer=barometer, radio=radio, after_s=2.0)


@pytest.mark.parametrize("seed", [0, 1, 4, 8, 11])
def test_a_flight_without_noise_shows_it_within_five_percent(seed: int) -> None:
    """Compared with the coefficient well below the speed of sound; some of these rockets pass Mach 0.75."""
    setup = without_noise(random_setup(seed, apogee_m=(150.0, 2000.0)))
    assert advised(setup, seed).value == pytest.approx(setup.rocket.drag_coefficient, rel=0.05)


def test_the_club_rocket_in_its_wind_shows_it_within_its_error_bar() -> None:
    for seed in (1, 2, 3):
        setup = club_rocket(seed)
        found = advised(setup, seed)
        assert found.value is not None
        assert found.sigma is not None
        assert abs(found.value - setup.rocket.drag_coefficient) < 2.0 * found.sigma
        assert found.sigma < 0.08 * found.value


def test_noisy_flights_show_it_within_their_error_bars() -> None:
    """Drawn by chance: noise, lost lines, wind up to 19 m/s aloft; with an accelerometer or without."""
    within = []
    for seed in range(500, 512):
        setup = random_setup(seed, apogee_m=(150.0, 1500.0))
        found = advised(setup, seed)
        assert found.value is not None
        assert found.sigma is not None
        within.append(abs(found.value - setup.rocket.drag_coefficient) < 2.0 * found.sigma)
    # 95 of 100 should be; fewer than 10 of 12 would be a chance of 1 in 50 (binomial).
    assert sum(within) >= 10
