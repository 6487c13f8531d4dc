"""When the heights show that the shock has left the ports: coasts in closed form, with what a shock does added."""

import numpy as np
import pytest

from station.flight_state import EventName
from station.passing_shock import PassingShock
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight

G = 9.80665
DRAG_PER_M = 0.0008
NOISE_M = 0.6
MOST_MPS = 280.0


def coast(t_s: np.ndarray, start_mps: float, drag_per_m: float = DRAG_PER_M) -> tuple[np.ndarray, np.ndarray]:
    """Heights and speeds with drag k v^2: v = v1 tan(c - g t / v1), v1^2 = g / k (any handbook of mechanics)."""
    v1 = (G / drag_per_m) ** 0.5
    c = np.arctan(start_mps / v1)
    return v1**2 / G * np.log(np.cos(c - G * t_s / v1) / np.cos(c)), v1 * np.tan(c - G * t_s / v1)


def heard(heights_m: np.ndarray, period_s: float, noise_m: float = NOISE_M) -> list[tuple[float, float, float]]:
    """Each moment (s) at which it is taken for a coast, with the height (m) and speed (m/s) found."""
    shock, found = PassingShock(), []
    noise = np.random.default_rng(5).normal(0.0, noise_m, len(heights_m))
    for k, height in enumerate((heights_m + noise).tolist()):
        shock.hear(1000.0 * period_s * k, height)
        motion = shock.passed(noise_m, MOST_MPS)
        if motion is not None:
            found.append((period_s * k, motion.h, motion.v))
    return found


@pytest.mark.parametrize(("period_s", "known_s"), [(0.02, 1.2), (0.05, 1.2), (0.1, 1.2), (0.2, 1.6)])
def test_a_coast_is_known_soon_and_its_motion_is_right(period_s: float, known_s: float) -> None:
    t_s = np.arange(0.0, 3.0, period_s)
    heights, speeds = coast(t_s, 260.0)
    found = heard(heights, period_s)
    assert 0.75 <= found[0][0] <= known_s
    assert len(found) > 0.8 * ((3.0 - known_s) / period_s)
    for at_s, height_m, speed_mps in found:
        k = round(at_s / period_s)
        assert height_m == pytest.approx(heights[k], abs=3.0)
        assert speed_mps == pytest.approx(speeds[k], abs=12.0)


def test_too_fast_a_coast_is_left_until_it_is_slower() -> None:
    t_s = np.arange(0.0, 4.0, 0.04)
    heights, speeds = coast(t_s, 360.0)
    found = heard(heights, 0.04)
    slower_s = float(t_s[speeds < MOST_MPS][0])
    assert slower_s < found[0][0] < slower_s + 0.7


@pytest.mark.parametrize("size_m", [-350.0, -60.0, 60.0, 350.0])
def test_while_the_shock_comes_and_goes_nothing_is_taken_for_a_coast(size_m: float) -> None:
    """Off by a bell curve of 0.4 s standard deviation, 0.8 s after the first height."""
    t_s = np.arange(0.0, 5.0, 0.04)
    heights, _ = coast(t_s, 270.0)
    found = heard(heights + size_m * np.exp(-0.5 * ((t_s - 0.8) / 0.4) ** 2), 0.04)
    assert 1.8 < found[0][0] < 3.5


@pytest.mark.parametrize("drag_per_m", [0.01, 0.03])
def test_a_rocket_that_something_has_braked_is_known_within_two_and_a_half_seconds(drag_per_m: float) -> None:
    """As by a parachute thrown out, or an airframe that came apart, at 270 m/s."""
    t_s = np.arange(0.0, 4.0, 0.05)
    heights, speeds = coast(t_s, 270.0, drag_per_m)
    climbs = speeds > 0.0
    found = heard(heights[climbs], 0.05)
    assert found[0][0] < 2.5
    for at_s, _, speed_mps in found:
        assert speed_mps == pytest.approx(speeds[round(at_s / 0.05)], abs=12.0)


def test_heights_that_stand_still_are_not_believed_at_once_and_a_climb_that_goes_on_never() -> None:
    t_s = np.arange(0.0, 3.0, 0.04)
    assert heard(np.full_like(t_s, 1660.0), 0.04)[0][0] > 1.4
    assert not heard(100.0 * t_s + 20.0 * t_s**2, 0.04)
    assert not heard(300.0 * t_s - 0.5 * G * t_s[::-1] ** 2, 0.04)


def test_few_heights_say_nothing() -> None:
    shock = PassingShock()
    assert not shock.is_about
    for k in range(5):
        shock.hear(100.0 * k, 20.0 * k)
        assert shock.passed(NOISE_M, MOST_MPS) is None
        assert shock.rise_mps() is None
    assert shock.is_about
    shock.forget()
    assert not shock.is_about


def test_how_fast_the_heights_rise() -> None:
    shock = PassingShock()
    for k in range(20):
        shock.hear(50.0 * k, 700.0 + 12.0 * k)
    assert shock.rise_mps() == pytest.approx(240.0)


def test_a_shock_of_hundreds_of_metres_is_not_flown_through_as_an_apogee() -> None:
    """Pressure alone at 25 samples a second: up 260 m, down 200 m and up 300 m again within three seconds."""
    flight = random_flight(701_746, apogee_m=(1500.0, 6500.0))
    assert flight.setup.accelerometer is None
    assert flight.truth.max_mach is not None
    assert flight.truth.max_mach > 1.1
    pipeline = Pipeline()
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    apogee = pipeline.tracker.event(EventName.APOGEE)
    assert apogee is not None
    assert apogee.t_ms == pytest.approx(flight.truth.t_ms_of(flight.truth.apogee_t_s or 0.0), abs=300.0)
