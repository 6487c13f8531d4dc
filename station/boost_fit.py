"""Liftoff, burnout and top speed from pressure alone: a climb from rest that runs into the fitted coast.

Between first motion t0 and burnout tb the height is c2 s^2 + c3 s^3 + c4 s^4 (s = t - t0: at rest at t0, a smoothly
changing thrust), and at tb height and speed are those of the coast. That leaves t0, tb and one coefficient; the
coefficient is solved for, t0 and tb are weighed over a grid by how well the curve fits, so that means and standard
deviations come from the same weights (Bayes on a grid with a flat prior).
"""

from dataclasses import dataclass

import numpy as np

from station.coast_fit import CoastFit
from station.smoothing import Array

GRID = 28
REFINED_GRID = 17
LEAST_BURN_S = 0.15
ROBUST_SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class BoostFit:
    """Times s with standard deviations s; speed m/s, accelerations m/s^2, burnout height m."""

    liftoff_s: float
    liftoff_sigma_s: float
    burnout_s: float
    burnout_sigma_s: float
    burnout_altitude_m: float
    burnout_velocity_mps: float
    max_speed_mps: float
    max_acceleration_mps2: float


def fit_boost(
    t_s: Array,
    altitude_m: Array,
    sigma_m: Array,
    coast: CoastFit,
    liftoff_span_s: tuple[float, float],
    burnout_span_s: tuple[float, float],
) -> BoostFit | None:
    """Fit samples from before first motion to after burnout; None when too few or nothing fits."""
    if len(t_s) < 5:
        return None
    t0s = np.linspace(*liftoff_span_s, GRID)
    tbs = np.linspace(*burnout_span_s, GRID)
    cost, _ = _costs(t_s, altitude_m, sigma_m, coast, t0s, tbs)
    if not np.isfinite(cost).any():
        return None
    t0s, tbs = _narrow(cost, t0s, 0), _narrow(cost, tbs, 1)
    cost, tops = _costs(t_s, altitude_m, sigma_m, coast, t0s, tbs)
    if not np.isfinite(cost).any():
        return None
    weight = np.exp(-0.5 * (cost - np.nanmin(cost)))
    weight[~np.isfinite(weight)] = 0.0
    weight /= weight.sum()
    by_t0, by_tb = weight.sum(axis=1), weight.sum(axis=0)
    t0, tb = float(by_t0 @ t0s), float(by_tb @ tbs)
    step0, step_b = float(t0s[1] - t0s[0]), float(tbs[1] - tbs[0])
    sigma0 = float(np.sqrt(by_t0 @ (t0s - t0) ** 2 + step0**2 / 12.0))
    sigma_b = float(np.sqrt(by_tb @ (tbs - tb) ** 2 + step_b**2 / 12.0))
    h, v = coast.at(np.array([tb]))
    tops = np.where(weight[..., None] > 0.0, tops, 0.0)
    top = (weight[..., None] * tops).sum(axis=(0, 1))
    return BoostFit(t0, sigma0, tb, sigma_b, float(h[0]), float(v[0]), float(top[0]), float(top[1]))


def _narrow(cost: Array, values: Array, axis: int) -> Array:
    """A finer grid around where the cost is within 12 of the best (3.5 standard deviations)."""
    best = np.nanmin(np.where(np.isfinite(cost), cost, np.inf), axis=1 - axis)
    good = np.flatnonzero(best < best.min() + 12.0)
    step = values[1] - values[0]
    return np.linspace(values[good[0]] - step, values[good[-1]] + step, REFINED_GRID)


def _costs(
    t_s: Array, altitude_m: Array, sigma_m: Array, coast: CoastFit, t0s: Array, tbs: Array
) -> tuple[Array, Array]:
    """Robust chi-square (len(t0s), len(tbs)), and top speed and acceleration of each candidate (..., 2)."""
    cost = np.full((len(t0s), len(tbs)), np.inf)
    tops = np.zeros((len(t0s), len(tbs), 2))
    coast_h, coast_v = coast.at(np.sort(tbs))
    after_h, _ = coast.at(t_s)
    quiet = (altitude_m / sigma_m) ** 2
    later = ((altitude_m - after_h) / sigma_m) ** 2
    ceiling = ROBUST_SIGMAS**2
    quiet, later = np.minimum(quiet, 4.0 * ceiling), np.minimum(later, 4.0 * ceiling)
    grid = np.linspace(0.0, 1.0, 25)
    for j, tb in enumerate(tbs):
        hb, vb = coast_h[j], coast_v[j]
        if vb <= 1.0:
            continue
        after = later[t_s >= tb].sum()
        for i, t0 in enumerate(t0s):
            burn = tb - t0
            if burn < LEAST_BURN_S:
                continue
            inside = (t_s > t0) & (t_s < tb)
            s = (t_s[inside] - t0) / burn
            # In units of the burn: h = hb p(s) with p = x s^2 + y s^3 + z s^4, p(1) = hb, p'(1) = vb burn.
            # Given x: z = vb burn - 3 hb + x, y = hb - x - z.
            rise = vb * burn
            base = (hb - (rise - 3.0 * hb)) * s**3 + (rise - 3.0 * hb) * s**4
            shape = s**2 - 2.0 * s**3 + s**4
            w = 1.0 / sigma_m[inside]
            # Weak prior: acceleration at first motion about the mean of the burn.
            mean = 0.5 * rise
            prior_w = 1.0 / max(0.6 * rise, 1.0)
            top = ((altitude_m[inside] - base) * shape * w * w).sum() + mean * prior_w**2
            x = top / ((shape * w) @ (shape * w) + prior_w**2)
            if x <= 0.0:
                continue
            residual = (altitude_m[inside] - base - x * shape) * w
            chi = np.minimum(residual * residual, 4.0 * ceiling).sum()
            cost[i, j] = quiet[t_s <= t0].sum() + chi + after + ((x - mean) * prior_w) ** 2
            z = rise - 3.0 * hb + x
            y = hb - x - z
            speed = (2.0 * x * grid + 3.0 * y * grid**2 + 4.0 * z * grid**3) / burn
            pull = (2.0 * x + 6.0 * y * grid + 12.0 * z * grid**2) / burn**2
            tops[i, j] = speed.max(), pull.max()
            if pull[:-1].min() < -30.0:
                cost[i, j] += 4.0  # a burning motor does not brake
    return cost, tops
