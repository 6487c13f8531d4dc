"""The coast as physics: gravity, and drag that grows with the square of the speed and with the air's density.

A coasting rocket is predictable: three numbers, height and speed at one moment and the drag k (1/m), give the whole
curve,

    dv/dt = -g - k rise(M) rho(h)/rho_pad |v| v

(Newton's law; drag by any handbook; `rise` is what the nearness of the speed of sound adds, `station/coast_drag.py`;
the steps are `station/coast_path.py`). Fitted to the pressure heights by Gauss-Newton, with outliers weighed down by
`station/biweight.py`, it gives the speed at burnout better than any filter that knows no physics.
"""

from dataclasses import dataclass

import numpy as np

from station.atmosphere import G0_MPS2
from station.biweight import root_weight, spread_of
from station.coast_path import coast_path
from station.columns import Array
from station.median import median_of

LEAST_SAMPLES = 6
LEAST_SPAN_S = 0.5
LONGEST_STEP_S = 0.2
ITERATIONS = 8
# Steps of height (m), speed (m/s) and drag (1/m) that derivatives are taken over.
SMALL = np.array([0.5, 0.5, 2e-5])
# Drag per mass and speed squared (1/m) of a coasting rocket: thought likely, with its sigma, and the most of it.
COASTING = (0.0015, 0.004, 0.05)
MOST_FALL_DRAG = 3.0
BELIEVED_SHARE = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class CoastFit:
    """State at `t_s` (s), drag per mass and speed squared `drag_per_m` (1/m, pad density), their covariance (3, 3)."""

    t_s: float
    altitude_m: float
    velocity_mps: float
    drag_per_m: float
    covariance: Array
    residual_m: float

    def at(self, t_s: Array) -> tuple[Array, Array]:
        """Heights (m) and velocities (m/s) at times (s), before or after the reference time."""
        parameters = np.array([[self.altitude_m, self.velocity_mps, self.drag_per_m]])
        h, v = _curve(parameters, self.t_s, t_s)
        return h[0], v[0]

    def moves(self, t_s: Array) -> tuple[Array, Array]:
        """How heights (n, 3) and velocities (n, 3) at times (s) move with the three numbers of the fit."""
        parameters = np.array([self.altitude_m, self.velocity_mps, self.drag_per_m])
        h, v = _curve(np.vstack([parameters, parameters + np.diag(SMALL)]), self.t_s, t_s)
        return ((h[1:] - h[0]) / SMALL[:, None]).T, ((v[1:] - v[0]) / SMALL[:, None]).T


def fit_coast(t_s: Array, altitude_m: Array, sigma_m: Array, start_s: float, velocity_mps: float) -> CoastFit | None:
    """Fit the samples (times s ascending, heights m, standard deviations m); state wanted at `start_s`.

    None when there are too few samples or the fit does not settle.
    """
    if len(t_s) < LEAST_SAMPLES:
        return None
    # A weak prior keeps the drag positive and plausible where the coast is too short to show it.
    guess = 0.5 * G0_MPS2 / max(velocity_mps, 30.0) ** 2
    return _fit(t_s, altitude_m, sigma_m, start_s, np.array([float(altitude_m[0]), velocity_mps, guess]), COASTING)


def fit_fall(
    t_s: Array, altitude_m: Array, sigma_m: Array, start_s: float, velocity_mps: float, carried_mps: float
) -> CoastFit | None:
    """The same of a fall with one drag area (velocity + up) that is thought to carry the weight at `carried_mps`."""
    if len(t_s) < LEAST_SAMPLES:
        return None
    guess = G0_MPS2 / carried_mps**2
    believed = (guess, BELIEVED_SHARE * guess, MOST_FALL_DRAG)
    return _fit(t_s, altitude_m, sigma_m, start_s, np.array([float(altitude_m[0]), velocity_mps, guess]), believed)


def _fit(
    t_s: Array, altitude_m: Array, sigma_m: Array, start_s: float, parameters: Array, drag: tuple[float, float, float]
) -> CoastFit | None:
    """`drag`: what is thought of the drag per mass and speed squared beforehand, with its sigma, and the most of it."""
    if t_s[-1] - t_s[0] < LEAST_SPAN_S:
        return None
    believed, believed_sigma, most = drag
    prior = np.diag([0.0, 0.0, 1.0 / believed_sigma**2])
    residual = np.zeros_like(t_s)
    normal = np.eye(3)
    for iteration in range(ITERATIONS):
        trial = np.vstack([parameters, parameters + np.diag(SMALL)])
        h, _ = _curve(trial, start_s, t_s)
        residual = altitude_m - h[0]
        jacobian = ((h[1:] - h[0]) / SMALL[:, None]).T
        scaled = residual / sigma_m
        spread = spread_of(scaled, least=1.0) if iteration else 1e3
        weight = (root_weight(scaled, spread) / sigma_m) ** 2
        normal = jacobian.T @ (weight[:, None] * jacobian) + prior
        pull = jacobian.T @ (weight * residual) - prior @ np.array([0.0, 0.0, parameters[2] - believed])
        try:
            change = np.linalg.solve(normal, pull)
        except np.linalg.LinAlgError:
            return None
        parameters = parameters + change
        parameters[2] = min(most, max(0.0, parameters[2]))
        if not np.all(np.isfinite(parameters)) or abs(parameters[1]) > 2000.0:
            return None
        if abs(change[0]) < 1e-3 and abs(change[1]) < 1e-3 and iteration > 2:
            break
    spread = spread_of(residual / sigma_m, least=1.0)
    return CoastFit(
        start_s,
        float(parameters[0]),
        float(parameters[1]),
        float(parameters[2]),
        np.asarray(np.linalg.inv(normal) * spread * spread, dtype=np.float64),
        spread * median_of(sigma_m),
    )


def _curve(parameters: Array, start_s: float, t_s: Array) -> tuple[Array, Array]:
    """Heights and velocities (m, n) of m parameter rows (h, v, k) at n ascending times."""
    m = len(parameters)
    grid = _grid(start_s, t_s)
    origin = int(np.searchsorted(grid, start_s))
    hs, vs = np.empty((len(grid), m)), np.empty((len(grid), m))
    on, back = grid[origin:].tolist(), grid[origin::-1].tolist()
    for j, (altitude_m, velocity_mps, drag_per_m) in enumerate(parameters.tolist()):
        hs[origin:, j], vs[origin:, j] = coast_path(altitude_m, velocity_mps, drag_per_m, on)
        hs[origin::-1, j], vs[origin::-1, j] = coast_path(altitude_m, velocity_mps, drag_per_m, back)
    h = np.stack([hermite(t_s, grid, hs[:, j], vs[:, j]) for j in range(m)])
    v = np.stack([np.interp(t_s, grid, vs[:, j]) for j in range(m)])
    return h, v


def _grid(start_s: float, t_s: Array) -> Array:
    low, high = min(start_s, float(t_s[0])), max(start_s, float(t_s[-1]))
    before = max(1, int(np.ceil((start_s - low) / LONGEST_STEP_S)))
    after = max(1, int(np.ceil((high - start_s) / LONGEST_STEP_S)))
    return np.concatenate(
        [
            np.linspace(low, start_s, before, endpoint=False) if low < start_s else np.empty(0),
            np.linspace(start_s, high, after + 1) if high > start_s else np.array([start_s]),
        ]
    )


def hermite(t_s: Array, grid: Array, h: Array, v: Array) -> Array:
    """Cubic Hermite interpolation of heights with their slopes."""
    if len(grid) < 2:
        return np.full_like(t_s, h[0])
    i = np.clip(np.searchsorted(grid, t_s) - 1, 0, len(grid) - 2)
    span = grid[i + 1] - grid[i]
    s = (t_s - grid[i]) / span
    result: Array = (
        (1 + 2 * s) * (1 - s) ** 2 * h[i]
        + s * (1 - s) ** 2 * span * v[i]
        + s * s * (3 - 2 * s) * h[i + 1]
        + s * s * (s - 1) * span * v[i + 1]
    )
    return result
