"""The climb by accelerometer, held to the pressure: what scale and lean the sensor shows, then one smooth curve.

The axial sensor reads specific force along the airframe. With a scale error s and the airframe leaning by an angle L
the vertical acceleration is a = c1 f + c2, f being the force gained over the reading at rest, c1 = cos L / (1 + s)
and c2 = -g (1 - cos L). Twice integrated, both are linear in the heights that the pressure shows, and so is the lag of
the static ports, by which a fast climb reads low; so they come from a least-squares fit. Then a Rauch-Tung-Striebel
smoother joins both sensors.
"""

import numpy as np

from station.atmosphere import G0_MPS2
from station.estimator import VerticalFilter
from station.smoothing import Array, SmoothedCurve, SmoothingStep, smooth

SCALE_PRIOR_SIGMA = 0.06
LEAN_PRIOR_SIGMA_MPS2 = 0.3
# How late the pressure in the bay is, s: what is thought of it beforehand (common practice, no source).
PORT_LAG_S = 0.015
PORT_LAG_SIGMA_S = 0.015
MOST_LAG_S = 0.06
FORCE_SIGMA_MPS2 = 0.5
FORCE_SIGMA_FRACTION = 0.004
JERK_DENSITY = 400.0


def calibrate_force(t_s: Array, gained_mps2: Array, altitude_m: Array, sigma_m: Array) -> tuple[float, float, float]:
    """(c1, c2, lag s) from samples that start at rest; `sigma_m` is inf where the pressure is not trusted."""
    velocity = _integral(t_s, gained_mps2)
    height = _integral(t_s, velocity)
    tau = t_s - t_s[0]
    basis = np.stack([height, 0.5 * tau * tau, -velocity], axis=1)
    weight = np.where(np.isfinite(sigma_m), 1.0 / np.maximum(sigma_m, 1e-3) ** 2, 0.0)
    # Integration through gaps and quantisation errs too, more the longer it runs: about 0.3 % of the height.
    weight = 1.0 / (1.0 / np.maximum(weight, 1e-12) + (0.003 * height) ** 2)
    weight = np.where(np.isfinite(sigma_m), weight, 0.0)
    prior = np.diag([1.0 / SCALE_PRIOR_SIGMA**2, 1.0 / LEAN_PRIOR_SIGMA_MPS2**2, 1.0 / PORT_LAG_SIGMA_S**2])
    normal = basis.T @ (weight[:, None] * basis) + prior
    pull = basis.T @ (weight * altitude_m) + prior @ np.array([1.0, -0.05, PORT_LAG_S])
    c1, c2, lag_s = np.linalg.solve(normal, pull)
    return float(c1), float(c2), min(MOST_LAG_S, max(0.0, float(lag_s)))


def smooth_climb(t_s: Array, gained_mps2: Array, altitude_m: Array, sigma_m: Array) -> tuple[SmoothedCurve, float]:
    """One curve through both sensors, and the ports' lag (s).

    nan in `gained_mps2` is "not measured", inf in `sigma_m` not trusted.
    """
    known = np.isfinite(gained_mps2)
    filled = np.interp(t_s, t_s[known], gained_mps2[known])
    c1, c2, lag_s = calibrate_force(t_s, filled, altitude_m, sigma_m)
    altitude_m = altitude_m + lag_s * c1 * _integral(t_s, filled)
    steps = []
    for k in range(len(t_s)):
        measured = bool(known[k])
        force = c1 * gained_mps2[k] + c2 if measured else 0.0
        sigma = FORCE_SIGMA_MPS2 + FORCE_SIGMA_FRACTION * abs(force + G0_MPS2)
        variance = float(sigma_m[k]) ** 2 if np.isfinite(sigma_m[k]) else 1e10
        steps.append(
            SmoothingStep(
                float(t_s[k]),
                float(altitude_m[k]),
                variance,
                float(force) if measured else None,
                sigma * sigma,
                JERK_DENSITY if force < 0.0 else 100.0 * JERK_DENSITY,
            )
        )
    start = VerticalFilter(altitude_sigma_m=0.3, velocity_sigma_mps=0.1, acceleration_sigma_mps2=1.0)
    return smooth(start, steps), lag_s


def _integral(t_s: Array, values: Array) -> Array:
    """Running trapezoid integral, zero at the first time."""
    steps = 0.5 * (values[1:] + values[:-1]) * np.diff(t_s)
    return np.concatenate([[0.0], np.cumsum(steps)])
