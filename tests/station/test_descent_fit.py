"""When a parachute took hold, against an ODE solver that knows the moment."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.descent_fit import HoldFit, fit_hold

G = 9.80665
FREE_FALL = None
PERIOD_S = 0.02


@cache
def falling(
    carry_before_mps: float | None,
    carry_after_mps: float,
    opened_s: float,
    length_s: float,
    start_mps: float,
    filling_s: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Times and heights of a fall whose drag area changes at `opened_s`: dv/dt = -g + g (v/w)^2, w the speed carried.

    With `filling_s` the drag area grows in a straight line over that time, half of it before `opened_s`.
    """
    t = np.arange(0.0, length_s, PERIOD_S)
    before = 0.0 if carry_before_mps is None else carry_before_mps**-2
    after = carry_after_mps**-2

    def change(now: float, y: np.ndarray) -> list[float]:
        if filling_s > 0.0:
            share = float(np.clip((now - opened_s) / filling_s + 0.5, 0.0, 1.0))
        else:
            share = 1.0 if now >= opened_s else 0.0
        drag = before + share * (after - before)
        return [y[1], -G - G * drag * abs(y[1]) * y[1]]

    solved = solve_ivp(change, (0.0, length_s), [0.0, start_mps], "DOP853", t, rtol=1e-9, atol=1e-9, max_step=0.02)
    return t, solved.y[0]


def drogue(seed: int, opened_s: float = 1.4, noise_m: float = 0.3, filling_s: float = 0.0) -> HoldFit:
    """From apogee on: free fall, then 18 m/s."""
    t, height = falling(FREE_FALL, 18.0, opened_s, 6.0, 0.0, filling_s)
    noisy = height + np.random.default_rng(seed).normal(0.0, noise_m, len(t)) + 400.0
    found = fit_hold(t, noisy, np.full_like(t, noise_m), 0.0, None, 18.0, (0.0, 3.0))
    assert found is not None
    return found


def main(seed: int, opened_s: float = 3.0, noise_m: float = 0.3, filling_s: float = 0.0) -> HoldFit:
    """Under a drogue at 18 m/s, then 5.5 m/s."""
    t, height = falling(18.0, 5.5, opened_s, 7.0, -18.0, filling_s)
    noisy = height + np.random.default_rng(seed).normal(0.0, noise_m, len(t)) + 150.0
    found = fit_hold(t, noisy, np.full_like(t, noise_m), -18.0, 18.0, 5.5, (1.0, 4.5))
    assert found is not None
    return found


@pytest.mark.parametrize("opened_s", [2.2, 3.0, 3.7])
def test_a_main_that_opens_at_once_is_found_to_a_tenth_of_a_second(opened_s: float) -> None:
    """No canopy does, so it is found a little late."""
    assert main(1, opened_s).t_s == pytest.approx(opened_s, abs=0.1)


@cache
def filling(way_m: float, begins_s: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Times, heights and the moment of the full canopy of a main that fills over so much air under an 18 m/s drogue.

    Drag area in proportion to the square of the way gone (Knacke's constant filling distance, from memory).
    """
    t = np.arange(0.0, 7.0, PERIOD_S)
    before, after = 18.0**-2, 5.5**-2

    def change(now: float, y: np.ndarray) -> list[float]:
        drag = before + min(1.0, y[2]) ** 2 * (after - before)
        return [y[1], -G - G * drag * abs(y[1]) * y[1], abs(y[1]) / way_m if now >= begins_s else 0.0]

    def is_full(now: float, y: np.ndarray) -> float:
        del now
        return float(y[2] - 1.0)

    start = [0.0, -18.0, 0.0]
    solved = solve_ivp(change, (0.0, 7.0), start, "DOP853", t, events=is_full, rtol=1e-9, atol=1e-9, max_step=0.02)
    return t, solved.y[0], float(solved.t_events[0][0])


@pytest.mark.parametrize("way_m", [2.5, 5.0, 9.0])
def test_a_canopy_that_fills_as_it_falls_is_found_when_it_is_full(way_m: float) -> None:
    t, height, full_s = filling(way_m, 2.6)
    for seed in range(5):
        noisy = height + np.random.default_rng(seed).normal(0.0, 0.3, len(t))
        found = fit_hold(t, noisy, np.full_like(t, 0.3), -18.0, 18.0, 5.5, (1.0, 4.5))
        assert found is not None
        assert found.t_s == pytest.approx(full_s, abs=0.3)
        assert abs(found.t_s - full_s) < 4.0 * found.sigma_s


@pytest.mark.parametrize("size_m", [-55.0, 25.0])
@pytest.mark.parametrize("fades_s", [0.1, 0.2, 0.3])
def test_a_spike_of_its_charge_is_fitted_with_it(size_m: float, fades_s: float) -> None:
    t, height, full_s = filling(5.0, 2.6)
    since = t - 2.2
    spike = np.where(since >= 0.0, size_m * np.exp(-np.maximum(since, 0.0) / fades_s), 0.0)
    for seed in range(5):
        noisy = height + spike + np.random.default_rng(seed).normal(0.0, 0.3, len(t))
        found = fit_hold(t, noisy, np.full_like(t, 0.3), -18.0, 18.0, 5.5, (1.0, 4.5), 2.2, [2.2])
        assert found is not None
        assert found.t_s == pytest.approx(full_s, abs=0.2)


@pytest.mark.parametrize("opened_s", [0.9, 1.4, 2.4])
def test_a_drogue_is_found_from_when_the_air_is_fast_enough(opened_s: float) -> None:
    fit = drogue(1, opened_s)
    assert fit.t_s == pytest.approx(opened_s, abs=0.25)


def test_a_drogue_at_the_top_is_less_sure_than_one_in_fast_air() -> None:
    assert drogue(4, 0.6).sigma_s > 1.3 * drogue(4, 2.0).sigma_s


@pytest.mark.parametrize(("find", "truth_s", "widest_s"), [(drogue, 1.43, 0.3), (main, 3.03, 0.08)])
def test_the_sigmas_cover_the_truth(find: Callable[..., HoldFit], truth_s: float, widest_s: float) -> None:
    """Step-like openings, the model's own kind, with noise as it is said to be."""
    fits = [find(seed, truth_s) for seed in range(25)]
    z = np.array([(fit.t_s - truth_s) / fit.sigma_s for fit in fits])
    assert np.mean(np.abs(z) < 2.0) >= 0.8
    assert np.all(np.abs(z) < 4.0)
    assert max(fit.sigma_s for fit in fits) < widest_s


@pytest.mark.parametrize(("find", "truth_s", "limit_s"), [(drogue, 1.4, 0.80), (main, 3.0, 0.30)])
def test_a_canopy_that_fills_in_half_a_second_is_found_near_its_middle(
    find: Callable[..., HoldFit], truth_s: float, limit_s: float
) -> None:
    for seed in range(5):
        assert find(seed, filling_s=0.5).t_s == pytest.approx(truth_s, abs=limit_s)
        assert find(seed, noise_m=0.8, filling_s=0.5).t_s == pytest.approx(truth_s, abs=limit_s)


def test_a_charges_spike_left_among_the_readings_does_not_carry_it_away() -> None:
    t, height = falling(18.0, 5.5, 3.0, 7.0, -18.0)
    noisy = height + np.random.default_rng(3).normal(0.0, 0.3, len(t))
    noisy[(t >= 2.5) & (t < 2.65)] -= 35.0
    found = fit_hold(t, noisy, np.full_like(t, 0.3), -18.0, 18.0, 5.5, (1.0, 4.5))
    assert found is not None
    assert found.t_s == pytest.approx(3.0, abs=0.1)


def test_what_the_altimeter_reported_decides_where_the_heights_cannot() -> None:
    t, height = falling(FREE_FALL, 18.0, 0.4, 3.0, 0.0)
    noise_m = 3.0
    noisy = height + np.random.default_rng(6).normal(0.0, noise_m, len(t))
    sigma = np.full_like(t, noise_m)
    alone = fit_hold(t, noisy, sigma, 0.0, None, 18.0, (-0.5, 3.0))
    told = fit_hold(t, noisy, sigma, 0.0, None, 18.0, (-0.5, 3.0), fired_s=0.0)
    assert alone is not None
    assert told is not None
    assert told.filling_from_sigma_s < 0.7 * alone.filling_from_sigma_s
    assert told.filling_from_s == pytest.approx(0.4, abs=0.2)


def test_a_report_that_the_heights_contradict_does_not_decide() -> None:
    t, height = falling(18.0, 5.5, 3.0, 7.0, -18.0)
    noisy = height + np.random.default_rng(7).normal(0.0, 0.3, len(t))
    found = fit_hold(t, noisy, np.full_like(t, 0.3), -18.0, 18.0, 5.5, (1.0, 4.5), fired_s=1.2)
    assert found is not None
    assert found.t_s == pytest.approx(3.0, abs=0.1)


def test_no_canopy_fills_before_its_charge_fired() -> None:
    """Readings too rough to tell by themselves."""
    t, height = falling(18.0, 5.5, 3.0, 7.0, -18.0)
    for seed in range(12):
        noisy = height + np.random.default_rng(seed).normal(0.0, 3.0, len(t))
        found = fit_hold(t, noisy, np.full_like(t, 3.0), -18.0, 18.0, 5.5, (1.0, 4.5), fired_s=2.9)
        assert found is not None
        assert found.filling_from_s > 2.85


def test_it_stays_steady_under_a_very_large_canopy() -> None:
    t, height = falling(25.0, 2.0, 2.0, 5.0, -25.0)
    noisy = height + np.random.default_rng(8).normal(0.0, 0.3, len(t))
    found = fit_hold(t, noisy, np.full_like(t, 0.3), -25.0, 25.0, 2.0, (0.5, 4.0))
    assert found is not None
    assert found.t_s == pytest.approx(2.0, abs=0.1)


def test_too_few_readings_say_nothing() -> None:
    t = np.arange(5) * 0.2
    assert fit_hold(t, -18.0 * t, np.ones(5), -18.0, 18.0, 5.5, (0.0, 1.0)) is None
