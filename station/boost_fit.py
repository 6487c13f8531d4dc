"""Liftoff, burnout and top speed from pressure alone: a climb from rest that runs into the fitted coast.

Between first motion t0 and burnout tb the height is c2 s^2 + c3 s^3 + c4 s^4 (s = t - t0: at rest at t0, a smoothly
changing thrust), and at tb height and speed are those of the coast. That leaves t0, tb and one coefficient, and the
coast's own three numbers, which are known only as well as their covariance says: a coast held fixed where it is a metre
a second wrong drags burnout along. The coefficient and these are solved for, t0 and tb are weighed over a grid by how
well the curve fits, so that means and standard deviations come from the same weights (Bayes on a grid with a flat
prior).
"""

from dataclasses import dataclass

import numpy as np

from station.atmosphere import (
    DENSITY_SCALE_M,
    G0_MPS2,
    LAPSE_K_PER_M,
    SEA_LEVEL_TEMPERATURE_K,
    TROPOPAUSE_TEMPERATURE_K,
)
from station.coast_drag import DRAG_RISE
from station.coast_fit import CoastFit
from station.coast_path import FASTEST_MPS, SOUND_MPS_PER_ROOT_K
from station.columns import Array

GRID = 28
REFINED_GRID = 17
LEAST_BURN_S = 0.15
ROBUST_SIGMAS = 3.0
# A coast fits a bent enough climb as well: until its last tenth a burning motor gives some share of its mean thrust
# (common practice: even a tail-off falls from a third or more).
LATE = slice(0, 22)
LEAST_LATE_SHARE = 0.4
LATE_SHARE_SIGMA = 0.15
_MACHS, _RISES = np.array(DRAG_RISE).T


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
    coast_h, coast_v = coast.at(tbs)
    moves_h, moves_v = coast.moves(tbs)
    after_h, _ = coast.at(t_s)
    after_moves, _ = coast.moves(t_s)
    known = np.linalg.inv(coast.covariance)
    w = 1.0 / sigma_m
    grid = np.linspace(0.0, 1.0, 25)
    for j, tb in enumerate(tbs):
        vb = coast_v[j]
        use = np.flatnonzero(tb - t0s >= LEAST_BURN_S)
        if vb <= 1.0 or use.size == 0:
            continue
        burn = (tb - t0s[use])[:, None]
        s = np.clip((t_s - t0s[use, None]) / burn, 0.0, 1.0)
        # In units of the burn: h = hb p(s) with p = x s^2 + y s^3 + z s^4, p(1) = hb, p'(1) = vb burn.
        # Given x: z = vb burn - 3 hb + x, y = hb - x - z. After it the coast; hb and vb are the coast's too, and
        # move with the little that is not known of it.
        by_height, by_rise, shape = 4.0 * s**3 - 3.0 * s**4, s**4 - s**3, s**2 - 2.0 * s**3 + s**4
        after = t_s >= tb
        plain = np.where(after, after_h, coast_h[j] * by_height + vb * burn * by_rise)
        moving = np.where(
            after[:, None],
            after_moves,
            by_height[..., None] * moves_h[j] + (burn * by_rise)[..., None] * moves_v[j],
        )
        basis = np.concatenate([np.where(after, 0.0, shape)[..., None], moving], axis=2) * w[:, None]
        # Weak prior: acceleration at first motion about the mean of the burn.
        mean = 0.5 * vb * burn[:, 0]
        loose = np.maximum(1.2 * mean, 1.0)
        off = (altitude_m - plain) * w
        normal = np.einsum("inp,inq->ipq", basis, basis)
        normal[:, 1:, 1:] += known
        normal[:, 0, 0] += loose**-2
        pull = np.einsum("inp,in->ip", basis, off)
        pull[:, 0] += mean * loose**-2
        found = np.linalg.solve(normal, pull[..., None])[..., 0]
        residual = off - np.einsum("inp,ip->in", basis, found)
        x, moved = found[:, 0], found[:, 1:]
        chi = np.minimum(residual * residual, 4.0 * ROBUST_SIGMAS**2).sum(axis=1)
        chi += ((x - mean) / loose) ** 2 + np.einsum("ip,pq,iq->i", moved, known, moved)
        hb, rise = coast_h[j] + moved @ moves_h[j], (vb + moved @ moves_v[j]) * burn[:, 0]
        z = rise - 3.0 * hb + x
        x, y, z = x[:, None], (hb - x - z)[:, None], z[:, None]
        height = (x + y * grid + z * grid**2) * grid**2
        speed = (2.0 * x * grid + 3.0 * y * grid**2 + 4.0 * z * grid**3) / burn
        push = (2.0 * x + 6.0 * y * grid + 12.0 * z * grid**2) / burn**2
        thrust = push - _coasting_mps2(height, speed, coast.drag_per_m)
        mean_thrust = rise / burn[:, 0] ** 2 + G0_MPS2
        short = np.maximum(0.0, LEAST_LATE_SHARE - thrust[:, LATE].min(axis=1) / mean_thrust)
        cost[use, j] = np.where(x[:, 0] > 0.0, chi + (short / LATE_SHARE_SIGMA) ** 2, np.inf)
        tops[use, j, 0], tops[use, j, 1] = speed.max(axis=1), push.max(axis=1)
    return cost, tops


def _coasting_mps2(h: Array, v: Array, k: float) -> Array:
    """`station/coast_path.py`'s of many heights (m) and speeds (m/s) at once, which is numpy's work: m/s^2."""
    thin = np.exp(np.clip(h * (-1.0 / DENSITY_SCALE_M), -3.0, 1.0))
    fast = np.clip(v, -FASTEST_MPS, FASTEST_MPS)
    size = np.abs(fast)
    kelvin = np.clip(SEA_LEVEL_TEMPERATURE_K - LAPSE_K_PER_M * h, TROPOPAUSE_TEMPERATURE_K, SEA_LEVEL_TEMPERATURE_K)
    rise = np.interp(size / (SOUND_MPS_PER_ROOT_K * np.sqrt(kelvin)), _MACHS, _RISES)
    return np.asarray(-G0_MPS2 - k * rise * thin * size * fast)
