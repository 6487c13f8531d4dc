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
# A grid as close as this finds the moment within 0.02 of its sigma, and that within 5 %, as a finer one does
# (measured on seeded virtual flights).
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
    """Heights (n, m) at the times, from 0, and the moments (m,) of the full canopy, of m candidates.

    A step is the unit of time, and the arrays are written over: of as few candidates as these, numpy takes longer to
    make room for a result than to work it out.
    """
    m = len(start)
    grid = np.arange(t_s[0], t_s[-1] + STEP_S, STEP_S)
    w, u, f, twice_height = np.full(m, velocity * STEP_S), across * STEP_S, np.zeros(m), np.zeros(m)
    twice_heights, filled = np.empty((len(grid), m)), np.empty((len(grid) + 1, m))
    # What a metre of its way fills in each step. One in which it begins has it for its part: no candidate is rounded.
    fills = np.clip((grid[:, None] + STEP_S - start) / STEP_S, 0.0, 1.0) / filling
    k0, k1, fall = G0_MPS2 / before**2, G0_MPS2 / after**2, G0_MPS2 * STEP_S**2
    moves_across = bool(across.any())
    speed, k, half_w, half_u, half_speed, square = (np.empty(m) for _ in range(6))
    for i, fill in enumerate(fills):
        twice_heights[i], filled[i] = twice_height, f
        _size(w, u if moves_across else None, square, out=speed)
        _half_drag(f, k0, k1, speed, out=k)
        np.multiply(k, w, out=half_w)
        np.subtract(w, half_w, out=half_w)
        half_w -= 0.5 * fall
        if moves_across:
            np.multiply(k, u, out=half_u)
            np.subtract(u, half_u, out=half_u)
        _size(half_w, half_u if moves_across else None, square, out=half_speed)
        speed *= fill
        speed *= 0.5
        speed += f
        _half_drag(speed, k0, k1, half_speed, out=k)
        k *= 2.0
        twice_height += w
        half_w *= k
        w -= half_w
        w -= fall
        twice_height += w
        if moves_across:
            half_u *= k
            u -= half_u
        half_speed *= fill
        f += half_speed
    filled[-1] = f
    at = (t_s - grid[0]) / STEP_S
    i = np.minimum(at.astype(int), len(grid) - 2)
    part = (at - i)[:, None]
    heights = twice_heights[i] * (0.5 - 0.5 * part) + twice_heights[i + 1] * (0.5 * part)
    return heights, _first_full_s(filled, grid, start)


def _size(w: Array, u: Array | None, square: Array, *, out: Array) -> None:
    """The size of a speed with this vertical part, and this one sideways if any; `square` is written over."""
    if u is None:
        np.abs(w, out=out)
        return
    np.multiply(w, w, out=out)
    np.multiply(u, u, out=square)
    out += square
    np.sqrt(out, out=out)


def _half_drag(f: Array, k0: float, k1: float, speed: Array, *, out: Array) -> None:
    """Half of the drag's share of the speed in a step, of a canopy filled to `f` of the way, which may be over 1."""
    np.minimum(f, 1.0, out=out)
    out *= out
    out *= 0.5 * (k1 - k0)
    out += 0.5 * k0
    out *= speed
    # No more than would stop it within two steps, so that a large canopy at high speed stays stable.
    np.minimum(out, 0.25, out=out)


def _first_full_s(filled: Array, grid: Array, start: Array) -> Array:
    """When each candidate (m,) was full: from how far it was filled at each step (1 + n, m), at the times (n,)."""
    is_full = filled[1:] >= 1.0
    step, each = np.argmax(is_full, axis=0), np.arange(len(start))
    had, has = filled[step, each], filled[step + 1, each]
    end_s = grid[step] + STEP_S
    lasts_s = np.clip(end_s - start, 0.0, STEP_S)
    share = (1.0 - had) / np.maximum(has - had, 1e-9)
    full_s: Array = np.where(is_full.any(axis=0), end_s - lasts_s * (1.0 - share), grid[-1])
    return full_s


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
