"""A parachute that came out on the way up or near the top: when, and how fast the rocket was then.

A motor's ejection charge fires when its delay has burnt, wherever the rocket is then. On the way up a parachute stops
it within a second or two, well before the top it was on its way to; near the top the air is too slow to show the drag
at once, but the course bends. So one course from burnout to some seconds past the highest point seen is fitted,

    dv/dt = -g - k rho/rho_pad |v| v,   k: the rocket's until the opening, then g/w^2

with w the descent rate under the parachute at the pad's density, at once or within the time in which a large canopy
fills. For each moment of opening on a grid, height, speed and k at burnout are fitted (Gauss-Newton, all moments side
by side); the moment is then weighed as in `station/descent_fit.py`.
"""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from station.atmosphere import DENSITY_SCALE_M, G0_MPS2
from station.coasting import AFTER_BURNOUT_S, LEAST_S, LEAST_SAMPLES, SPEED_MODEL_SIGMA_MPS
from station.columns import Array
from station.flown_curve import FlownCurve
from station.vertical_motion import TRUSTED_MACH

STEP_S = 0.04
# The stretch that is looked at: a parachute that opens in the climb brings the top within a second or two.
BEFORE_TOP_S = 10.0
AFTER_TOP_S = 4.0
# Where the opening is known so well, what came before it is the rocket in one piece.
BEFORE_OPENING_S = 0.3
CANDIDATES = 41
FINE_CANDIDATES = 13
CAP_SIGMAS = 4.0
# What counts as far off, pass by pass: at first nothing, for the start may be far off itself.
CAPS_SIGMAS = (1e6, 30.0, 8.0, CAP_SIGMAS, CAP_SIGMAS)
LEAST_SIGMA_M = 0.1
SMALL = (0.5, 0.5, 5e-5)
DRAG_PRIOR = (0.001, 0.0015)
# How much better (chi-square) the opening must fit than one in the last moments looked at, which is as good as none.
BETTER_BY = 25.0
LAST_MOMENTS_S = 0.5
# Under that speed a parachute does no harm (common practice, no source).
CLIMBING_MPS = 7.0
# A canopy fills at once, or slowly, as a large one does at little speed: seconds.
FILLS_S = (0.0, 0.7, 1.5)
# Chi-square a sample beyond which the model is not what happened.
FITS_AT_ALL = 6.0
VAGUEST_S = 1.0
# Share of the best chi-square by which another moment may be worse and still as good.
AS_GOOD = 0.01
# Stretched lines and a filling canopy, which the sudden change of the model is not.
MODEL_SIGMA_S = 0.2
APOGEE_SIGMA_S = 0.1
MOST_DRAG_PER_M = 0.05
FASTEST_MPS = 3000.0
LARGEST_CHANGE = np.array([100.0, 100.0, 0.003])


@dataclass(frozen=True, slots=True)
class TopOpening:
    """When (s from liftoff) and where (m) a parachute took hold, and how fast (m/s, + up) the rocket was just then.

    `apogee_s` and `apogee_m` are the highest point of that course, with `apogee_sigma_s`.
    """

    t_s: float
    sigma_s: float
    altitude_m: float
    velocity_mps: float
    velocity_sigma_mps: float
    apogee_s: float
    apogee_sigma_s: float
    apogee_m: float

    @property
    def in_the_climb(self) -> bool:
        """Out while the rocket plainly still climbed, and not only just before the top."""
        return self.velocity_mps > CLIMBING_MPS and self.velocity_mps > 2.0 * self.velocity_sigma_mps


def find_top_opening(curve: FlownCurve, burnout_s: float, apogee_s: float, rate_mps: float) -> TopOpening | None:
    """The opening that the course shows; None if nothing came out by then, or too little was heard.

    `apogee_s`: where the highest point was seen. `rate_mps`: the descent under the parachute, + down at pad density.
    """
    start_s, end_s = max(burnout_s + AFTER_BURNOUT_S, apogee_s - BEFORE_TOP_S), apogee_s + AFTER_TOP_S
    part = curve.rows((curve.t_s >= start_s) & (curve.t_s <= end_s) & (curve.mach <= TRUSTED_MACH))
    if len(part.t_s) < LEAST_SAMPLES or apogee_s - start_s < LEAST_S:
        return None
    searches = [_Search(part, G0_MPS2 / rate_mps**2, fill_s) for fill_s in FILLS_S]
    opens_s = np.linspace(start_s, end_s, CANDIDATES)
    coarse = [search.fitted(opens_s, None) for search in searches]
    best = min(range(len(coarse)), key=lambda index: float(coarse[index].cost.min()))
    lowest, at = float(coarse[best].cost.min()), int(coarse[best].cost.argmin())
    late = opens_s > opens_s[-1] - LAST_MOMENTS_S
    by_then = min(float(fits.cost[late].min()) for fits in coarse)
    if by_then - lowest < BETTER_BY or lowest > FITS_AT_ALL * len(part.t_s):
        return None
    # The model is no truth: what fits about as well as the best may be it.
    likely = _opening(_together(coarse), max(1.0, AS_GOOD * lowest))
    step = float(opens_s[1] - opens_s[0])
    if likely.sigma_s > hypot(step, MODEL_SIGMA_S):
        return likely if likely.sigma_s < VAGUEST_S else None
    near = opens_s[at] + np.linspace(-1.5, 1.5, FINE_CANDIDATES) * step
    return _opening(searches[best].fitted(near, coarse[best].parameters[at]), 1.0)


def _together(fits: "list[_Fits]") -> "_Fits":
    return _Fits(*(np.concatenate([getattr(each, name) for each in fits]) for name in _Fits.__dataclass_fields__))


def _opening(fits: "_Fits", temper: float) -> TopOpening:
    """The means over the moments of opening, each by its probability; `temper` tells how much chi-square means."""
    weight = np.exp(-0.5 * (fits.cost - fits.cost.min()) / temper)
    weight /= weight.sum()

    def mean(values: Array) -> float:
        return float(weight @ values)

    def spread(values: Array) -> float:
        return sqrt(float(weight @ (values - mean(values)) ** 2))

    velocity = mean(fits.velocity_mps)
    sigma_s = hypot(spread(fits.t_s), MODEL_SIGMA_S)
    slowing_mps2 = G0_MPS2 + mean(fits.parameters[:, 2]) * velocity**2
    return TopOpening(
        t_s=mean(fits.t_s),
        sigma_s=sigma_s,
        altitude_m=mean(fits.altitude_m),
        velocity_mps=velocity,
        velocity_sigma_mps=hypot(spread(fits.velocity_mps), slowing_mps2 * MODEL_SIGMA_S, SPEED_MODEL_SIGMA_MPS),
        apogee_s=mean(fits.apogee_s),
        apogee_sigma_s=hypot(spread(fits.apogee_s), APOGEE_SIGMA_S),
        apogee_m=mean(fits.apogee_m),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Fits:
    """Per moment of opening, all (m,): when it then held, chi-square, speed and height at the hold, the highest point.

    `parameters` (m, 3) are height, speed and drag at the start.
    """

    t_s: Array
    cost: Array
    velocity_mps: Array
    altitude_m: Array
    apogee_s: Array
    apogee_m: Array
    parameters: Array


class _Search:
    """Fits all moments of opening at once to the same samples; the canopy fills within `fill_s` of it."""

    def __init__(self, part: FlownCurve, open_drag_per_m: float, fill_s: float) -> None:
        self.part = part
        self.fill_s = fill_s
        self.sigma = np.maximum(part.sigma_m, LEAST_SIGMA_M)
        self.open_drag_per_m = open_drag_per_m
        count = int(np.ceil((part.t_s[-1] - part.t_s[0]) / STEP_S)) + 1
        self.grid = part.t_s[0] + STEP_S * np.arange(count + 1)
        self.spread: float | None = None

    def fitted(self, opens_s: Array, start: Array | None) -> _Fits:
        """The best course of each moment of opening; `start` are height, speed and drag to begin from."""
        n = len(opens_s)
        begin = np.array([self.part.altitude_m[0], self.part.velocity_mps[0], DRAG_PRIOR[0]])
        parameters = np.tile(begin if start is None else start, (n, 1))
        prior = np.diag([0.0, 0.0, 1.0 / DRAG_PRIOR[1] ** 2])
        for cap in CAPS_SIGMAS if start is None else CAPS_SIGMAS[-2:]:
            trials = np.concatenate([parameters[:, None, :], parameters[:, None, :] + np.diag(SMALL)], axis=1)
            heights = self._at_samples(self._courses(trials.reshape(-1, 3), np.repeat(opens_s, 4))[0])
            by_trial = heights.reshape(len(self.part.t_s), n, 4)
            residual = self.part.altitude_m[:, None] - by_trial[:, :, 0]
            slopes = (by_trial[:, :, 1:] - by_trial[:, :, :1]) / np.array(SMALL)
            scaled = residual / self.sigma[:, None]
            # Cauchy's weights: a firing charge spoils the pressure for a moment.
            weight = 1.0 / (self.sigma[:, None] ** 2 * (1.0 + (scaled / cap) ** 2))
            normal = np.einsum("sn,sni,snj->nij", weight, slopes, slopes) + prior
            off_prior = np.zeros((n, 3))
            off_prior[:, 2] = (parameters[:, 2] - DRAG_PRIOR[0]) / DRAG_PRIOR[1] ** 2
            pull = np.einsum("sn,sni,sn->ni", weight, slopes, residual) - off_prior
            change = np.linalg.solve(normal + 1e-9 * np.eye(3), pull[:, :, None])[:, :, 0]
            parameters = parameters + np.clip(change, -LARGEST_CHANGE, LARGEST_CHANGE)
            parameters[:, 2] = np.clip(parameters[:, 2], 0.0, MOST_DRAG_PER_M)
        return self._weighed(opens_s, parameters)

    def _weighed(self, opens_s: Array, parameters: Array) -> _Fits:
        h, v = self._courses(parameters, opens_s)
        scaled = np.abs(self.part.altitude_m[:, None] - self._at_samples(h)) / self.sigma[:, None]
        if self.spread is None:
            self.spread = max(1.0, 1.4826 * float(np.median(scaled, axis=0).min()))
        cost = (np.minimum(scaled / self.spread, CAP_SIGMAS) ** 2).sum(axis=0)
        cost += ((parameters[:, 2] - DRAG_PRIOR[0]) / DRAG_PRIOR[1]) ** 2
        holds_s = self._holds_s(opens_s, v)
        at = np.clip((holds_s - self.grid[0]) / STEP_S, 0.0, len(self.grid) - 1.001)
        row, column = at.astype(int), np.arange(len(opens_s))
        part = at - row
        # Up to the hold the course is the rocket's own: its slope just before goes on to it.
        velocity = v[row, column] - part * STEP_S * (G0_MPS2 + parameters[:, 2] * v[row, column] ** 2)
        altitude = h[row, column] + part * STEP_S * v[row, column]
        top = h.argmax(axis=0)
        return _Fits(
            holds_s,
            cost,
            velocity,
            altitude,
            self.grid[top] + np.clip(v[top, column] / G0_MPS2, -STEP_S, STEP_S),
            h[top, column],
            parameters,
        )

    def _holds_s(self, opens_s: Array, v: Array) -> Array:
        """When the canopy's drag first comes to half the weight: near the top that is well after it came out."""
        share = np.clip((self.grid[:, None] - opens_s) / max(self.fill_s, 1e-9), 0.0, 1.0)
        holding = share * self.open_drag_per_m * v**2 >= 0.5 * G0_MPS2
        first = np.where(holding.any(axis=0), holding.argmax(axis=0), len(self.grid) - 1)
        at_once = (self.grid[first] - STEP_S <= opens_s) & holding.any(axis=0)
        return np.where(at_once, opens_s, self.grid[first])

    def _at_samples(self, h: Array) -> Array:
        at = (self.part.t_s - self.grid[0]) / STEP_S
        row = np.minimum(at.astype(int), len(self.grid) - 2)
        part = (at - row)[:, None]
        return np.asarray((1.0 - part) * h[row] + part * h[row + 1])

    def _courses(self, parameters: Array, opens_s: Array) -> tuple[Array, Array]:
        """Heights and velocities (grid, m). Gravity and drag by turns, each exactly: stable however large a canopy."""
        h, v = parameters[:, 0].copy(), parameters[:, 1].copy()
        hs, vs = np.empty((len(self.grid), len(h))), np.empty((len(self.grid), len(h)))
        for row, t in enumerate(self.grid):
            hs[row], vs[row] = h, v
            share = np.clip((t + STEP_S - opens_s) / max(STEP_S, self.fill_s), 0.0, 1.0)
            k = (1.0 - share) * parameters[:, 2] + share * self.open_drag_per_m
            k = np.maximum(k * np.exp(np.clip(-h / DENSITY_SCALE_M, -3.0, 1.0)), 1e-9)
            middle = np.clip(v - 0.5 * STEP_S * G0_MPS2, -FASTEST_MPS, FASTEST_MPS)
            slowed = 1.0 + k * np.abs(middle) * STEP_S
            h = h + np.sign(middle) * np.log(slowed) / k
            v = middle / slowed - 0.5 * STEP_S * G0_MPS2
        return hs, vs
