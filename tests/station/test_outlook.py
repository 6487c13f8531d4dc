"""What is foretold of whole virtual flights, and the fall under a parachute against closed forms."""

from dataclasses import replace
from functools import cache
from math import cosh, log, sqrt, tanh

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from station.flight_state import Outlook, Phase
from station.outlook import seconds_to_ground, sinking_m
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.virtual.scenarios import SCENARIOS
from station.virtual.virtual_flight import VirtualFlight, fly, fly_setup


@cache
def flown(name: str, seed: int) -> VirtualFlight:
    return fly(SCENARIOS[name], seed)


def lines_until(flight: VirtualFlight, until_s: float, since_s: float = -1e9):
    for line, arrival_us in flight.heard():
        if since_s < arrival_us / 1e6 <= until_s:
            yield line, arrival_us


def outlook_at(flight: VirtualFlight, t_s: float, plan: FlightPlan | None = None) -> tuple[Pipeline, Outlook | None]:
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c, plan=plan)
    for line, arrival_us in lines_until(flight, t_s):
        pipeline.take_line(line, arrival_us)
    return pipeline, pipeline.snapshot().outlook


def late_s(flight: VirtualFlight, t_ms: float, truth_s: float) -> float:
    """Foretold less true; where T_MS wraps before it is first heard the two count from different starts."""
    return ((t_ms - flight.truth.t_ms_of(truth_s) + 2.0**31) % 2.0**32 - 2.0**31) / 1000.0


def crossed_s(flight: VirtualFlight, height_m: float) -> float:
    truth = flight.truth
    below = (truth.t_s > truth.apogee_t_s) & (truth.altitude_m < height_m)
    return float(truth.t_s[int(np.argmax(below))])


# -- coast -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("share", "time_s", "height"), [(0.25, 0.5, 0.06), (0.5, 0.2, 0.02), (0.75, 0.12, 0.01)])
def test_the_apogee_is_foretold_the_closer_the_later(seed, share, time_s, height):
    flight = flown("nominal-dual", seed)
    truth = flight.truth
    t_s = truth.burnout_t_s + share * (truth.apogee_t_s - truth.burnout_t_s)
    _, outlook = outlook_at(flight, t_s)
    assert outlook is not None
    late = late_s(flight, outlook.apogee_t_ms, truth.apogee_t_s)
    off_m = outlook.apogee_altitude_m - truth.apogee_m
    assert abs(late) < time_s
    assert abs(off_m) < height * truth.apogee_m
    assert abs(late) < 3.0 * outlook.apogee_t_sigma_s
    assert abs(off_m) < 3.0 * outlook.apogee_altitude_sigma_m
    assert outlook.touchdown_t_ms is None
    assert outlook.main_height_t_ms is None


@pytest.mark.parametrize("seed", [1, 2])
def test_past_mach_1_the_error_bar_is_wide_and_holds_the_truth(seed):
    flight = flown("past-mach-1", seed)
    truth = flight.truth
    _, early = outlook_at(flight, truth.burnout_t_s + 0.5)
    _, later = outlook_at(flight, truth.burnout_t_s + 0.6 * (truth.apogee_t_s - truth.burnout_t_s))
    assert early.apogee_altitude_sigma_m > 10.0 * later.apogee_altitude_sigma_m
    for outlook in (early, later):
        assert abs(late_s(flight, outlook.apogee_t_ms, truth.apogee_t_s)) < 2.5 * outlook.apogee_t_sigma_s
        assert abs(outlook.apogee_altitude_m - truth.apogee_m) < 2.5 * outlook.apogee_altitude_sigma_m


def test_with_pressure_alone_nothing_is_foretold_while_the_shock_is_at_the_ports():
    flight = fly_setup(replace(SCENARIOS["past-mach-1"].setup(4), accelerometer=None), 4)
    truth = flight.truth
    fast = truth.t_s[truth.velocity_mps > 0.85 * 340.0]
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    until = -1e9
    for t_s in np.arange(truth.burnout_t_s, float(fast[-1]), 0.2):
        for line, arrival_us in lines_until(flight, t_s, until):
            pipeline.take_line(line, arrival_us)
        until = t_s
        assert pipeline.snapshot().outlook is None
    _, later = outlook_at(flight, truth.burnout_t_s + 0.7 * (truth.apogee_t_s - truth.burnout_t_s))
    assert abs(late_s(flight, later.apogee_t_ms, truth.apogee_t_s)) < 3.0 * later.apogee_t_sigma_s


def test_the_answer_does_not_depend_on_how_often_it_was_asked_for():
    flight = flown("nominal-dual", 5)
    truth = flight.truth
    t_s = 0.5 * (truth.burnout_t_s + truth.apogee_t_s)
    _, once = outlook_at(flight, t_s)
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in lines_until(flight, t_s):
        pipeline.take_line(line, arrival_us)
        often = pipeline.snapshot().outlook
    assert often == once


# -- descent -----------------------------------------------------------------------------------------------------


def test_the_standard_air_makes_a_drogue_fall_in_the_time_worked_out():
    """3000 to 200 m in the standard atmosphere, 17.378 m/s at sea level: 149.06 s by the quasi-steady integral."""
    assert (sinking_m(3000.0, 288.15) - sinking_m(200.0, 288.15)) / 17.378 == pytest.approx(149.06, abs=0.01)


def test_the_integral_of_the_density_is_scipys():
    whole, _ = quad(lambda h: (1.0 - 0.0065 * h / 300.0) ** (0.5 * 4.255876), 0.0, 2500.0)
    assert sinking_m(2500.0, 300.0) == pytest.approx(whole, rel=1e-7)
    assert sinking_m(0.0, 300.0) == 0.0


@pytest.mark.parametrize(("since_rest_s", "height_m", "terminal_mps"), [(3.0, 300.0, 60.0), (4.0, 150.0, 110.0)])
def test_a_bare_fall_in_even_air_is_the_closed_form(since_rest_s, height_m, terminal_mps):
    """From rest, v = w tanh(g t/w) and the height lost is (w^2/g) ln cosh(g t/w); a hot pad keeps the density even."""
    g, w = 9.80665, terminal_mps

    def lost_m(t: float) -> float:
        return w * w / g * log(cosh(g * t / w))

    speed = w * tanh(g * since_rest_s / w)
    landed_s = brentq(lambda t: lost_m(t) - lost_m(since_rest_s) - height_m, since_rest_s, 100.0)
    assert seconds_to_ground(height_m, speed, g / w**2, 1e12) == pytest.approx(landed_s - since_rest_s, rel=1e-5)
    vacuum_s = (sqrt(speed * speed + 2.0 * g * height_m) - speed) / g
    assert seconds_to_ground(height_m, speed, 0.0, 1e12) == pytest.approx(vacuum_s, rel=1e-5)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_rocket_that_nothing_holds_has_a_touchdown_too(seed):
    flight = flown("ballistic", seed)
    truth = flight.truth
    left_s = truth.touchdown_t_s - truth.apogee_t_s
    _, outlook = outlook_at(flight, truth.apogee_t_s + 0.7 * left_s)
    assert abs(late_s(flight, outlook.touchdown_t_ms, truth.touchdown_t_s)) < min(
        1.0, 3.0 * outlook.touchdown_t_sigma_s
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_in_a_bare_fall_the_earlier_touchdown_is_told_and_the_error_bar_reaches_to_the_mains(seed):
    """People must be out of the way by then; the main may open all the same, as it did here."""
    setup = SCENARIOS["tangled-drogue"].setup(seed)
    flight = fly_setup(replace(setup, faults=replace(setup.faults, tangled_share=0.0)), seed)
    truth = flight.truth
    assert truth.main.fired_t_s is not None
    pipeline, outlook = outlook_at(flight, truth.main.fired_t_s - 1.5)
    assert pipeline.tracker.stretches()[-1].opened_ms is None
    late = late_s(flight, outlook.touchdown_t_ms, truth.touchdown_t_s)
    assert late < -5.0
    assert abs(late) < 2.0 * outlook.touchdown_t_sigma_s


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_main_height_and_touchdown_are_foretold_under_the_drogue(seed):
    flight = flown("nominal-dual", seed)
    truth = flight.truth
    plan = FlightPlan(main_rate_mps=truth.main.rate_mps)
    pipeline, outlook = outlook_at(flight, truth.drogue.settled_t_s + 4.0, plan)
    assert pipeline.main_height_m is not None
    late = late_s(flight, outlook.main_height_t_ms, crossed_s(flight, pipeline.main_height_m))
    assert abs(late) < min(1.5, 3.0 * outlook.main_height_t_sigma_s)
    late = late_s(flight, outlook.touchdown_t_ms, truth.touchdown_t_s)
    assert abs(late) < min(4.0, 3.0 * outlook.touchdown_t_sigma_s)
    assert outlook.apogee_t_ms is None


def test_without_a_plan_the_mains_rate_is_a_usual_one_and_the_error_bar_says_so():
    flight = flown("nominal-dual", 1)
    at_s = flight.truth.drogue.settled_t_s + 4.0
    _, planned = outlook_at(flight, at_s, FlightPlan(main_rate_mps=flight.truth.main.rate_mps))
    _, unplanned = outlook_at(flight, at_s)
    assert unplanned.touchdown_t_sigma_s > 1.25 * planned.touchdown_t_sigma_s
    late = late_s(flight, unplanned.touchdown_t_ms, flight.truth.touchdown_t_s)
    assert abs(late) < 2.5 * unplanned.touchdown_t_sigma_s


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_under_the_main_the_touchdown_is_close(seed):
    flight = flown("nominal-dual", seed)
    truth = flight.truth
    middle_s = 0.5 * (truth.main.settled_t_s + truth.touchdown_t_s)
    _, outlook = outlook_at(flight, middle_s)
    assert abs(late_s(flight, outlook.touchdown_t_ms, truth.touchdown_t_s)) < 1.5
    assert 0.3 < outlook.touchdown_t_sigma_s < 2.0
    assert outlook.main_height_t_ms is None


def test_once_the_main_is_overdue_the_answer_is_for_the_drogue():
    flight = flown("main-silent", 1)
    truth = flight.truth
    pipeline, before = outlook_at(flight, truth.drogue.settled_t_s + 3.0)
    past_s = crossed_s(flight, pipeline.main_height_m)
    _, after = outlook_at(flight, past_s + 4.0)
    assert late_s(flight, before.touchdown_t_ms, truth.touchdown_t_s) > 5.0  # it counted on the main
    assert abs(late_s(flight, after.touchdown_t_ms, truth.touchdown_t_s)) < 0.5


def test_where_the_mains_height_is_not_known_the_touchdown_is_not_told_under_the_drogue():
    setup = SCENARIOS["nominal-dual"].setup(2)
    flight = fly_setup(replace(setup, altimeter=replace(setup.altimeter, main_altitude_m=None)), 2)
    assert outlook_at(flight, flight.truth.drogue.settled_t_s + 3.0)[1] is None


def test_nothing_is_foretold_on_the_pad_under_thrust_in_free_fall_and_on_the_ground():
    flight = flown("nominal-dual", 1)
    truth = flight.truth
    for t_s in (truth.liftoff_t_s - 1.0, truth.liftoff_t_s + 0.5, truth.touchdown_t_s + 8.0):
        pipeline, outlook = outlook_at(flight, t_s)
        assert pipeline.tracker.phase in (Phase.WAITING, Phase.THRUST, Phase.DOWN)
        assert outlook is None
    ballistic = flown("ballistic", 1)
    assert outlook_at(ballistic, ballistic.truth.apogee_t_s + 3.0)[1] is None


def test_a_record_that_is_over_foretells_nothing():
    flight = flown("nominal-dual", 1)
    pipeline, outlook = outlook_at(flight, flight.truth.apogee_t_s - 2.0)
    assert outlook is not None
    assert pipeline.snapshot(over=True).outlook is None
