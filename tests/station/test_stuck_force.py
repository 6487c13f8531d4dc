"""An accelerometer that has stopped measuring is found out, and the flight told without it."""

from dataclasses import replace
from itertools import pairwise

import pytest

from station.after_landing import judge_pipeline
from station.flight_state import EventName, Verdict
from station.pipeline import Pipeline
from station.stuck_force import StuckForce
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup


def told(forces_mps2: list[float], period_ms: float = 20.0) -> list[float | None]:
    stuck = StuckForce()
    return [stuck.since(n * period_ms, force) for n, force in enumerate(forces_mps2)]


@pytest.mark.parametrize("period_ms", [20.0, 100.0])
def test_the_same_push_to_the_last_digit_for_a_second_is_no_measurement(period_ms: float) -> None:
    found = told([60.0 + 0.5 * n for n in range(10)] + [71.5] * 60, period_ms)
    first = next(n for n, since in enumerate(found) if since is not None)
    assert found[first] == 10 * period_ms
    assert 1.0 <= (first - 10) * period_ms / 1000.0 <= 1.2


def test_a_push_that_changes_now_and_then_is_measured() -> None:
    assert not any(told([60.0 + 0.96 * (n // 30) for n in range(300)]))


def test_in_a_slow_coast_a_coarse_sensor_may_say_one_thing_for_long() -> None:
    assert not any(told([0.0] * 300))


def test_what_seems_stuck_is_looked_at_again_each_half_second() -> None:
    looked = [n * 20.0 for n, since in enumerate(told([60.0] * 160)) if since is not None]
    assert looked == pytest.approx([1000.0, 1500.0, 2000.0, 2500.0, 3000.0], abs=20.0)


@pytest.mark.parametrize("seed", [91007, 91039])
def test_a_steady_thrust_felt_in_coarse_steps_is_no_stuck_accelerometer(seed: int) -> None:
    """Both said one thing for a second and more; without it burnout was called four seconds too soon."""
    setup = random_setup(seed, "gentle-motor", accelerometer=True, apogee_m=(150.0, 1500.0))
    assert setup.accelerometer is not None
    coarse = replace(setup.accelerometer, noise_mps2=0.2, step_mps2=0.96)
    flight = fly_setup(replace(setup, accelerometer=coarse), seed)
    pipeline = watched(flight)
    burnout = next(event for event in pipeline.snapshot(over=True).events if event.name is EventName.BURNOUT)
    assert flight.truth.burnout_t_s is not None
    assert -0.1 < (burnout.called_t_ms - flight.truth.t_ms_of(flight.truth.burnout_t_s)) / 1000.0 < 0.6


def watched(flight: VirtualFlight) -> Pipeline:
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    return pipeline


@pytest.mark.parametrize("seed", [31022, 31048, 31101])
def test_a_flight_whose_accelerometer_sticks_in_the_boost_is_told_by_its_pressure(seed: int) -> None:
    """Believed, it carried the estimate past the speed of sound for good, where no pressure counts."""
    flight = random_flight(seed, "stuck-force")
    pipeline = watched(flight)
    truth = flight.truth
    assert truth.apogee_m is not None
    assert truth.apogee_t_s is not None
    live = next(event for event in pipeline.snapshot(over=True).events if event.name is EventName.APOGEE)
    assert -300.0 < live.called_t_ms - truth.t_ms_of(truth.apogee_t_s) < 900.0
    assert pipeline.tracker.highest_m == pytest.approx(truth.apogee_m, rel=0.01)
    report = judge_pipeline(pipeline, file="stuck.flight")
    apogee = next(event for event in report.events if event.name is EventName.APOGEE)
    assert apogee.t_ms == pytest.approx(truth.t_ms_of(truth.apogee_t_s), abs=150.0)
    assert {d.verdict for d in report.deployments} == {Verdict.CONFIRMED}
    assert all(a.t_ms < b.t_ms for a, b in pairwise(pipeline.tracker.track))
