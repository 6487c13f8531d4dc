"""A silence of the link over the highest point: what is told of it is so, and what is not known is not told."""

from functools import cache
from math import atan, cos, inf, log, sqrt, tan

import numpy as np
import pytest

from station.after_landing import CheckReport, judge_pipeline
from station.check_report import report_text
from station.coast_drag import CoastDrag
from station.coast_top import top_of
from station.estimator import VerticalFilter
from station.flight_state import Event, EventName, Verdict
from station.pipeline import Pipeline
from station.records import Role
from station.unseen_top import climbing_still, falling_since, foretold_top, lost_from
from station.virtual.random_flights import random_flight
from station.virtual.virtual_flight import VirtualFlight

G = 9.80665
NO_LAPSE = 1e12
LONG_AGO_MS = -1e12


@cache
def flown(seed: int, fault: str = "none") -> VirtualFlight:
    return random_flight(seed, fault)


def heard_but_for(flight: VirtualFlight, after_apogee_s: float, silent_s: float) -> tuple[Pipeline, CheckReport]:
    apogee_s = flight.truth.apogee_t_s
    assert apogee_s is not None
    begin_s = apogee_s + after_apogee_s
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        if not begin_s <= arrival_us / 1e6 < begin_s + silent_s:
            pipeline.take_line(line, arrival_us)
    return pipeline, judge_pipeline(pipeline, file="silent")


def named(events: tuple[Event, ...] | list[Event], name: EventName) -> Event | None:
    return next((event for event in events if event.name is name), None)


def test_a_coast_of_known_drag_is_foretold_as_the_closed_form_tells() -> None:
    """(1/2k) ln(1 + k v^2/g) and atan(v sqrt(k/g))/sqrt(k g), Fehskens and Malewicki."""
    k, v = 0.0008, 80.0
    state = VerticalFilter(
        300.0, v, -G - k * v * v, altitude_sigma_m=0.2, velocity_sigma_mps=0.2, acceleration_sigma_mps2=0.05
    )
    found = foretold_top(5000.0, state, NO_LAPSE, LONG_AGO_MS)
    # What is usual of a rocket so fast weighs a little beside the deceleration that was measured.
    assert found.t_ms / 1000.0 - 5.0 == pytest.approx(atan(v * sqrt(k / G)) / sqrt(k * G), rel=0.01)
    assert found.altitude_m - 300.0 == pytest.approx(log(1.0 + k * v * v / G) / (2.0 * k), rel=0.01)


def test_its_error_bars_are_those_of_many_draws() -> None:
    coast = CoastDrag(0.0, 200.0, 90.0, 1.0, 2.0, 288.15)
    coast.pkk = 0.04
    _, _, sigma_s, sigma_m = top_of(coast)
    chance = np.random.default_rng(1)
    tops = []
    for _ in range(2000):
        drawn = CoastDrag(0.0, 200.0 + chance.normal(), 90.0 + 2.0 * chance.normal(), 1.0, 2.0, 288.15)
        drawn.ln_k = coast.ln_k + 0.2 * chance.normal()
        seconds, metres, _, _ = top_of(drawn)
        tops.append((seconds, drawn.h + metres))
    spread_s, spread_m = np.std(tops, axis=0)
    assert (sigma_s, sigma_m) == (pytest.approx(spread_s, rel=0.08), pytest.approx(spread_m, rel=0.08))


def test_a_top_just_passed_lies_back_and_higher() -> None:
    coast = CoastDrag(0.0, 500.0, 1.0, 0.5, 0.5, 288.15)
    coast.v = -4.0
    seconds, metres, _, _ = top_of(coast)
    assert (seconds, metres) == (pytest.approx(-4.0 / G), pytest.approx(4.0**2 / (2.0 * G)))


def test_a_coast_heard_again_before_its_top_is_where_the_closed_form_puts_it() -> None:
    """v = vt tan(atan(v0 / vt) - g t / vt) under a drag of k v^2, vt = sqrt(g / k) (Fehskens and Malewicki)."""
    k, v, silent_s = 0.0006, 250.0, 8.0
    vt = sqrt(G / k)
    begun, ended = atan(v / vt), atan(v / vt) - G * silent_s / vt
    seen_m = 300.0 + vt * vt / G * log(cos(ended) / cos(begun))
    state = VerticalFilter(
        300.0, v, -G - k * v * v, altitude_sigma_m=1.0, velocity_sigma_mps=1.0, acceleration_sigma_mps2=1.0
    )
    found = climbing_still(5000.0, state, NO_LAPSE, 5000.0 + 1000.0 * silent_s, seen_m, 1.0)
    assert found is not None
    assert found.h == pytest.approx(seen_m, abs=2.0)
    assert found.v == pytest.approx(vt * tan(ended), rel=0.03)
    assert abs(found.v - vt * tan(ended)) < 2.0 * sqrt(found.pvv)
    assert found.a == pytest.approx(-G - k * found.v**2, rel=0.05)
    # As if a parachute had come out: no coast stays so low.
    assert climbing_still(5000.0, state, NO_LAPSE, 5000.0 + 1000.0 * silent_s, 700.0, 1.0) is None


def test_a_climb_that_goes_on_after_a_silence_is_not_called_its_end() -> None:
    """From 370 m/s, eleven seconds unheard: the last deceleration carried on made it fall, 11 s before the top."""
    flight = flown(2_012_166, "link-lost")
    pipeline, _ = heard_but_for(flight, 0.0, 0.0)
    apogee_s = flight.truth.apogee_t_s
    called = pipeline.tracker.event(EventName.APOGEE)
    assert apogee_s is not None
    assert called is not None
    assert called.called_t_ms > flight.truth.t_ms_of(apogee_s - 0.3)
    assert called.altitude_m == pytest.approx(flight.truth.apogee_m, rel=0.02)


def test_a_silence_hides_the_top_only_if_it_surely_lasted_beyond_it() -> None:
    top = foretold_top(0.0, VerticalFilter(300.0, 30.0, -G - 0.5), 288.15, LONG_AGO_MS)
    assert not top.is_past(top.t_ms + 200.0)
    assert top.is_past(top.t_ms + 1000.0 * 3.01 * top.sigma_s)
    assert not top.is_refuted_by(top.altitude_m)
    assert top.is_refuted_by(top.altitude_m + 3.01 * top.altitude_sigma_m)


@pytest.mark.parametrize("speed_mps", [5.0, 20.0, 60.0])
def test_a_fall_first_heard_after_it_is_within_its_error_bar(speed_mps: float) -> None:
    """Under a parachute at once, or free all the way: speeds of steady falls, 6.7 m/s is 15 mph (common practice)."""
    top = foretold_top(0.0, VerticalFilter(800.0, 1.0, -G), 288.15, LONG_AGO_MS)
    for since_s in (4.0, 10.0):
        steady = falling_since(top, top.t_ms + 1000.0 * since_s, top.altitude_m - speed_mps * since_s, 0.3)
        assert abs(steady.v + min(speed_mps, 0.5 * G * since_s)) < 2.0 * sqrt(steady.pvv)
    free = falling_since(top, top.t_ms + 4000.0, top.altitude_m - 8.0 * G, 0.3)
    assert abs(free.v + 4.0 * G) < 2.0 * sqrt(free.pvv)


def test_after_a_silence_in_which_anything_may_have_happened_little_is_thought_to_be_known() -> None:
    heard = VerticalFilter(100.0, 90.0, altitude_sigma_m=0.3)
    state = lost_from(1000.0, heard, 11_000.0, 400.0, 0.3)
    assert (state.h, state.v) == (400.0, 30.0)
    # Free fall for all of the silence, or a motor that burnt on for a while.
    assert sqrt(state.pvv) > 0.5 * G * 10.0
    # The height before it may have been hardly known either.
    guessed = lost_from(1000.0, VerticalFilter(100.0, 90.0, altitude_sigma_m=500.0), 11_000.0, 400.0, 0.3)
    assert sqrt(guessed.pvv) == pytest.approx(sqrt(state.pvv) + 50.0, abs=0.1)


@pytest.mark.parametrize("seed", [3, 12, 14])
@pytest.mark.parametrize(("after_apogee_s", "silent_s"), [(-3.0, 12.0), (-1.0, 25.0), (-0.3, 12.0), (0.3, 25.0)])
def test_it_is_reckoned_from_the_climb_before(seed: int, after_apogee_s: float, silent_s: float) -> None:
    """Before, seed 14 was told to be 11 to 47 s late, to a quarter of a second, and 500 m too low."""
    flight = flown(seed)
    pipeline, report = heard_but_for(flight, after_apogee_s, silent_s)
    truth_s, truth_m = flight.truth.apogee_t_s, flight.truth.apogee_m
    assert truth_s is not None
    assert truth_m is not None
    for events in (pipeline.tracker.events, report.events):
        apogee = named(events, EventName.APOGEE)
        assert apogee is not None
        late_s = (apogee.t_ms - flight.truth.t_ms_of(truth_s)) / 1000.0
        assert abs(late_s) < max(0.15, 3.0 * apogee.sigma_s)
        assert apogee.sigma_s < 0.6
        assert apogee.altitude_m == pytest.approx(truth_m, abs=3.0 + 3.0 * (apogee.altitude_sigma_m or 1.0))
    assert not {each.verdict for each in report.deployments} - {Verdict.CONFIRMED, Verdict.NOT_OBSERVED}


@pytest.mark.parametrize("after_apogee_s", [-3.0, -1.0, 0.3])
def test_a_drogue_out_on_the_way_up_is_within_the_error_bar_and_early(after_apogee_s: float) -> None:
    """It ends the climb sooner and lower than the coast foretold, heard to fire before the silence or after it."""
    flight = flown(31, "drogue-early")
    _, report = heard_but_for(flight, after_apogee_s, 12.0)
    apogee = named(report.events, EventName.APOGEE)
    truth_s, truth_m = flight.truth.apogee_t_s, flight.truth.apogee_m
    assert apogee is not None
    assert truth_s is not None
    assert abs(apogee.t_ms - flight.truth.t_ms_of(truth_s)) < max(150.0, 2500.0 * apogee.sigma_s)
    assert apogee.altitude_m == pytest.approx(truth_m, abs=3.0 + 2.5 * (apogee.altitude_sigma_m or 0.0))
    assert next(each for each in report.deployments if each.role is Role.DROGUE).verdict is not Verdict.CONFIRMED


def test_that_it_is_reckoned_is_said() -> None:
    _, report = heard_but_for(flown(3), -3.0, 12.0)
    assert "; not observed: reckoned from the climb before it, within " in report_text(report)
    _, whole = heard_but_for(flown(3), 0.0, 0.0)
    assert "not observed: reckoned" not in report_text(whole)


@pytest.mark.parametrize(("seed", "after_apogee_s", "silent_s"), [(8, -6.0, 25.0), (25, -6.0, 25.0), (5, -6.0, 12.0)])
def test_where_the_burn_was_lost_too_neither_height_nor_burn_nor_speed_is_told(
    seed: int, after_apogee_s: float, silent_s: float
) -> None:
    """Before, seed 25 was told to have been 2 m high, to a tenth of a second, and another to need a stronger motor."""
    flight = flown(seed)
    pipeline, report = heard_but_for(flight, after_apogee_s, silent_s)
    live = named(pipeline.tracker.events, EventName.APOGEE)
    assert live is not None
    assert live.altitude_sigma_m == inf
    truth_s = flight.truth.apogee_t_s
    assert truth_s is not None
    assert abs(live.t_ms - flight.truth.t_ms_of(truth_s)) < 2000.0 * live.sigma_s
    assert {event.name for event in report.events}.isdisjoint({EventName.APOGEE, EventName.BURNOUT})
    told = report.summary
    assert (told.apogee_m, told.apogee_isa_m, told.max_speed_mps, told.burn_time_s, told.coast_time_s) == (None,) * 5
    assert not {each.verdict for each in report.deployments} - {Verdict.CONFIRMED, Verdict.NOT_OBSERVED}


@pytest.mark.parametrize("seed", [12, 20, 27])
def test_a_silence_that_ends_just_after_the_top_is_told_as_one(seed: int) -> None:
    """Before, these were called 1.3 s late, to a quarter of a second, and 8 m too low."""
    flight = flown(seed)
    truth_s, truth_m = flight.truth.apogee_t_s, flight.truth.apogee_m
    assert truth_s is not None
    _, report = heard_but_for(flight, -8.0, 8.8)
    apogee = named(report.events, EventName.APOGEE)
    assert apogee is not None
    assert abs(apogee.t_ms - flight.truth.t_ms_of(truth_s)) < max(150.0, 3000.0 * apogee.sigma_s)
    assert apogee.altitude_m == pytest.approx(truth_m, abs=3.0 + 3.0 * (apogee.altitude_sigma_m or 0.0))


@pytest.mark.parametrize(("seed", "begin_s", "end_s"), [(12, 10.4, 12.8), (14, 12.7, 15.2), (270, 19.0, 30.6)])
def test_a_burnout_in_a_silence_is_not_observed(seed: int, begin_s: float, end_s: float) -> None:
    """Before, seed 12's was told to be 0.9 s late, to 0.3 s, and seed 270's 9 s late with a quarter of its speed."""
    flight = flown(seed)
    apogee_s, burnout_s = flight.truth.apogee_t_s, flight.truth.burnout_t_s
    assert apogee_s is not None
    assert burnout_s is not None
    pipeline, report = heard_but_for(flight, begin_s - apogee_s, end_s - begin_s)
    live = named(pipeline.tracker.events, EventName.BURNOUT)
    assert live is not None
    assert live.altitude_sigma_m == inf
    assert abs(live.t_ms - flight.truth.t_ms_of(burnout_s)) < 2000.0 * live.sigma_s
    assert named(report.events, EventName.BURNOUT) is None
    assert (report.summary.max_speed_mps, report.summary.burn_time_s) == (None, None)


@pytest.mark.parametrize("seed", [12, 14])
def test_no_speed_is_told_of_a_climb_whose_burnout_nobody_heard(seed: int) -> None:
    """Before, seed 12 was told to have been fastest at -21 m/s."""
    flight = flown(seed)
    apogee_s, burnout_s = flight.truth.apogee_t_s, flight.truth.burnout_t_s
    assert apogee_s is not None
    assert burnout_s is not None
    pipeline, report = heard_but_for(flight, burnout_s - 0.8 - apogee_s, 27.0)
    assert report.summary.max_speed_mps is None
    assert (pipeline.tracker.fastest_mps or 1.0) > 0.0


@pytest.mark.parametrize("seed", [3, 12, 14])
def test_a_landing_in_a_silence_that_hid_the_top_as_well_lies_anywhere_in_it(seed: int) -> None:
    flight = flown(seed)
    touchdown_s, apogee_s = flight.truth.touchdown_t_s, flight.truth.apogee_t_s
    assert touchdown_s is not None
    assert apogee_s is not None
    _, report = heard_but_for(flight, -2.0, touchdown_s + 7.0 - apogee_s)
    landed = named(report.events, EventName.TOUCHDOWN)
    assert landed is None or abs(landed.t_ms - flight.truth.t_ms_of(touchdown_s)) < 2000.0 * landed.sigma_s


def test_a_drogue_that_fired_at_the_top_in_a_silence_is_not_called_early_nor_late() -> None:
    """Before, seed 10's was early ("8.1 s before apogee") and seed 3's late and fast."""
    for seed, after_apogee_s, silent_s in ((10, -1.0, 25.0), (3, -3.0, 12.0)):
        _, report = heard_but_for(flown(seed), after_apogee_s, silent_s)
        drogue = next(each for each in report.deployments if each.role is Role.DROGUE)
        assert drogue.verdict in (Verdict.CONFIRMED, Verdict.NOT_OBSERVED)
        assert "late_opening" not in {alert.code for alert in report.alerts}
        assert "only" not in report_text(report)


def test_a_charges_gas_in_the_first_reading_after_a_silence_makes_no_fast_descent() -> None:
    """The link is silent over apogee by the radio's own doing, and comes back as the drogue's charge fires."""
    flight, pipeline = flown(943_318, "channels-unknown"), Pipeline()
    apogee_s = flight.truth.apogee_t_s
    assert apogee_s is not None
    asked = 0
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
        if apogee_s < arrival_us / 1e6 < apogee_s + 4.0:
            asked += 1
            assert "fast_descent" not in {alert.code for alert in pipeline.snapshot().alerts}
    assert asked > 10


def test_a_short_silence_leaves_the_top_seen() -> None:
    flight = flown(12)
    truth_m = flight.truth.apogee_m
    assert truth_m is not None
    _, report = heard_but_for(flight, -0.4, 0.8)
    apogee = named(report.events, EventName.APOGEE)
    assert apogee is not None
    assert apogee.altitude_sigma_m is None
    assert report.summary.apogee_m == pytest.approx(truth_m, abs=0.5)


@pytest.mark.parametrize("seed", [3, 10, 12, 14])
@pytest.mark.parametrize("silent_s", [12.0, 40.0, 90.0])
def test_a_landing_in_a_silence_is_told_no_surer_than_it_is(seed: int, silent_s: float) -> None:
    """Before, it was told to be the first moment after it, to a second."""
    flight = flown(seed)
    touchdown_s, apogee_s = flight.truth.touchdown_t_s, flight.truth.apogee_t_s
    assert touchdown_s is not None
    assert apogee_s is not None
    _, report = heard_but_for(flight, touchdown_s - apogee_s - 6.0, silent_s)
    landed = named(report.events, EventName.TOUCHDOWN)
    if landed is None:
        assert report.summary.flight_time_s is None
    else:
        off_s = (landed.t_ms - flight.truth.t_ms_of(touchdown_s)) / 1000.0
        assert abs(off_s) < 2.5 * landed.sigma_s


@pytest.mark.parametrize("seed", [3, 11, 268])
def test_a_descent_wholly_lost_under_a_motors_charge_is_not_observed(seed: int) -> None:
    """Before, it was told that the descent showed no parachute: two of these came down under a full one."""
    flight = flown(seed, "motor-ejection")
    touchdown_s, apogee_s = flight.truth.touchdown_t_s, flight.truth.apogee_t_s
    assert touchdown_s is not None
    assert apogee_s is not None
    pipeline, report = heard_but_for(flight, 0.5, touchdown_s + 0.5 - apogee_s)
    assert {each.verdict for each in report.deployments} == {Verdict.NOT_OBSERVED}
    live = {each.verdict for each in pipeline.snapshot().deployments}
    assert live <= {None, Verdict.NOT_OBSERVED}
