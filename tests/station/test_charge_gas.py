"""A charge's gas among the heights of a fall: found where it came, and nothing else taken for it."""

import numpy as np
import pytest

from station.charge_gas import gas_moments_s, with_unreported

SPEED_MPS = 18.0


def fall(period_s: float, noise_m: float, seed: int, length_s: float = 20.0) -> tuple[np.ndarray, np.ndarray]:
    """Times and heights of a steady fall."""
    t = np.arange(0.0, length_s, period_s)
    return t, 400.0 - SPEED_MPS * t + np.random.default_rng(seed).normal(0.0, noise_m, len(t))


def moments(t: np.ndarray, height: np.ndarray, noise_m: float, velocity: np.ndarray | None = None) -> list[float]:
    return gas_moments_s(
        t, height, np.full_like(t, noise_m), np.full_like(t, -SPEED_MPS) if velocity is None else velocity
    )


@pytest.mark.parametrize("period_s", [0.02, 0.05, 0.1])
@pytest.mark.parametrize("size_m", [-60.0, -25.0, 25.0])
@pytest.mark.parametrize("fades_s", [0.1, 0.3])
def test_gas_is_found_where_it_came(period_s: float, size_m: float, fades_s: float) -> None:
    for seed in range(10):
        t, height = fall(period_s, 0.6, seed)
        for fired_s in (6.03, 13.51):
            height += np.where(t >= fired_s, size_m * np.exp(-np.maximum(t - fired_s, 0.0) / fades_s), 0.0)
        assert moments(t, height, 0.6) == pytest.approx([6.03, 13.51], abs=period_s)


@pytest.mark.parametrize("period_s", [0.02, 0.1])
@pytest.mark.parametrize("noise_m", [0.2, 0.8])
def test_there_is_none_in_a_fall_without_a_charge(period_s: float, noise_m: float) -> None:
    for seed in range(10):
        t, height = fall(period_s, noise_m, seed, 120.0)
        assert moments(t, height, noise_m) == []


@pytest.mark.parametrize("period_s", [0.02, 0.05, 0.1])
def test_a_reading_that_strays_is_no_gas(period_s: float) -> None:
    t, height = fall(period_s, 0.4, 1)
    height[[len(t) // 5, len(t) // 2]] += (40.0, -40.0)
    assert moments(t, height, 0.4) == []


@pytest.mark.parametrize("period_s", [0.02, 0.1])
def test_a_parachute_that_stops_a_dive_at_30_g_is_no_gas(period_s: float) -> None:
    """From 60 to 6 m/s at 294 m/s^2: the speed that the filter knew is a sample old."""
    t = np.arange(0.0, 10.0, period_s)
    velocity = np.clip(-60.0 + 294.0 * np.maximum(0.0, t - 5.0), -60.0, -6.0)
    height = 800.0 + np.concatenate(([0.0], np.cumsum(0.5 * (velocity[1:] + velocity[:-1]) * np.diff(t))))
    assert moments(t, height, 0.5, velocity) == []


def test_what_happened_in_a_silence_is_not_guessed_at() -> None:
    t, height = fall(0.05, 0.4, 2)
    height += np.where(t >= 8.0, -40.0 * np.exp(-np.maximum(t - 8.0, 0.0) / 0.2), 0.0)
    heard = (t < 7.9) | (t > 8.2)
    assert moments(t[heard], height[heard], 0.4) == []


def test_a_report_and_its_gas_are_one_firing() -> None:
    assert with_unreported([20.0, 5.0], [5.1, 12.0, 19.9]) == [5.0, 12.0, 20.0]
    assert with_unreported([], [3.0]) == [3.0]
    assert with_unreported([4.0], []) == [4.0]
