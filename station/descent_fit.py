"""When a parachute took hold, from the whole curve around it.

With a drag area that carries the weight at speed w the fall obeys dv/dt = -g + g (v/w)^2 (+ up; terminal-speed
relation). Before the parachute the old w (none: free fall), after it the new one: the only unknowns are the moment
of the change and, linearly, a height offset. The moment is weighed over a grid, as in `station/boost_fit.py`.
"""

from dataclasses import dataclass

import numpy as np

from station.atmosphere import G0_MPS2
from station.smoothing import Array

STEP_S = 0.02
CANDIDATES = 61
FREE_FALL_CARRY_MPS = 120.0
TUKEY_M_SIGMAS = 4.0


@dataclass(frozen=True, slots=True)
class HoldFit:
    """The moment (s) and its standard deviation (s)."""

    t_s: float
    sigma_s: float


def fit_hold(
    t_s: Array,
    altitude_m: Array,
    sigma_m: Array,
    start_velocity_mps: float,
    carry_before_mps: float | None,
    carry_after_mps: float,
    span_s: tuple[float, float],
    prior: tuple[float, float] | None = None,
) -> HoldFit | None:
    """Fit samples that start at a known velocity (+ up); `prior` is (moment s, standard deviation s) if reported."""
    if len(t_s) < 6:
        return None
    candidates = np.linspace(span_s[0], span_s[1], CANDIDATES)
    before = carry_before_mps if carry_before_mps is not None else FREE_FALL_CARRY_MPS
    grid = np.arange(t_s[0], t_s[-1] + STEP_S, STEP_S)
    velocity = np.full(CANDIDATES, start_velocity_mps)
    height = np.zeros(CANDIDATES)
    heights = np.empty((len(grid), CANDIDATES))
    for i, t in enumerate(grid):
        heights[i] = height
        # The step in which the change falls has both drags, each for its part: no candidate is rounded to the grid.
        share = np.clip((t + STEP_S - candidates) / STEP_S, 0.0, 1.0)
        carry = (share / carry_after_mps**2 + (1.0 - share) / before**2) ** -0.5
        change = _change(velocity, carry)
        middle = velocity + 0.5 * STEP_S * change
        velocity_next = velocity + STEP_S * _change(middle, carry)
        height = height + 0.5 * STEP_S * (velocity + velocity_next)
        velocity = velocity_next
    cost = np.empty(CANDIDATES)
    weight = 1.0 / sigma_m**2
    for j in range(CANDIDATES):
        model = np.interp(t_s, grid, heights[:, j])
        difference = altitude_m - model
        offset = float(np.median(difference))
        for _ in range(3):
            scaled = (difference - offset) / sigma_m
            w = weight * np.clip(1.0 - (scaled / (3.0 * TUKEY_M_SIGMAS)) ** 2, 0.05, None)
            offset = float((w * difference).sum() / w.sum())
        scaled = np.minimum(np.abs(difference - offset) / sigma_m, 3.0 * TUKEY_M_SIGMAS)
        cost[j] = float(scaled @ scaled)
    spread = max(1.0, float(cost.min()) / max(1, len(t_s) - 2))
    cost = cost / spread
    if prior is not None:
        cost = cost + ((candidates - prior[0]) / prior[1]) ** 2
    probability = np.exp(-0.5 * (cost - cost.min()))
    probability /= probability.sum()
    mean = float(probability @ candidates)
    step = float(candidates[1] - candidates[0])
    sigma = float(np.sqrt(probability @ (candidates - mean) ** 2 + step * step / 12.0))
    return HoldFit(mean, sigma)


def _change(velocity: Array, carry: Array) -> Array:
    drag = -G0_MPS2 * velocity * np.abs(velocity) / (carry * carry)
    # No more than would stop the fall within two steps, so that a long step under a large canopy stays stable.
    limit = np.abs(velocity) / (2.0 * STEP_S)
    result: Array = -G0_MPS2 + np.clip(drag, -limit, limit)
    return result
