"""Touchdown by measured heights alone: when it is said, what is no ground, and what a silence leaves of it."""

from collections.abc import Callable
from math import exp

import numpy as np
import pytest

from station.touchdown import GroundWatch

G = 9.80665


def landed(
    height_m: Callable[[float], float],
    *,
    top_m: float = 400.0,
    noise_m: float = 0.3,
    period_s: float = 0.02,
    until_s: float = 60.0,
    heard: Callable[[float], bool] = lambda _t: True,
    seed: int = 1,
) -> tuple[float, float, float] | None:
    """(Touchdown s, sigma s, called s) the first time that it is said."""
    watch = GroundWatch(top_m)
    rng = np.random.default_rng(seed)
    for k in range(round(until_s / period_s)):
        t = k * period_s
        reading = height_m(t) + float(rng.normal(0.0, noise_m))
        if heard(t):
            watch.heights.append((1000.0 * t, reading))
            found = watch.touchdown(1000.0 * t, noise_m, None)
            if found is not None:
                return found[0] / 1000.0, found[1], t
    return None


def sinking(rate_mps: float, ground_m: float = 0.0, down_s: float = 20.0) -> Callable[[float], float]:
    return lambda t: ground_m + rate_mps * max(0.0, down_s - t)


@pytest.mark.parametrize("rate_mps", [4.0, 6.0, 18.0])
@pytest.mark.parametrize(("noise_m", "period_s"), [(0.2, 0.02), (0.75, 0.02), (0.5, 0.1)])
@pytest.mark.parametrize("ground_m", [-6.0, 0.0, 6.0])
def test_touchdown_is_found_to_half_a_second_and_called_within_four(
    rate_mps: float, noise_m: float, period_s: float, ground_m: float
) -> None:
    for seed in range(3):
        found = landed(sinking(rate_mps, ground_m), noise_m=noise_m, period_s=period_s, seed=seed)
        assert found is not None
        at_s, sigma_s, called_s = found
        assert at_s == pytest.approx(20.0, abs=0.5)
        assert abs(at_s - 20.0) < 4.0 * sigma_s
        assert 20.0 < called_s < 24.0


def test_a_dive_into_the_ground_is_dated_by_its_last_moments() -> None:
    """Free fall from 180 m without drag lasts sqrt(2 h / g) = 6.06 s: a line through it all misses by a second."""
    fall_s = (2.0 * 180.0 / G) ** 0.5
    for seed in range(4):
        found = landed(
            lambda t: max(0.0, 180.0 - 0.5 * G * t * t),
            period_s=0.04,
            noise_m=0.7,
            until_s=20.0,
            top_m=180.0,
            seed=seed,
        )
        assert found is not None
        assert found[0] == pytest.approx(fall_s, abs=0.15)


def test_a_slow_drift_under_a_large_main_is_not_the_ground() -> None:
    for seed in range(5):
        found = landed(sinking(2.5, down_s=50.0), noise_m=0.75, until_s=49.0, seed=seed)
        assert found is None


def test_hanging_still_high_up_is_believed_only_after_a_long_while() -> None:
    """A tree on a hillside, or thermals that hold a light rocket up for some seconds."""

    def tree(t: float) -> float:
        return max(150.0, 150.0 + 5.0 * (20.0 - t))

    found = landed(tree, until_s=40.0)
    assert found is not None
    assert 25.0 < found[2] < 34.0

    def lifted(t: float) -> float:
        return 150.0 if 20.0 < t < 25.0 else 150.0 + 5.0 * (20.0 - t) if t <= 20.0 else 150.0 - 5.0 * (t - 25.0)

    assert landed(lifted, until_s=50.0) is None

    def floating(t: float) -> float:
        """Rising air nearly as fast as the sink, for half a minute."""
        return 110.0 - 0.5 * (t - 20.0) if t > 20.0 else 110.0 + 5.0 * (20.0 - t)

    for seed in range(4):
        assert landed(floating, until_s=50.0, seed=seed) is None


def test_a_landing_inside_a_gap_is_called_after_it() -> None:
    found = landed(sinking(6.0), heard=lambda t: not 18.0 < t < 23.0)
    assert found is not None
    assert 17.5 < found[0] < 23.5
    assert found[2] < 27.0


def test_too_few_readings_are_no_ground() -> None:
    assert landed(lambda _t: 0.0, period_s=0.5, until_s=3.0) is None


def test_drag_of_a_bounce_at_landing_exponential_settling_is_still_one_touchdown() -> None:
    """The reading settles over a second after the hit, as a port that blows through does."""

    def settling(t: float) -> float:
        return sinking(6.0)(t) + (2.0 * exp(-(t - 20.0) / 0.5) if t > 20.0 else 0.0)

    found = landed(settling)
    assert found is not None
    assert found[0] == pytest.approx(20.0, abs=0.6)


def test_a_landing_in_a_silence_is_reckoned_from_the_rate_before_it() -> None:
    watch = GroundWatch(400.0)
    chance = np.random.default_rng(2)
    for k in range(round(40.0 / 0.05)):
        t = 0.05 * k
        if 15.0 < t < 28.0:
            continue
        watch.heights.append((1000.0 * t, sinking(5.0)(t) + float(chance.normal(0.0, 0.3))))
        found = watch.touchdown(1000.0 * t, 0.3, 5.0)
        if found is not None:
            break
    assert found is not None
    at_ms, sigma_s = found
    assert at_ms / 1000.0 == pytest.approx(20.0, abs=2.0 * sigma_s)
    assert sigma_s < 1.5


@pytest.mark.parametrize("period_s", [0.4, 0.5])
def test_a_slow_sensors_few_heights_are_looked_at_for_longer(period_s: float) -> None:
    found = landed(sinking(6.0), period_s=period_s)
    assert found is not None
    assert found[0] == pytest.approx(20.0, abs=0.7)
    assert found[2] < 25.5
