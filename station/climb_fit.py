"""The climb from rest that fits the newest heights best: when it began, how hard it is pushed, how sure that is. Pure.

    h(t) = c + a/2 (t - t0)^2 after t0, c before it

with the pad's height c known but for what the wind over the ports makes of it. For each t0 of a grid the least squares
have a closed form; t0 and the bounds on a come from how the misfit grows beside its least (a profile likelihood). The
samples from before the start count as much as those of the climb: they say from when on it cannot have been.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

WINDOW_S = 1.6
EARLIEST_S = 1.5
LATEST_S = 0.04
COARSE_S = 0.05
FINE_S = 0.01
# A motor comes up within some hundredths of a second, not at once, and the ports lag: so much before the curve's start
# is first motion. And its push is not quite even.
RISE_S = 0.03
SHAPE_SIGMA_S = 0.05
SHAPE_SHARE = 0.05
# Wind and the sensor's steps leave so much beside the learned noise.
ROUGH_M = 0.15
SURE_SIGMAS = 2.0


@dataclass(frozen=True, slots=True)
class Climb:
    """Start (ms) and its standard deviation (s); acceleration (m/s^2); speed at the newest sample (m/s).

    `least_mps2` and `most_mps2`: the accelerations of the starts that fit nearly as well. On simulated climbs they held
    the truth four times of five.

    `height_m` is the curve's at the newest sample, `rest_m` its height before the start. `misfit`: mean square of the
    residuals over their standard deviations of the `count` samples since the start, about 1 for a climb; `rest_misfit`
    the same of the `rest_count` before it. `high`: how many since the start are well above the noise. `over_step`: by
    how much (chi squared) a climb fits better than a step, the height that is at one moment another and stays so.
    """

    start_ms: float
    sigma_s: float
    acceleration_mps2: float
    least_mps2: float
    most_mps2: float
    speed_mps: float
    height_m: float
    rest_m: float
    misfit: float
    count: int
    rest_misfit: float
    rest_count: int
    high: int
    over_step: float


def fit_climb(heights: Sequence[tuple[float, float]], noise_m: float, rest_sigma_m: float) -> Climb | None:
    """Fit heights (m above the pad) at times (ms), oldest first; None where they show no climb.

    `noise_m` is the sensor's (standard deviation), `rest_sigma_m` how far the height at rest may be from 0.
    """
    end_ms = heights[-1][0]
    rows = []
    for t_ms, h in heights:
        t = (t_ms - end_ms) / 1000.0
        if t >= -WINDOW_S:
            rows.append((t, h, 1.0 / (noise_m * noise_m + ROUGH_M * ROUGH_M + (SHAPE_SHARE * h) ** 2)))
    rest_weight = 1.0 / (rest_sigma_m * rest_sigma_m)
    sw = sum(w for _, _, w in rows) + rest_weight
    sh = sum(w * h for _, h, w in rows)
    shh = sum(w * h * h for _, h, w in rows)

    def at(t0: float) -> tuple[float, float, float]:
        """(Misfit, t0, acceleration) of the best climb that begins at t0."""
        sx = sxx = sxh = 0.0
        for t, h, w in reversed(rows):
            since = t - t0
            if since <= 0.0:
                break
            x = 0.5 * since * since
            wx = w * x
            sx += wx
            sxx += wx * x
            sxh += wx * h
        determinant = sw * sxx - sx * sx
        if determinant <= 0.0:
            return shh, t0, 0.0
        a = max(0.0, (sw * sxh - sx * sh) / determinant)
        c = (sh - a * sx) / sw
        return shh - a * sxh - c * sh, t0, a

    steps = round((EARLIEST_S - LATEST_S) / COARSE_S)
    profile = [at(-LATEST_S - k * COARSE_S) for k in range(steps + 1)]
    _, middle, _ = min(profile)
    fine = [at(middle + k * FINE_S) for k in range(-5, 6) if middle + k * FINE_S <= -LATEST_S]
    profile += fine
    best, start_s, a = min(profile)
    if a <= 0.0:
        return None
    likely = [(t0, push) for chi, t0, push in profile if chi <= best + SURE_SIGMAS * SURE_SIGMAS]
    spread_s = max(abs(t0 - start_s) for t0, _ in likely) / SURE_SIGMAS
    # Beside the start the push itself is uncertain: its standard deviation for a known start.
    sxx = sum(w * (0.5 * (t - start_s) ** 2) ** 2 for t, _, w in rows if t > start_s)
    push_sigma = sxx**-0.5
    c = (sh - a * sum(w * 0.5 * (t - start_s) ** 2 for t, _, w in rows if t > start_s)) / sw
    on_it = [(h, (h - c - 0.5 * a * (t - start_s) ** 2) ** 2 * w) for t, h, w in rows if t > start_s]
    at_rest = [(h - c) ** 2 * w for t, h, w in rows if t <= start_s]
    return Climb(
        start_ms=end_ms + 1000.0 * (start_s - RISE_S),
        sigma_s=hypot(spread_s, SHAPE_SIGMA_S),
        acceleration_mps2=a,
        least_mps2=min(min(push for _, push in likely), a - SURE_SIGMAS * push_sigma),
        most_mps2=max(max(push for _, push in likely), a + SURE_SIGMAS * push_sigma),
        speed_mps=-a * start_s,
        height_m=c + 0.5 * a * start_s * start_s,
        rest_m=c,
        misfit=sum(square for _, square in on_it) / len(on_it),
        count=len(on_it),
        rest_misfit=sum(at_rest) / len(at_rest) if at_rest else 0.0,
        rest_count=len(at_rest),
        high=sum(1 for h, _ in on_it if h > 3.0 * noise_m + ROUGH_M),
        over_step=_step_misfit(rows, rest_weight) - best,
    )


def _step_misfit(rows: Sequence[tuple[float, float, float]], rest_weight: float) -> float:
    """The least chi squared of a step: two heights, the first near 0, whenever it happened."""
    sw = sum(w for _, _, w in rows) + rest_weight
    sh = sum(w * h for _, h, w in rows)
    shh = sum(w * h * h for _, h, w in rows)
    least = shh - sh * sh / sw
    after_w = after_h = 0.0
    for _, h, w in reversed(rows):
        after_w += w
        after_h += w * h
        before_w, before_h = sw - after_w, sh - after_h
        least = min(least, shh - after_h * after_h / after_w - before_h * before_h / before_w)
    return least
