"""Liftoff, burnout and top speed from heights alone, against a closed form and an ODE solver."""

from collections.abc import Callable
from functools import cache
from math import exp, log, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.atmosphere import air_density_kgpm3, isa_pressure_pa, isa_temperature_k
from station.boost_fit import BoostFit, fit_boost
from station.coast_fit import CoastFit, fit_coast

G = 9.80665
MASS_KG, THRUST_N, BURN_S, K = 2.0, 200.0, 2.0, 0.001623565
PAD_S = 1.0


def steady(t_s: float) -> float:
    return THRUST_N if t_s < BURN_S else 0.0


def tapering(t_s: float) -> float:
    """Rises within 0.05 s and tails off in the last 0.4 s; under 5 % of its peak from 1.98 s on."""
    return float(np.interp(t_s, [0.0, 0.05, 1.0, 1.6, 1.9, 2.0], [0.0, 220.0, 210.0, 170.0, 60.0, 0.0]))


@cache
def flown(thrust: Callable[[float], float], period_s: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, heights, velocities to 10 s; a second on the pad before. The air is the standard's."""
    t = np.arange(0.0, 10.0, period_s)

    def change(now: float, y: np.ndarray) -> list[float]:
        density = air_density_kgpm3(isa_pressure_pa(y[0]), isa_temperature_k(y[0]))
        gained = thrust(now) / MASS_KG - G - K / MASS_KG * density / 1.225 * abs(y[1]) * y[1]
        return [y[1], 0.0 if y[0] <= 0.0 and gained < 0.0 else gained]

    solved = solve_ivp(change, (0.0, 10.0), [0.0, 0.0], "DOP853", t, rtol=1e-9, atol=1e-8, max_step=0.02)
    pad = np.arange(-PAD_S, -1e-9, period_s)
    zero = np.zeros(len(pad))
    return np.concatenate([pad, t]), np.concatenate([zero, solved.y[0]]), np.concatenate([zero, solved.y[1]])


def fitted(
    thrust: Callable[[float], float], seed: int, *, noise_m: float = 0.3, period_s: float = 0.02
) -> tuple[BoostFit, CoastFit]:
    t, height, _ = flown(thrust, period_s)
    noisy = height + np.random.default_rng(seed).normal(0.0, noise_m, len(t))
    sigma = np.full_like(t, noise_m)
    coasting = t >= 2.3
    coast = fit_coast(t[coasting], noisy[coasting], sigma[coasting], 2.3, 120.0)
    assert coast is not None
    near = t < 2.6
    found = fit_boost(t[near], noisy[near], sigma[near], coast, (-0.6, 0.5), (0.15, 2.45))
    assert found is not None
    return found, coast


def test_the_reference_flight_of_fehskens_and_malewicki() -> None:
    """Constant thrust and mass: v_b 164.62 m/s, h_b 172.21 m; the form as widely printed."""
    q = sqrt((THRUST_N - MASS_KG * G) / K)
    x = 2.0 * K * q / MASS_KG
    burnout_mps = q * (1.0 - exp(-x * BURN_S)) / (1.0 + exp(-x * BURN_S))
    push = THRUST_N - MASS_KG * G
    burnout_m = -MASS_KG / (2.0 * K) * log((push - K * burnout_mps**2) / push)
    assert burnout_mps == pytest.approx(164.6211, abs=1e-4)
    assert burnout_m == pytest.approx(172.2135, abs=1e-3)
    fit, coast = fitted(steady, 1, noise_m=0.05)
    # The form holds the density constant; it falls by 1.6 % on the way up.
    assert fit.burnout_velocity_mps == pytest.approx(burnout_mps, rel=3e-3)
    assert fit.burnout_altitude_m == pytest.approx(burnout_m, rel=5e-3)
    assert fit.max_speed_mps == pytest.approx(burnout_mps, rel=4e-3)
    assert fit.liftoff_s == pytest.approx(0.0, abs=0.02)
    assert fit.burnout_s == pytest.approx(BURN_S, abs=0.02)
    t = np.linspace(2.3, 14.0, 5001)
    height, _ = coast.at(t)
    # Apogee of the form: 896.9124 m at 13.0072 s; the thinner air up there carries it a little higher.
    assert 896.9124 < float(height.max()) < 1.02 * 896.9124
    assert 13.0072 < float(t[height.argmax()]) < 1.02 * 13.0072


def test_the_sigmas_of_a_steady_burn_cover_the_truth() -> None:
    errors = []
    for seed in range(20):
        fit, _ = fitted(steady, seed)
        errors.append((fit.liftoff_s / fit.liftoff_sigma_s, (fit.burnout_s - BURN_S) / fit.burnout_sigma_s))
    z = np.abs(np.array(errors))
    # At least 90 % within two sigma wanted; of 20 the draw itself may lose two more.
    assert np.all(np.mean(z < 2.0, axis=0) >= 0.8)
    assert np.all(z < 4.0)
    assert np.all(np.mean(z > 0.2, axis=0) > 0.3)  # and they are not just wide


@pytest.mark.parametrize("thrust", [steady, tapering])
@pytest.mark.parametrize(("noise_m", "period_s"), [(0.3, 0.02), (0.75, 0.02), (0.5, 0.1)])
def test_any_usual_burn_within_what_pressure_alone_must_reach(
    thrust: Callable[[float], float], noise_m: float, period_s: float
) -> None:
    """3.6 and 9 Pa fifty times a second, 6 Pa ten times: 0.15 s, 0.20 s, 2.4 %."""
    top = float(flown(thrust, 0.02)[2].max())
    end = BURN_S if thrust is steady else 1.98
    fits = [fitted(thrust, seed, noise_m=noise_m, period_s=period_s)[0] for seed in range(9)]
    for errors, limit in (
        ([f.liftoff_s for f in fits], 0.15),
        ([f.burnout_s - end for f in fits], 0.20),
        ([f.max_speed_mps / top - 1.0 for f in fits], 0.024),
    ):
        sizes = np.sort(np.abs(errors))
        assert sizes[6] < limit  # seven of nine; the other two may just miss it
        assert sizes[-1] < 1.25 * limit


@pytest.mark.xfail(strict=True, reason="the sigma of burnout knows the noise but not how thrust may tail off")
def test_the_sigma_of_burnout_covers_a_motor_that_tails_off() -> None:
    z = []
    for seed in range(10):
        fit, _ = fitted(tapering, seed)
        z.append(abs(fit.burnout_s - 1.98) / fit.burnout_sigma_s)
    assert np.mean(np.array(z) < 2.0) >= 0.8


def test_highest_acceleration_is_that_of_the_thrust() -> None:
    fit, _ = fitted(steady, 3, noise_m=0.1)
    assert fit.max_acceleration_mps2 == pytest.approx(THRUST_N / MASS_KG - G, rel=0.05)


def test_too_few_readings_say_nothing() -> None:
    _, coast = fitted(steady, 0)
    t = np.array([0.0, 1.0, 2.0, 3.0])
    assert fit_boost(t, 40.0 * t, np.ones(4), coast, (-0.6, 0.5), (0.15, 2.45)) is None


def test_a_burn_that_would_be_too_short_everywhere_says_nothing() -> None:
    _, coast = fitted(steady, 0)
    t = np.linspace(0.0, 3.0, 50)
    assert fit_boost(t, 40.0 * t, np.ones(50), coast, (0.45, 0.5), (0.4, 0.55)) is None


def test_a_short_burn_is_not_thought_to_go_on_into_the_coast() -> None:
    """A bent curve fits a coast as well: with much noise burns of 0.6 s were taken for burns of 1.4 s."""

    def height(t_s: np.ndarray) -> np.ndarray:
        burnt = np.clip(t_s, 0.0, 0.6)
        since = np.maximum(0.0, t_s - 0.6)
        return np.asarray(58.0 * burnt**2 + 69.6 * since - 0.5 * G * since**2)

    late = []
    t = np.arange(-1.0, 5.0, 0.05)
    sigma = np.full_like(t, 0.9)
    for seed in range(12):
        noisy = height(t) + np.random.default_rng(seed).normal(0.0, 0.9, len(t))
        coasting = t >= 1.6
        coast = fit_coast(t[coasting], noisy[coasting], sigma[coasting], 1.6, 60.0)
        assert coast is not None
        near = t < 1.9
        fit = fit_boost(t[near], noisy[near], sigma[near], coast, (-0.6, 0.5), (0.15, 1.75))
        assert fit is not None
        late.append(fit.burnout_s - 0.6)
    assert max(late) < 0.3
    assert abs(float(np.median(late))) < 0.12
