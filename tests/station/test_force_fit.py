"""The climb by accelerometer held to the pressure: scale and lean found, and one curve that both sensors agree with."""

from dataclasses import dataclass
from functools import cache
from math import cos, radians

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.force_fit import ForceClimb, fit_force_climb
from station.thrust_span import top_speed_mps

G = 9.80665
MASS_KG, K, LENGTH_S = 2.0, 0.001623565, 10.0


@dataclass(frozen=True)
class Climb:
    """A climb that leans by a fixed angle and what its sensors said; force is gained over the reading at rest."""

    t_s: np.ndarray
    altitude_m: np.ndarray
    velocity_mps: np.ndarray
    acceleration_mps2: np.ndarray
    force_mps2: np.ndarray
    pressure_height_m: np.ndarray
    sigma_m: np.ndarray


def thrust(t_s: float) -> float:
    return float(np.interp(t_s, [0.0, 0.05, 1.0, 1.6, 1.9, 2.0], [0.0, 220.0, 210.0, 170.0, 60.0, 0.0]))


@cache
def path(lean_deg: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Times, heights, vertical speeds, axial specific forces by DOP853; along the airframe f = (T - k v^2)/m."""
    t = np.arange(0.0, LENGTH_S, 0.02)
    c = cos(radians(lean_deg))

    def force(now: float, v: float) -> float:
        along = v / c
        return (thrust(now) - K * abs(along) * along) / MASS_KG

    def change(now: float, y: np.ndarray) -> list[float]:
        return [y[1], max(0.0, force(now, y[1]) * c - G) if now < 0.1 and y[0] <= 0.0 else force(now, y[1]) * c - G]

    solved = solve_ivp(change, (0.0, LENGTH_S), [0.0, 0.0], "DOP853", t, rtol=1e-9, atol=1e-9, max_step=0.02)
    axial = np.array([max(G, force(a, v)) if a < 0.02 else force(a, v) for a, v in zip(t, solved.y[1], strict=True)])
    return t, solved.y[0], solved.y[1], axial


def climb(
    seed: int, *, scale: float = 1.0, bias: float = 0.0, lean_deg: float = 0.0, noise_m: float = 0.3, noise: float = 0.4
) -> Climb:
    rng = np.random.default_rng(seed)
    t, height, velocity, axial = path(lean_deg)
    pad = np.arange(-0.5, -1e-9, 0.02)
    rest = np.full(len(pad), G)
    t = np.concatenate([pad, t])
    height = np.concatenate([0.0 * pad, height])
    velocity = np.concatenate([0.0 * pad, velocity])
    axial = np.concatenate([rest, axial])
    reading = scale * axial + bias
    at_rest = scale * G + bias  # what a long wait on the pad has told
    force = reading + rng.normal(0.0, noise, len(t)) - at_rest
    return Climb(
        t,
        height,
        velocity,
        np.gradient(velocity, t),
        force,
        height + rng.normal(0.0, noise_m, len(t)),
        np.full_like(t, noise_m),
    )


def fitted(c: Climb) -> ForceClimb:
    return fit_force_climb(c.t_s, c.force_mps2, c.pressure_height_m, c.sigma_m)


@pytest.mark.parametrize("scale", [0.96, 1.0, 1.04])
@pytest.mark.parametrize("bias", [-1.2, 0.0, 1.2])
def test_the_sensors_scale_is_found_and_its_bias_does_not_matter(scale: float, bias: float) -> None:
    c = climb(1, scale=scale, bias=bias)
    fit = fitted(c)
    assert fit.scale == pytest.approx(1.0 / scale, abs=0.005)
    assert fit.lean_mps2 == pytest.approx(0.0, abs=0.15)


def test_the_lean_of_the_flight_is_found_as_the_gravity_it_hides() -> None:
    """At 10 degrees c1 = cos L and, gained over rest, c2 = -g (1 - cos L) = -0.149 m/s^2."""
    c = climb(2, lean_deg=10.0)
    fit = fitted(c)
    assert fit.scale == pytest.approx(cos(radians(10.0)), abs=0.006)
    assert fit.lean_mps2 == pytest.approx(-G * (1.0 - cos(radians(10.0))), abs=0.1)


def test_pressure_that_is_not_trusted_does_not_count() -> None:
    c = climb(3, scale=1.03)
    shocked, sigma = c.pressure_height_m.copy(), c.sigma_m.copy()
    fast = (c.t_s > 1.0) & (c.t_s < 3.0)
    shocked[fast] += 300.0
    sigma[fast] = np.inf
    fit = fit_force_climb(c.t_s, c.force_mps2, shocked, sigma)
    assert fit.scale == pytest.approx(1.0 / 1.03, abs=0.006)
    np.testing.assert_allclose(fit.altitude_m, c.altitude_m, atol=2.5)


def test_without_trusted_pressure_the_sensor_is_believed_as_it_is() -> None:
    c = climb(4)
    fit = fit_force_climb(c.t_s, c.force_mps2, c.pressure_height_m, np.full_like(c.sigma_m, np.inf))
    assert fit.scale == pytest.approx(1.0, abs=1e-6)
    assert fit.lean_mps2 == pytest.approx(-0.05, abs=1e-6)
    assert fit.lag_s == pytest.approx(0.015, abs=1e-6)


@pytest.mark.parametrize(
    ("scale", "bias", "lean_deg"), [(1.0, 0.0, 0.0), (1.02, 1.2, 3.0), (0.98, -1.2, 0.0), (1.02, -0.5, 8.0)]
)
def test_top_speed_within_1_1_percent_whatever_the_sensors_errors(scale: float, bias: float, lean_deg: float) -> None:
    top = float(path(lean_deg)[2].max())
    for seed in range(6):
        c = climb(seed, scale=scale, bias=bias, lean_deg=lean_deg)
        assert top_speed_mps(fitted(c), 2.0) == pytest.approx(top, rel=0.011)


def test_the_curve_is_better_than_either_sensor_and_says_how_good_its_gains_are() -> None:
    normalised = []
    for seed in range(4):
        c = climb(seed, scale=1.02)
        fit = fitted(c)
        assert float(np.std(fit.altitude_m - c.altitude_m)) < 0.5 * 0.3
        assert float(np.abs(fit.velocity_mps - c.velocity_mps).max()) < 1.5
        steps = np.flatnonzero((c.t_s > -0.02) & (c.t_s < 2.0))
        gained, true = np.diff(fit.velocity_mps), np.diff(c.velocity_mps)
        normalised += [(gained[i] - true[i]) / fit.gain_sigma_mps(int(i)) for i in steps]
    assert 0.9 < float(np.mean(np.abs(normalised) < 2.0)) < 1.0


def test_a_thrust_that_came_and_went_between_two_readings_is_not_missed() -> None:
    """Ten readings a second see half a second's burn at six moments: trapezoids alone are off by metres a second."""
    for phase_s in (0.0, 0.02, 0.04, 0.06, 0.08):
        t = np.arange(-0.5 + phase_s, 8.0, 0.1)
        push, coast = (t >= 0.0) & (t < 0.53), t >= 0.53
        top = 100.0 * 0.53
        force = np.where(push, 100.0, np.where(coast, -G, 0.0))
        since = np.maximum(0.0, t - 0.53)
        height = np.where(push, 50.0 * t * t, np.where(coast, 0.5 * top * 0.53 + top * since - 0.5 * G * since**2, 0.0))
        seen = height + np.random.default_rng(int(100 * phase_s)).normal(0.0, 0.3, len(t))
        fit = fit_force_climb(t, force, seen, np.full_like(t, 0.3))
        later = t > 0.7
        true = top - G * (t[later] - 0.53)
        assert float(np.abs(fit.velocity_mps[later] - true).max()) < 1.2


def test_lost_samples_and_missing_forces_are_bridged() -> None:
    c = climb(8, scale=0.98)
    keep = np.random.default_rng(8).random(len(c.t_s)) > 0.2
    keep &= (c.t_s < 1.1) | (c.t_s > 1.4)
    force = c.force_mps2.copy()
    force[(c.t_s > 4.0) & (c.t_s < 4.5)] = np.nan
    keep &= np.isfinite(force)
    fit = fit_force_climb(c.t_s[keep], force[keep], c.pressure_height_m[keep], c.sigma_m[keep])
    assert np.all(np.isfinite(fit.velocity_mps))
    assert float(fit.velocity_mps.max()) == pytest.approx(float(c.velocity_mps.max()), rel=0.015)


@pytest.mark.parametrize("lag_s", [0.0, 0.02, 0.045])
def test_the_lag_of_the_ports_is_found_and_taken_out(lag_s: float) -> None:
    c = climb(1)
    late = c.pressure_height_m - lag_s * c.velocity_mps
    fit = fit_force_climb(c.t_s, c.force_mps2, late, c.sigma_m)
    assert fit.lag_s == pytest.approx(lag_s, abs=0.012)
    assert fit.velocity_mps.max() == pytest.approx(c.velocity_mps.max(), rel=0.01)
