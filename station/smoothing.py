"""Fixed-interval smoother: the best curve through a whole stretch of samples, each moment seeing past and future.

Forward the `VerticalFilter`, backward the recursion of Rauch, Tung and Striebel 1965:

    C_k = P_k F^T P_{k+1|k}^-1
    x_k^s = x_k + C_k (x_{k+1}^s - x_{k+1|k}),   P_k^s = P_k + C_k (P_{k+1}^s - P_{k+1|k}) C_k^T
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.columns import Array
from station.estimator import VerticalFilter


@dataclass(frozen=True, slots=True, eq=False)
class SmoothingStep:
    """One sample: time (s), height (m) with variance or None, acceleration with variance or None.

    `jerk_density` (m^2/s^5) is the process noise on the way to this sample; `step_mps2` the standard deviation
    of a step of acceleration that may have happened just before it.
    """

    t_s: float
    altitude_m: float
    variance_m2: float
    acceleration_mps2: float | None
    acceleration_variance: float
    jerk_density: float
    step_mps2: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class SmoothedCurve:
    """Times (n,), states (n, 3) as (altitude m, velocity m/s, acceleration m/s^2), covariances (n, 3, 3)."""

    t_s: Array
    states: Array
    covariances: Array


def smooth(start: VerticalFilter, steps: Sequence[SmoothingStep]) -> SmoothedCurve:
    """Smooth the samples, starting from the state `start` at the time of the first (it is changed)."""
    n = len(steps)
    predicted = np.empty((n, 9))
    filtered = np.empty((n, 9))
    last_s = steps[0].t_s
    dts = np.zeros(n)
    for k, step in enumerate(steps):
        dts[k] = dt = step.t_s - last_s
        last_s = step.t_s
        start.predict(dt, step.jerk_density)
        if step.step_mps2 > 0.0:
            start.allow_step(step.step_mps2, 0.0)
        predicted[k] = _pack(start)
        if step.acceleration_mps2 is not None:
            start.update_acceleration(step.acceleration_mps2, step.acceleration_variance)
        start.update_altitude(step.altitude_m, step.variance_m2)
        filtered[k] = _pack(start)
    return _backward(np.array([step.t_s for step in steps]), dts, predicted, filtered)


def _pack(state: VerticalFilter) -> tuple[float, ...]:
    return (
        state.h,
        state.v,
        state.a,
        state.phh,
        state.phv,
        state.pha,
        state.pvv,
        state.pva,
        state.paa,
    )


def _covariances(packed: Array) -> Array:
    hh, hv, ha, vv, va, aa = packed[:, 3:].T
    return np.stack([hh, hv, ha, hv, vv, va, ha, va, aa], axis=1).reshape(-1, 3, 3)


def _backward(t_s: Array, dts: Array, predicted: Array, filtered: Array) -> SmoothedCurve:
    n = len(t_s)
    p_predicted, p_filtered = _covariances(predicted), _covariances(filtered)
    transition = np.tile(np.eye(3), (n, 1, 1))
    transition[:, 0, 1] = transition[:, 1, 2] = dts
    transition[:, 0, 2] = 0.5 * dts * dts
    # Gain of step k uses the transition to step k + 1: C = P F^T Pp^-1, solved as Pp C^T = F P.
    gains = np.transpose(np.linalg.solve(p_predicted[1:], transition[1:] @ p_filtered[:-1]), (0, 2, 1))
    states = filtered[:, :3].copy()
    covariances = p_filtered.copy()
    for k in range(n - 2, -1, -1):
        gain = gains[k]
        states[k] += gain @ (states[k + 1] - predicted[k + 1, :3])
        covariances[k] += gain @ (covariances[k + 1] - p_predicted[k + 1]) @ gain.T
    return SmoothedCurve(t_s, states, covariances)
