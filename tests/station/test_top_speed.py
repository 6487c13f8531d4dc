"""The highest speed by accelerometer and coast, against a climb integrated by scipy."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.estimator import VerticalFilter
from station.liftoff import Sample
from station.top_speed import TopSpeed

G = 9.80665
PAD_K = 288.15
BURN_S = 1.5
DRAG_PER_M = 0.0008


def thrust_mps2(t: float) -> float:
    """A steady burn that tails off over 0.3 s."""
    return 90.0 * min(1.0, max(0.0, (BURN_S - t) / 0.3))


def gain_mps2(t: float, height_m: float, speed_mps: float) -> float:
    drag = DRAG_PER_M * (1.0 - 0.0065 * height_m / PAD_K) ** 4.255876 * speed_mps * abs(speed_mps)
    return thrust_mps2(t) - drag - G


def flown(until_s: float = 8.0, hz: float = 50.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times (s), heights (m) and speeds (m/s) from rest."""
    times = np.arange(1, round(until_s * hz)) / hz
    curve = solve_ivp(lambda t, y: [y[1], gain_mps2(t, *y)], (0.0, until_s), [0.0, 0.0], t_eval=times, max_step=0.01)
    return times, curve.y[0], curve.y[1]


def claimed(
    speed_factor: float = 1.0,
    *,
    trusted: Callable[[float], bool] = lambda _t: True,
    moved_m: Callable[[float], float] = lambda _t: 0.0,
    until_s: float = 8.0,
) -> tuple[float, float]:
    """(Claimed, true highest speed, m/s) where the live filter's speed is wrong by a factor at burnout.

    Heights have no noise, but are the ports': 0.015 s late. The filter stays wrong, so that only the coast can tell.
    """
    times, heights, speeds = flown(until_s)
    out = int(np.searchsorted(times, BURN_S + 0.1))
    samples = [
        Sample(1000.0 * t, 101_325.0, h, gain_mps2(t, h, v)) for t, h, v in zip(times, heights, speeds, strict=True)
    ][: out + 1]

    def state(n: int) -> VerticalFilter:
        gain = gain_mps2(times[n], heights[n], speeds[n])
        return VerticalFilter(heights[n], speed_factor * speeds[n], gain, altitude_sigma_m=0.3)

    known = speed_factor * speeds.max()
    top = TopSpeed(samples, 1000.0 * BURN_S + 20.0, known, state(out), PAD_K)
    for n in range(out + 1, len(times)):
        if trusted(times[n]):
            read_m = heights[n] - 0.015 * speeds[n] + moved_m(times[n])
            top.take(1000.0 * times[n], read_m, 0.3, state(n))
        else:
            top.wait(1000.0 * times[n], state(n))
    return top.mps, float(speeds.max())


@pytest.mark.parametrize("speed_factor", [0.96, 1.0, 1.04])
def test_the_coast_corrects_an_accelerometer_that_is_wrong(speed_factor: float) -> None:
    told, true = claimed(speed_factor)
    assert told == pytest.approx(true, rel=0.008)


def test_at_burnout_it_is_what_the_filter_says() -> None:
    told, true = claimed(1.03, until_s=BURN_S + 0.14)
    assert told == pytest.approx(1.03 * true, rel=0.005)


def test_pressure_that_cannot_be_trusted_at_first_corrects_it_all_the_same() -> None:
    told, true = claimed(1.02, trusted=lambda t: t > BURN_S + 1.5)
    assert told == pytest.approx(true, rel=0.012)


def test_a_pressure_that_goes_its_own_way_from_the_start_is_not_followed() -> None:
    """Heights that no coast goes along with: the filter's highest speed stays."""
    told, true = claimed(moved_m=lambda t: -60.0 * (t - BURN_S))
    assert told == pytest.approx(true, rel=0.001)


def test_an_opening_in_the_coast_leaves_what_was_known() -> None:
    told, true = claimed(1.02, moved_m=lambda t: -20.0 * max(0.0, t - 4.0) ** 2)
    assert told == pytest.approx(true, rel=0.02)
