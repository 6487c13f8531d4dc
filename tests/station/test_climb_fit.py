"""The climb from rest, fitted to heights whose truth is a closed form."""

from collections.abc import Callable
from math import exp

import numpy as np
import pytest

from station.climb_fit import RISE_S, Climb, fit_climb

NOISE_M = 0.4
REST_SIGMA_M = 0.3


def fitted(
    height_m: Callable[[float], float],
    *,
    until_s: float,
    period_s: float = 0.025,
    noise_m: float = NOISE_M,
    seed: int = 1,
    heard: Callable[[float], bool] = lambda _t: True,
) -> Climb | None:
    """Two seconds of heights up to `until_s`."""
    rng = np.random.default_rng(seed)
    times = [until_s - k * period_s for k in range(round(2.0 / period_s))][::-1]
    heights = [(1000.0 * t, height_m(t) + float(rng.normal(0.0, noise_m))) for t in times if heard(t)]
    return fit_climb(heights, noise_m, REST_SIGMA_M)


def climb(push_mps2: float) -> Callable[[float], float]:
    return lambda t: 0.5 * push_mps2 * max(0.0, t) ** 2


@pytest.mark.parametrize("push_mps2", [15.0, 40.0, 90.0, 180.0])
@pytest.mark.parametrize("period_s", [0.02, 0.1])
def test_start_push_speed_and_height_are_found_within_their_bounds(push_mps2: float, period_s: float) -> None:
    until_s = (2.0 * 8.0 / push_mps2) ** 0.5
    inside = 0
    for seed in range(40):
        found = fitted(climb(push_mps2), until_s=until_s, period_s=period_s, seed=seed)
        assert found is not None
        assert abs(found.start_ms / 1000.0 + RISE_S) < 4.0 * found.sigma_s
        assert found.height_m == pytest.approx(8.0, abs=4.0 * NOISE_M)
        assert found.speed_mps == pytest.approx(push_mps2 * until_s, rel=0.6)
        inside += found.least_mps2 <= push_mps2 <= found.most_mps2
    # The bounds leave out how start and push go together: they hold about four truths of five.
    assert inside >= 28


def test_without_noise_the_truth_comes_out() -> None:
    found = fitted(climb(50.0), until_s=0.5, noise_m=1e-3)
    assert found is not None
    assert found.acceleration_mps2 == pytest.approx(50.0, rel=0.06)
    assert found.start_ms / 1000.0 == pytest.approx(-RISE_S, abs=0.02)
    assert found.height_m == pytest.approx(6.25, abs=0.1)
    assert found.rest_m == pytest.approx(0.0, abs=0.05)


def test_a_climb_fits_and_fits_better_than_a_step() -> None:
    for seed in range(20):
        found = fitted(climb(60.0), until_s=0.5, seed=seed)
        assert found is not None
        assert found.misfit < 2.5
        assert found.rest_misfit < 2.0
        assert found.over_step > 20.0


@pytest.mark.parametrize(
    "gust",
    [
        lambda t: 6.0 if t >= 0.0 else 0.0,
        lambda t: 6.0 * exp(-t / 0.25) if t >= 0.0 else 0.0,
        lambda t: min(6.0, 60.0 * max(0.0, t)),
    ],
)
def test_a_step_a_door_and_a_gust_that_stays_fit_no_better_than_a_step(gust: Callable[[float], float]) -> None:
    for seed in range(20):
        found = fitted(gust, until_s=0.4, seed=seed)
        assert found is None or found.over_step < 9.0 or found.misfit > 4.0


def test_where_it_has_been_high_before_the_rest_does_not_fit() -> None:
    found = fitted(lambda t: climb(60.0)(t) + (3.0 if t < -0.5 else 0.0), until_s=0.5)
    assert found is not None
    assert found.rest_misfit > 4.0


def test_from_a_gusts_height_it_says_so() -> None:
    found = fitted(lambda t: climb(60.0)(t) + 3.0, until_s=0.5)
    assert found is not None
    assert found.rest_m > 1.5


def test_a_gap_over_the_start_widens_the_bounds() -> None:
    seen = fitted(climb(60.0), until_s=0.6)
    hidden = fitted(climb(60.0), until_s=0.6, heard=lambda t: not 0.0 < t < 0.5)
    assert seen is not None
    assert hidden is not None
    assert hidden.sigma_s > seen.sigma_s
    assert hidden.most_mps2 - hidden.least_mps2 > seen.most_mps2 - seen.least_mps2
    assert hidden.least_mps2 < 60.0 < hidden.most_mps2


def test_what_does_not_climb_is_none() -> None:
    assert fit_climb([(20.0 * k, -0.1 * k) for k in range(50)], NOISE_M, REST_SIGMA_M) is None
