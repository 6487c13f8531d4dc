import numpy as np
import pytest

from station.records import ChannelRecord, ChannelState
from station.virtual import SCENARIOS, VirtualFlight, fly
from station.virtual.truth import ParachuteTruth, Truth

FLIGHTS = {name: fly(scenario, 1) for name, scenario in SCENARIOS.items() if name != "pad-front"}
LAUNCHED = [name for name in FLIGHTS if not name.startswith("pad-")]


def opened(parachute: ParachuteTruth) -> tuple[bool, bool]:
    return parachute.fired_t_s is not None, parachute.opened


@pytest.mark.parametrize("name", ["nominal-dual", "restart-in-flight", "pad-gusts"])
def test_the_same_seed_makes_the_same_flight_to_the_last_byte(name: str) -> None:
    again = fly(SCENARIOS[name], 1)
    assert [(line.t_s, line.data) for line in again.lines] == [(line.t_s, line.data) for line in FLIGHTS[name].lines]


def test_another_seed_makes_another_flight() -> None:
    other = fly(SCENARIOS["nominal-dual"], 2)
    assert other.truth.apogee_m != FLIGHTS["nominal-dual"].truth.apogee_m
    assert other.lines[0].data != FLIGHTS["nominal-dual"].lines[0].data


# For each scenario: (drogue fired, drogue opened), (main fired, main opened), as its sentence says.
SAID = {
    "nominal-dual": ((True, True), (True, True)),
    "drogue-silent": ((False, False), (True, True)),
    "main-silent": ((True, True), (False, False)),
    "main-stays-in": ((True, True), (True, False)),
    "late-ejection": ((False, False), (True, True)),
    "early-ejection": ((False, False), (True, True)),
    "ejection-in-time": ((False, False), (True, True)),
    "past-mach-1": ((True, True), (True, True)),
    "behind-the-trees": ((True, True), (True, True)),
    "drogue-open": ((False, False), (True, True)),
    "drogue-stays-in": ((True, False), (True, True)),
    "tangled-drogue": ((True, True), (True, True)),
    "tangled-main": ((True, True), (True, True)),
    "main-at-apogee": ((True, True), (True, True)),
    "drogue-early": ((True, True), (True, True)),
    "drogue-late": ((True, True), (True, True)),
    "both-at-once": ((True, True), (True, True)),
    "ballistic": ((False, False), (False, False)),
    "restart-in-flight": ((True, True), (True, True)),
    "satellite-fixes": ((True, True), (True, True)),
}


def test_every_scenario_that_flies_is_looked_at_here() -> None:
    assert set(SAID) == set(LAUNCHED)


@pytest.mark.parametrize("name", LAUNCHED)
def test_a_scenario_does_with_its_charges_and_parachutes_what_it_says(name: str) -> None:
    truth = FLIGHTS[name].truth
    assert (opened(truth.drogue), opened(truth.main)) == SAID[name]


@pytest.mark.parametrize("name", LAUNCHED)
def test_the_true_events_come_in_order(name: str) -> None:
    truth = FLIGHTS[name].truth
    times = [truth.ignition_t_s, truth.liftoff_t_s, truth.burnout_t_s, truth.apogee_t_s, truth.touchdown_t_s]
    assert times == sorted(t for t in times if t is not None)


@pytest.mark.parametrize("name", LAUNCHED)
def test_the_true_curve_has_the_true_events_on_it(name: str) -> None:
    truth = FLIGHTS[name].truth
    assert truth.apogee_m is not None
    assert truth.altitude_m.max() == pytest.approx(truth.apogee_m, abs=0.01)
    assert truth.velocity_mps.max() == pytest.approx(truth.max_velocity_mps, rel=2e-3)
    assert truth.t_s[truth.altitude_m.argmax()] == pytest.approx(truth.apogee_t_s, abs=0.06)
    moving = truth.t_s[np.abs(truth.velocity_mps) > 0.0]
    assert moving[0] == pytest.approx(truth.liftoff_t_s, abs=0.06)
    assert moving[-1] == pytest.approx(truth.touchdown_t_s, abs=0.06)


@pytest.mark.parametrize("name", [name for name in FLIGHTS if name.startswith("pad-")])
def test_a_flight_that_never_leaves_the_pad_has_no_events(name: str) -> None:
    truth = FLIGHTS[name].truth
    assert (truth.liftoff_t_s, truth.apogee_t_s, truth.touchdown_t_s) == (None, None, None)
    assert (opened(truth.drogue), opened(truth.main)) == ((False, False), (False, False))
    assert not truth.altitude_m.any()


def test_the_demo_flight_is_short_and_climbs_some_hundred_metres() -> None:
    flight = FLIGHTS["nominal-dual"]
    assert flight.truth.apogee_m is not None
    assert 350.0 < flight.truth.apogee_m < 450.0
    assert 70.0 < flight.lines[-1].t_s < 90.0
    assert flight.truth.liftoff_t_s is not None
    assert 8.0 < flight.truth.liftoff_t_s < 10.5


def _rates(flight: VirtualFlight) -> tuple[float, float]:
    rates = flight.truth.drogue.rate_mps, flight.truth.main.rate_mps
    assert rates[0] is not None
    assert rates[1] is not None
    return rates[0], rates[1]


def test_the_descent_rates_are_what_the_curve_shows() -> None:
    truth = FLIGHTS["nominal-dual"].truth
    for parachute in (truth.drogue, truth.main):
        assert parachute.rate_from_m is not None
        assert parachute.rate_to_m is not None
        between = (truth.altitude_m < parachute.rate_from_m) & (truth.altitude_m > parachute.rate_to_m)
        between &= truth.t_s > (truth.apogee_t_s or 0.0)
        assert -truth.velocity_mps[between].mean() == pytest.approx(parachute.rate_mps, rel=0.01)


def test_a_parachute_takes_hold_after_its_charge_and_before_it_has_settled() -> None:
    for name in ("nominal-dual", "past-mach-1", "drogue-late"):
        truth = FLIGHTS[name].truth
        for parachute in (truth.drogue, truth.main):
            times = [parachute.fired_t_s, parachute.stretched_t_s, parachute.took_hold_t_s, parachute.settled_t_s]
            assert None not in times
            assert times == sorted(t for t in times if t is not None)


def test_a_tangled_drogue_falls_much_faster_than_a_good_one() -> None:
    assert _rates(FLIGHTS["tangled-drogue"])[0] > 1.8 * _rates(FLIGHTS["nominal-dual"])[0]


def test_a_tangled_main_lands_much_faster_than_a_good_one() -> None:
    tangled, good = FLIGHTS["tangled-main"].truth, FLIGHTS["nominal-dual"].truth
    assert tangled.touchdown_rate_mps is not None
    assert good.touchdown_rate_mps is not None
    assert tangled.touchdown_rate_mps > 1.8 * good.touchdown_rate_mps


def test_a_main_that_comes_out_with_the_drogue_takes_hold_near_the_top_and_fires_low_down() -> None:
    main = FLIGHTS["main-at-apogee"].truth.main
    assert main.took_hold_altitude_m is not None
    assert main.fired_altitude_m is not None
    assert main.took_hold_altitude_m > 400.0
    assert main.fired_altitude_m < 130.0


def _after_top(truth: Truth) -> float:
    assert truth.drogue.fired_t_s is not None
    assert truth.apogee_t_s is not None
    return truth.drogue.fired_t_s - truth.apogee_t_s


def test_early_and_late_drogues_fire_early_and_late() -> None:
    early, late = FLIGHTS["drogue-early"].truth, FLIGHTS["drogue-late"].truth
    assert -2.7 < _after_top(early) < -1.0
    assert early.drogue.fired_velocity_mps is not None
    assert early.drogue.fired_velocity_mps > 15.0
    assert 3.0 < _after_top(late) < 4.0


def test_a_late_motor_ejection_is_no_work_of_the_altimeter() -> None:
    truth = FLIGHTS["late-ejection"].truth
    assert truth.channel_1_fired_t_s is None
    assert truth.channel_2_fired_t_s is None
    assert truth.main.fired_velocity_mps is not None
    assert truth.main.fired_velocity_mps < -25.0


def test_past_mach_1_goes_past_mach_1_and_its_charge_waits_for_the_top() -> None:
    truth = FLIGHTS["past-mach-1"].truth
    assert truth.max_mach is not None
    assert truth.max_mach > 1.1
    assert 0.0 < _after_top(truth) < 1.0


def test_behind_the_trees_nothing_is_heard_from_before_the_main_on() -> None:
    flight = FLIGHTS["behind-the-trees"]
    assert flight.truth.main.fired_t_s is not None
    assert flight.lines[-1].t_s < flight.truth.main.fired_t_s - 2.0
    assert flight.lines[-1].t_s > flight.truth.main.fired_t_s - 4.0


def test_an_igniter_that_is_not_connected_is_told_on_the_pad_and_does_not_fire() -> None:
    states = {r.channel_1_state for _, r in FLIGHTS["drogue-open"].records if isinstance(r, ChannelRecord)}
    assert states == {ChannelState.OPEN}


def test_t_ms_counts_from_the_first_line_of_the_recording() -> None:
    flight = FLIGHTS["nominal-dual"]
    assert flight.records[0][1].t_ms == flight.truth.first_t_ms
    assert flight.truth.t_ms_of(12.5) == flight.truth.first_t_ms + 12_500.0


def test_every_scenario_has_one_sentence_for_a_person() -> None:
    for name, scenario in SCENARIOS.items():
        assert scenario.name == name
        assert scenario.description.endswith(".")
        assert scenario.description[:1].isupper()
        assert scenario.description.count(".") == 1
