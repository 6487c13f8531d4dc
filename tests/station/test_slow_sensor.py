"""Lines that tell a pressure again are told from readings; and what that is for: a flight with a slow sensor."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from station.after_landing import judge_pipeline
from station.flight_state import EventName, Verdict
from station.pipeline import Pipeline
from station.slow_sensor import SlowSensor
from station.virtual.radio import Radio
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup


def taken(pressures_pa: list[float], lost: list[int] | None = None) -> list[bool]:
    sensor = SlowSensor()
    return [sensor.is_reading(p, n) for p, n in zip(pressures_pa, lost or [0] * len(pressures_pa), strict=True)]


def noisy(count: int, step_pa: float, noise_pa: float) -> list[float]:
    chance = np.random.RandomState(4)
    readings = 95_000.0 + noise_pa * chance.standard_normal(count)
    return list((np.round(readings / step_pa) * step_pa).tolist())


def watched(flight: VirtualFlight, copies: int = 1) -> Pipeline:
    """The flight's lines through a pipeline, each heard so many times."""
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        for _ in range(copies):
            pipeline.take_line(line, arrival_us)
    return pipeline


@pytest.mark.parametrize("lines", [2, 3, 5, 8])
def test_each_reading_of_a_slow_sensor_is_taken_once(lines: int) -> None:
    told = [p for p in noisy(40, 0.1, 4.0) for _ in range(lines)]
    firsts = [n % lines == 0 for n in range(len(told))]
    later = 12 * lines
    assert taken(told)[later:] == firsts[later:]


def test_readings_that_last_for_two_lines_and_for_three_are_a_slow_sensors_too() -> None:
    told = [p for n, p in enumerate(noisy(40, 0.1, 4.0)) for _ in range(2 + n % 2)]
    assert sum(taken(told)[30:]) == sum(before != now for before, now in pairwise(told[29:]))


@pytest.mark.parametrize(("step_pa", "noise_pa"), [(0.1, 3.0), (2.0, 2.0), (4.0, 2.0), (10.0, 1.0)])
def test_coarse_steps_are_no_slow_sensor(step_pa: float, noise_pa: float) -> None:
    assert sum(taken(noisy(2000, step_pa, noise_pa))) > 0.97 * 2000


def test_still_air_in_coarse_steps_is_heard_all_the_same() -> None:
    assert all(taken([95_000.0] * 500))


def test_a_reading_whose_first_line_may_be_lost_is_not_dated() -> None:
    told = [p for p in noisy(40, 0.1, 4.0) for _ in range(3)]
    lost = [0 if n < 60 else 1 for n in range(len(told))]
    believed = taken(told, lost)
    assert not believed[60]
    assert believed[63]


def test_a_sensor_that_was_slow_by_chance_is_believed_again_once_each_line_tells_another() -> None:
    told = [p for p in noisy(12, 0.1, 4.0) for _ in range(2)] + noisy(30, 0.1, 40.0)
    assert all(taken(told)[30:])


def test_lines_that_are_heard_twice_make_no_slow_sensor() -> None:
    flight = random_flight(98505)
    tracks = [watched(flight, copies).track for copies in (1, 2)]
    assert tracks[0] == tracks[1]
    assert len(tracks[0]) > 300


def test_between_the_readings_of_a_slow_sensor_the_force_is_heard() -> None:
    """Liftoff and burnout are called as soon as with a sensor that measures for each line."""
    for seed in (31003, 31008):
        setup = random_setup(seed, None, accelerometer=True)
        unit = replace(setup.altimeter, sample_period_ms=100)
        slow = replace(setup.barometer, lines_per_reading=4)
        flight = fly_setup(replace(setup, altimeter=unit, barometer=slow, radio=Radio(0.0)), seed)
        pipeline = watched(flight)
        called = {event.name: event.called_t_ms for event in pipeline.snapshot(over=True).events}
        truth = flight.truth
        assert truth.liftoff_t_s is not None
        assert truth.burnout_t_s is not None
        assert called[EventName.LIFTOFF] - truth.t_ms_of(truth.liftoff_t_s) < 450.0
        assert called[EventName.BURNOUT] - truth.t_ms_of(truth.burnout_t_s) < 600.0


@pytest.mark.parametrize("seed", [30106, 30386])
def test_a_flight_with_a_slow_sensor_is_told_as_it_was(seed: int) -> None:
    """Taken for readings, its lines called the apogee of these eight and twelve seconds early."""
    flight = random_flight(seed, "repeated-readings")
    report = judge_pipeline(watched(flight), file="slow.flight")
    apogee = next(event for event in report.events if event.name is EventName.APOGEE)
    assert flight.truth.apogee_t_s is not None
    assert apogee.t_ms == pytest.approx(flight.truth.t_ms_of(flight.truth.apogee_t_s), abs=150.0)
    assert {d.verdict for d in report.deployments} == {Verdict.CONFIRMED}
