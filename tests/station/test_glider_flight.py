"""A real glider's barometer beside its satellite receiver: the vertical speed is right, and no rocket event is called.

One row a second, both heights in steps of 1 m, fifteen minutes; see tests/data/README.md. The reference is the slope of
a line fitted to the satellite heights over +-10 s. Two such slopes, of both heights, already differ by 0.18 m/s.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from station.after_landing import judge_lines
from station.atmosphere import isa_pressure_pa
from station.estimator import VerticalFilter
from station.flight_state import FlightVerdict, Phase
from station.pipeline import Pipeline
from station.records import SampleRecord
from station.smoothing import SmoothingStep, smooth
from station.wire import encode

DATA = Path(__file__).resolve().parents[1] / "data" / "glider_pressure_vs_gnss.csv"
# The satellite reference looks ten seconds ahead; live, the filter's state is carried back by as much.
LAG_S = 10.0
# A glider is calmer than a rocket: white jerk of this density (m^2/s^5), readings in steps of 1 m (variance m^2).
JERK_DENSITY = 1e-5
STEP_VARIANCE_M2 = 0.3


@pytest.fixture(scope="module")
def flight() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times s, standard-atmosphere pressure altitudes m, satellite heights m."""
    with DATA.open() as file:
        rows = [[float(value) for value in row] for row in list(csv.reader(file))[1:]]
    data = np.array(rows)
    return data[:, 0], data[:, 1], data[:, 2]


def slopes(t: np.ndarray, height: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Least-squares slope over +-10 s about each time."""
    found = []
    for centre in at:
        near = np.abs(t - centre) <= 10.0
        tau = t[near] - t[near].mean()
        found.append(float(tau @ height[near] / (tau @ tau)))
    return np.array(found)


def rmse(errors: np.ndarray) -> float:
    return float(np.sqrt(np.mean(errors**2)))


def first_state(altitude_m: float) -> VerticalFilter:
    return VerticalFilter(altitude_m, altitude_sigma_m=1.0, velocity_sigma_mps=1.0, acceleration_sigma_mps2=0.3)


def test_two_line_fits_already_differ_by_0_18(flight: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    t, pressure_m, satellite_m = flight
    inside = t[10:-10]
    assert rmse(slopes(t, pressure_m, inside) - slopes(t, satellite_m, inside)) == pytest.approx(0.18, abs=0.01)


def test_live_with_a_lag_of_ten_seconds_the_speed_is_right_to_a_quarter_metre_per_second(
    flight: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    t, pressure_m, satellite_m = flight
    kalman = first_state(float(pressure_m[0]))
    last_s = t[0]
    speed = []
    for now, height in zip(t, pressure_m, strict=True):
        kalman.predict(float(now - last_s), JERK_DENSITY)
        last_s = now
        kalman.update_altitude(float(height), STEP_VARIANCE_M2)
        speed.append(kalman.v - LAG_S * kalman.a)
    settled = t > 60.0
    error = np.array(speed)[settled] - slopes(t, satellite_m, t[settled] - LAG_S)
    assert rmse(error) <= 0.25
    assert abs(float(error.mean())) < 0.06


def test_smoothed_the_speed_is_right_to_a_quarter_metre_per_second(
    flight: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    t, pressure_m, satellite_m = flight
    steps = [
        SmoothingStep(float(now), float(height), STEP_VARIANCE_M2, None, 1.0, JERK_DENSITY)
        for now, height in zip(t, pressure_m, strict=True)
    ]
    curve = smooth(first_state(float(pressure_m[0])), steps)
    error = curve.states[10:-10, 1] - slopes(t, satellite_m, t[10:-10])
    assert rmse(error) <= 0.25


@pytest.mark.parametrize("every_s", [1.0, 0.1])
@pytest.mark.parametrize("turned", [False, True])
def test_not_one_rocket_event_is_called_in_it(
    flight: tuple[np.ndarray, np.ndarray, np.ndarray], every_s: float, turned: bool
) -> None:
    """As it is, once a second; at a rocket's rate with a rocket's noise; and flown backwards, climbing."""
    t, pressure_m, _ = flight
    heights = pressure_m[::-1] if turned else pressure_m
    times = np.arange(t[0], t[-1], every_s)
    noise = np.random.default_rng(1).normal(0.0, 3.0, len(times)) if every_s < 1.0 else np.zeros(len(times))
    lines = []
    for k, now in enumerate(times):
        pressure = isa_pressure_pa(float(np.interp(now, t, heights))) + float(noise[k])
        record = SampleRecord(k % 65536, round(1000.0 * now), round(pressure, 2), 15.0, None)
        lines.append((encode(record).rstrip(b"\n"), None))
    pipeline = Pipeline()
    for line, arrival_us in lines:
        pipeline.take_line(line, arrival_us)
    snapshot = pipeline.snapshot(over=True)
    assert snapshot.phase is Phase.WAITING
    assert snapshot.events == ()
    assert snapshot.link.rejected == 0
    report = judge_lines(lines, file="glider")
    assert report.events == ()
    assert report.verdict is FlightVerdict.NOT_OBSERVED
