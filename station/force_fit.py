"""The climb by accelerometer, held to the pressure: what scale and lean the sensor shows, then one curve.

The axial sensor reads specific force along the airframe. With a scale error s and the airframe leaning by an angle L
the vertical acceleration is a = c1 f + c2, f being the force gained over the reading at rest, c1 = cos L / (1 + s)
and c2 = -g (1 - cos L). Between two samples a straight line is taken for it. What that misses, a thrust that came or
went somewhere between them, a lean that changed, noise, is a kick: a change of speed within a stretch of time, with a
standard deviation that the samples about it tell.

Twice integrated all of it is linear in the heights that the pressure shows: scale, lean, every kick, and the lag of the
static ports, by which a fast climb reads low. So they come from one least-squares fit with what is thought of each
beforehand (a maximum a posteriori estimate), and speed at burnout is as well known as the whole coast makes it.
"""

from dataclasses import dataclass

import numpy as np

from station.atmosphere import G0_MPS2
from station.columns import Array

SCALE_SIGMA = 0.06
LEAN_MPS2 = -0.05
LEAN_SIGMA_MPS2 = 0.3
# How late the pressure in the bay is, s: what is thought of it beforehand (common practice, no source).
PORT_LAG_S = 0.015
PORT_LAG_SIGMA_S = 0.015
MOST_LAG_S = 0.06
# Such a lag, or a scale so far from one, is no sensor's or port's error that the fit reckons with.
ODD_LAG_S = 0.05
ODD_SCALE = 0.1
FORCE_SIGMA_MPS2 = 0.5
FORCE_SIGMA_FRACTION = 0.004
# Noise and rounding of one reading, m/s^2 (data sheets: steps of 49 to 195 mg, noise of about as much).
READING_SIGMA_MPS2 = 0.6
# The share of the force by which a lean that changes moves its vertical part: the cosine of some 8 degrees.
LEAN_CHANGE_SHARE = 0.01
# A force that wanders like a random walk between two readings, m^2/s^5: a burning motor's, a coasting rocket's.
THRUST_DENSITY = 2500.0
COAST_DENSITY = 20.0
THRUST_MPS2 = 5.0
# Kicks as large as this (m/s) stand for themselves, smaller ones are gathered over so long.
OWN_KICK_MPS = 0.25
GATHERED_S = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class ForceClimb:
    """The climb at the times of the force's readings (n,): heights m, speeds m/s, accelerations m/s^2.

    `scale` and `lean_mps2` are c1 and c2, `lag_s` that of the ports.
    """

    t_s: Array
    altitude_m: Array
    velocity_mps: Array
    acceleration_mps2: Array
    scale: float
    lean_mps2: float
    lag_s: float
    # How the speeds move with what was fitted (n, p), and the covariance of that (p, p).
    _basis: Array
    _covariance: Array

    @property
    def is_at_odds(self) -> bool:
        """Force and pressure do not tell of the same climb: ports that are much too small, a sensor that leans."""
        return self.lag_s > ODD_LAG_S or abs(self.scale - 1.0) > ODD_SCALE

    def gain_sigma_mps(self, i: int) -> float:
        """Standard deviation (m/s) of the speed gained from reading i to the next."""
        move = self._basis[i + 1] - self._basis[i]
        return float(np.sqrt(move @ self._covariance @ move))


def fit_force_climb(t_s: Array, gained_mps2: Array, altitude_m: Array, sigma_m: Array) -> ForceClimb:
    """Fit a climb that starts at rest; `sigma_m` (m) is inf where the pressure is not trusted."""
    tau = t_s - t_s[0]
    velocity, height = _integrals(tau, gained_mps2)
    starts, ends, kick_sigma = _kicks(tau, gained_mps2)
    kicked, moved = _kick_columns(tau, starts, ends)
    zero = np.zeros_like(tau)
    speeds = np.column_stack([velocity, tau, zero, kicked])
    heights = np.column_stack([height, 0.5 * tau * tau, -velocity, moved])
    believed = np.concatenate([[1.0, LEAN_MPS2, PORT_LAG_S], np.zeros(len(starts))])
    prior = np.concatenate([[SCALE_SIGMA, LEAN_SIGMA_MPS2, PORT_LAG_SIGMA_S], kick_sigma]) ** -2.0
    weight = np.where(np.isfinite(sigma_m), 1.0 / np.maximum(sigma_m, 1e-3) ** 2, 0.0)
    normal = heights.T @ (weight[:, None] * heights) + np.diag(prior)
    found = np.linalg.solve(normal, heights.T @ (weight * altitude_m) + prior * believed)
    scale, lean = float(found[0]), float(found[1])
    # The ports' part of the heights is what they read low by, not where the rocket was.
    heights[:, 2] = 0.0
    return ForceClimb(
        t_s,
        heights @ found,
        speeds @ found,
        scale * gained_mps2 + lean,
        scale,
        lean,
        min(MOST_LAG_S, max(0.0, float(found[2]))),
        speeds,
        np.asarray(np.linalg.inv(normal), dtype=np.float64),
    )


def _integrals(t_s: Array, values: Array) -> tuple[Array, Array]:
    """Running integral and its own integral of values joined by straight lines, zero at the first time."""
    dt = np.diff(t_s)
    once = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * dt)])
    steps = once[:-1] * dt + (2.0 * values[:-1] + values[1:]) * dt * dt / 6.0
    return once, np.concatenate([[0.0], np.cumsum(steps)])


def _kicks(t_s: Array, gained_mps2: Array) -> tuple[Array, Array, Array]:
    """Of each stretch with a kick of its own: start (s), end (s), standard deviation (m/s)."""
    dt = np.diff(t_s)
    change = np.diff(gained_mps2)
    pushed = np.maximum(gained_mps2[1:], gained_mps2[:-1]) > THRUST_MPS2
    # A step at an unknown moment between two readings, a random walk that is known at both ends, and noise.
    walk = np.where(pushed, THRUST_DENSITY, COAST_DENSITY) * dt**3
    variance = ((change * dt) ** 2 + walk) / 12.0 + (READING_SIGMA_MPS2 * dt) ** 2
    leaning = LEAN_CHANGE_SHARE * np.abs(0.5 * (gained_mps2[1:] + gained_mps2[:-1]) + G0_MPS2) * dt
    own = variance > OWN_KICK_MPS**2
    starts, ends, variances = [], [], []
    first = 0
    for i in range(len(dt)):
        last = i + 1 == len(dt)
        if own[i] or last or own[i + 1] or t_s[i + 1] - t_s[first] >= GATHERED_S:
            starts.append(t_s[first])
            ends.append(t_s[i + 1])
            variances.append(variance[first : i + 1].sum() + leaning[first : i + 1].sum() ** 2)
            first = i + 1
    return np.array(starts), np.array(ends), np.sqrt(np.array(variances))


def _kick_columns(t_s: Array, starts: Array, ends: Array) -> tuple[Array, Array]:
    """Speeds and heights (n, m) that kicks of 1 m/s make, each spread evenly over its stretch."""
    span = ends - starts
    inside = np.clip(t_s[:, None] - starts, 0.0, span)
    return inside / span, 0.5 * inside * inside / span + np.maximum(0.0, t_s[:, None] - ends)
