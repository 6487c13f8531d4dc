"""When a parachute took hold, from the whole curve around it.

A canopy that has come out fills over a stretch of air as long as some of its diameters (Knacke, Parachute Recovery
Systems Design Manual, 1991, the filling distance; from memory), its drag area growing with the square of the way it
has gone. So with V the speed through the air, w its vertical part, u its horizontal part and f the share of the way,

    df/dt = V / L,   drag per mass k = g / c0^2 + (g / c1^2 - g / c0^2) f^2
    dw/dt = -g - k V w,   du/dt = -k V u

c0 and c1 being the rates at which the old and the new drag area carry the weight. Unknown are the moment at which it
begins to fill, the filling length L and, near apogee, how fast the rocket flies sideways: each is weighed over a grid
by how well the curve fits (Bayes on a grid). What took hold is a full canopy: f = 1.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.atmosphere import G0_MPS2
from station.biweight import TUKEY, root_weight, spread_of
from station.columns import Array

STEP_S = 0.025
STARTS = 30
AROUND_SIGMAS = 3.0
# A grid as close as this sums up as a finer one does: a bell is summed to within e^(-2 (pi / 0.65)^2) of its area.
FINE_ENOUGH_SIGMAS = 0.65
# m, with what is thought of them beforehand: canopies of 0.3 to 3 m that fill within 5 to 10 diameters.
FILLING_M = (0.2, 1.0, 2.0, 4.0, 7.0, 12.0, 20.0)
FILLING_WEIGHT = (0.2, 0.6, 1.0, 1.2, 1.2, 0.8, 0.4)
SIDEWAYS_MPS = (3.0, 8.0, 16.0, 28.0)
SIDEWAYS_WEIGHT = (0.8, 1.2, 1.0, 0.5)
FREE_FALL_CARRY_MPS = 120.0
# From firing to stretched lines, s: mean and standard deviation (common practice, no source).
STRETCH_S = 0.42
STRETCH_SIGMA_S = 0.2
# How early it may seem to begin, s; and the most that speaks against it, should the report be of something else.
FIRED_SIGMA_S = 0.1
MOST_DISBELIEF = 40.0
# What the curve may be off by besides: the speed at its start, the rate at its end (gusts, swinging), m/s.
START_SIGMA_MPS = 0.7
END_SIGMA_MPS = 0.4
# A firing charge fills the bay with gas that leaks away: a part that fades within each of these times (s).
SPIKE_FADES_S = (0.06, 0.1, 0.16, 0.25, 0.4)
SPIKE_SIGMA_M = 40.0
ROUNDS = 3


@dataclass(frozen=True, slots=True)
class HoldFit:
    """When the canopy was full and when it began to fill (s), each with its standard deviation (s)."""

    t_s: float
    sigma_s: float
    filling_from_s: float
    filling_from_sigma_s: float


def fit_hold(
    t_s: Array,
    altitude_m: Array,
    sigma_m: Array,
    start_velocity_mps: float,
    carry_before_mps: float | None,
    carry_after_mps: float,
    span_s: tuple[float, float],
    fired_s: float | None = None,
    spikes_s: Sequence[float] = (),
) -> HoldFit | None:
    """Fit samples (times s ascending, heights m, standard deviations m) that start at a known velocity (+ up).

    `carry_before_mps` is None in the free fall after apogee. It began to fill within `span_s`; `fired_s` is when its
    charge was reported fired, `spikes_s` when any charge was. None when there are too few samples.
    """
    if len(t_s) < 6:
        return None
    nuisance = _nuisance(t_s, spikes_s)
    samples, carries = (t_s, altitude_m, sigma_m), (carry_before_mps, carry_after_mps)
    starts = np.linspace(span_s[0], span_s[1], STARTS)
    fit = _weigh(samples, nuisance, start_velocity_mps, carries, starts, fired_s)
    between_s = float(starts[1] - starts[0])
    half = AROUND_SIGMAS * fit.filling_from_sigma_s + between_s
    if between_s > FINE_ENOUGH_SIGMAS * fit.filling_from_sigma_s and 2.0 * half < 0.6 * (span_s[1] - span_s[0]):
        low, high = max(span_s[0], fit.filling_from_s - half), min(span_s[1], fit.filling_from_s + half)
        starts = np.linspace(low, high, STARTS)
        fit = _weigh(samples, nuisance, start_velocity_mps, carries, starts, fired_s)
    return fit


def _weigh(
    samples: tuple[Array, Array, Array],
    nuisance: tuple[Array, Array],
    start_velocity_mps: float,
    carries: tuple[float | None, float],
    starts: Array,
    fired_s: float | None,
) -> HoldFit:
    """The fit with these moments of the beginning."""
    t_s, altitude_m, sigma_m = samples
    carry_before_mps, carry_after_mps = carries
    free = carry_before_mps is None
    sideways = SIDEWAYS_MPS if free else (0.0,)
    start, filling, across = (
        grid.ravel() for grid in np.meshgrid(starts, np.array(FILLING_M), np.array(sideways), indexing="ij")
    )
    weight = np.multiply.outer(np.array(FILLING_WEIGHT), np.array(SIDEWAYS_WEIGHT) if free else np.ones(1))
    belief = np.tile(np.log(weight.ravel()), STARTS)
    if fired_s is not None:
        # Long tails (Student's t with three degrees of freedom): a cord may foul, and a report may be another's.
        late = (start - fired_s - STRETCH_S) / STRETCH_SIGMA_S
        belief = belief - 2.0 * np.log1p(late * late / 3.0)
        # Before it fired nothing came out; a shared clock of the two is as good as this.
        early = np.maximum(0.0, fired_s - start) / FIRED_SIGMA_S
        belief = belief - np.minimum(MOST_DISBELIEF, 0.5 * early * early)
    before = FREE_FALL_CARRY_MPS if carry_before_mps is None else carry_before_mps
    heights, full = _falls(t_s, start_velocity_mps, across, before, carry_after_mps, start, filling)
    odds = _log_likelihood(altitude_m, sigma_m, heights, *nuisance) + belief
    probability = np.exp(odds - odds.max())
    probability /= probability.sum()
    mean, begun = float(probability @ full), float(probability @ start)
    rounding = float(starts[1] - starts[0]) ** 2 / 12.0
    sigma = float(np.sqrt(probability @ (full - mean) ** 2 + rounding))
    return HoldFit(mean, sigma, begun, float(np.sqrt(probability @ (start - begun) ** 2 + rounding)))


def _falls(
    t_s: Array, velocity: float, across: Array, before: float, after: float, start: Array, filling: Array
) -> tuple[Array, Array]:
    """Heights (n, m) at the times, from 0, and the moments (m,) of the full canopy, of m candidates."""
    m = len(start)
    grid = np.arange(t_s[0], t_s[-1] + STEP_S, STEP_S)
    w, u, f = np.full(m, velocity), across.copy(), np.zeros(m)
    height = np.zeros(m)
    heights = np.empty((len(grid), m))
    full = np.full(m, grid[-1])
    waiting = np.ones(m, dtype=bool)
    k0, k1 = G0_MPS2 / before**2, G0_MPS2 / after**2
    for i, t in enumerate(grid):
        heights[i] = height
        # A step in which the filling begins has it for its part: no candidate is rounded to the grid.
        dt = np.clip(t + STEP_S - start, 0.0, STEP_S)
        speed = np.sqrt(w * w + u * u)
        # No more than would stop it within two steps, so that a large canopy at high speed stays stable.
        k = np.minimum((k0 + (k1 - k0) * f * f) * speed, 0.5 / STEP_S)
        half_w = w + 0.5 * STEP_S * (-G0_MPS2 - k * w)
        half_u = u - 0.5 * STEP_S * k * u
        half_speed = np.sqrt(half_w * half_w + half_u * half_u)
        half_f = np.minimum(1.0, f + 0.5 * dt * speed / filling)
        k = np.minimum((k0 + (k1 - k0) * half_f * half_f) * half_speed, 0.5 / STEP_S)
        next_w = w + STEP_S * (-G0_MPS2 - k * half_w)
        u = u - STEP_S * k * half_u
        height = height + 0.5 * STEP_S * (w + next_w)
        w = next_w
        gain = dt * half_speed / filling
        now = waiting & (f + gain >= 1.0)
        if now.any():
            share = (1.0 - f[now]) / np.maximum(gain[now], 1e-9)
            full[now] = t + STEP_S - dt[now] * (1.0 - share)
            waiting &= ~now
        f = np.minimum(1.0, f + gain)
    at = (t_s - grid[0]) / STEP_S
    i = np.minimum(at.astype(int), len(grid) - 2)
    part = (at - i)[:, None]
    return heights[i] * (1.0 - part) + heights[i + 1] * part, full


def _nuisance(t_s: Array, spikes_s: Sequence[float]) -> tuple[Array, Array]:
    """What else moves the heights, in a straight line: columns (n, p), and the inverse of their prior variances (p,).

    An offset, small errors of the first and of the last rate, and of each charge what is left of its spike.
    """
    tau = t_s - t_s[0]
    columns = [np.ones_like(tau), tau, np.maximum(0.0, tau - 0.5 * tau[-1])]
    precision = [0.0, START_SIGMA_MPS**-2, END_SIGMA_MPS**-2]
    for spike_s in spikes_s:
        since = t_s - spike_s
        for fade_s in SPIKE_FADES_S:
            columns.append(np.where(since >= 0.0, np.exp(-np.maximum(since, 0.0) / fade_s), 0.0))
            precision.append(SPIKE_SIGMA_M**-2)
    return np.stack(columns, axis=1), np.array(precision)


def _log_likelihood(altitude_m: Array, sigma_m: Array, heights: Array, basis: Array, precision: Array) -> Array:
    """Of each candidate (m,), the nuisance fitted to each by least squares with robust weights."""
    prior = np.diag(precision)
    residual = altitude_m[:, None] - heights
    robust = np.ones_like(altitude_m)
    spread = 1.0
    for n in range(ROUNDS):
        weight = robust / sigma_m**2
        normal = basis.T @ (weight[:, None] * basis) + prior
        pull = (basis.T * weight) @ residual
        off = np.asarray(np.linalg.solve(normal, pull), dtype=float)
        if n == 0:
            cost: Array = weight @ (residual * residual) - np.einsum("ij,ij->j", pull, off)
        else:
            cost = _biweight_cost(residual - basis @ off, 1.0 / (spread * sigma_m))
            cost += precision @ (off * off) / spread**2
        best = int(np.argmin(cost))
        scaled = (residual[:, best] - basis @ off[:, best]) / sigma_m
        spread = spread_of(scaled, least=1.0)
        robust = root_weight(scaled, spread) ** 2
    return -0.5 * cost


def _biweight_cost(residual: Array, inverse_sigma: Array) -> Array:
    """Tukey's loss summed over the samples (n, m): the square for small ones, for strays no more than a stray's.

    The weighted squares alone would prefer the candidate that takes the samples which speak against it for strays.
    """
    u = residual * (inverse_sigma / TUKEY)[:, None]
    u2 = np.minimum(1.0, u * u)
    near = 1.0 - u2
    cost: Array = TUKEY**2 / 3.0 * (len(residual) - np.einsum("ij,ij,ij->j", near, near, near))
    return cost
