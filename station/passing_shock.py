"""Has the shock at the static ports passed? With nothing but the pressure, the heights themselves must tell.

Near the speed of sound the pressure at the ports is off by as much as hundreds of metres, for as long as seconds, and
what a filter makes of it is no speed to trust it again by. Once the shock has passed, the heights of the last moments
lie on a parabola within their noise, and it is that of a coast: slower than the shock is met at, and slowed down by
gravity and no more drag than a rocket that got so fast can have. Where it is that of a rocket which more has braked, it
must be so for longer. While the motor burns only the speed is asked.
"""

from collections import deque
from math import inf, sqrt
from typing import Final

from station.atmosphere import G0_MPS2
from station.estimator import VerticalFilter

# The heights of so long are looked at, or so many where they come more slowly.
WINDOW_MS: Final = 800.0
WINDOW_HEIGHTS: Final = 8
LONGEST_MS: Final = 3000.0
LEAST_SPAN_MS: Final = 500.0
LEAST_HEIGHTS: Final = 6
# What looks like a coast for a moment may be the shock's own turning: it must go on doing so, and for longer where it
# would be that of a rocket which something has braked: one that came apart, or threw out its parachute, in the shock.
COAST_LASTS_MS: Final = 300.0
BRAKED_LASTS_MS: Final = 1000.0
# In flight the pressure is noisier than on the pad.
LEAST_NOISE_M: Final = 1.0
# The sum of squares of the residuals over the noise's, from its mean, in standard deviations of its distribution.
MOST_SIGMAS: Final = 4.0
# Drag per mass and speed squared (1/m) of what reaches the speed of sound is no more, nor that of what came apart
# (common practice, no source).
MOST_DRAG_PER_M: Final = 0.003
MOST_BRAKED_PER_M: Final = 0.5
MARGIN_MPS2: Final = 3.0
SURE_SIGMAS: Final = 2.0
# the motion at the last height, the sum of squares of the residuals over the noise's, and its degrees of freedom
Fit = tuple[VerticalFilter, float, float]


class PassingShock:
    """The heights of the last moments near the speed of sound."""

    __slots__ = ("_braked_ms", "_coast_ms", "_first_ms", "_heights")

    def __init__(self) -> None:
        self._heights: deque[tuple[float, float]] = deque()
        self._first_ms = self._coast_ms = self._braked_ms = inf

    @property
    def is_about(self) -> bool:
        """A height has been heard that was not trusted, and nothing has shown since that the shock has passed."""
        return len(self._heights) > 0

    def hear(self, t_ms: float, altitude_m: float) -> None:
        """A height (m) by a pressure that is not trusted."""
        heights = self._heights
        self._first_ms = min(self._first_ms, t_ms)
        heights.append((t_ms, altitude_m))
        while t_ms - heights[0][0] > (WINDOW_MS if len(heights) > WINDOW_HEIGHTS else LONGEST_MS):
            heights.popleft()

    def forget(self) -> None:
        """It has passed."""
        self._heights.clear()
        self._first_ms = self._coast_ms = self._braked_ms = inf

    def rise_mps(self) -> float | None:
        """How fast the heights of the last moments rise, None while they are too few."""
        fit = self._fit(1.0)
        return None if fit is None else fit[0].v

    def passed(self, noise_m: float, most_mps: float) -> VerticalFilter | None:
        """The motion now, once the heights have shown for long enough that the shock has passed, else None.

        `noise_m` is the standard deviation of a height, `most_mps` the speed from which on the shock is met.
        """
        fit = self._fit(max(noise_m, LEAST_NOISE_M))
        now_ms = self._heights[-1][0]
        if fit is None or not _is_smooth(fit) or fit[0].v > most_mps:
            self._coast_ms = self._braked_ms = inf
            return None
        motion = fit[0]
        # No slower than gravity and drag can have made it since it came near the speed of sound: v' = -k v^2 gives
        # v = v0 / (1 + k v0 t).
        elapsed_s = (now_ms - self._first_ms) / 1000.0
        least_mps = most_mps / (1.0 + MOST_DRAG_PER_M * most_mps * elapsed_s) - G0_MPS2 * elapsed_s
        coasts = motion.v > max(0.0, least_mps) and _is_slowed_by_drag(motion, MOST_DRAG_PER_M)
        self._coast_ms = min(self._coast_ms, now_ms) if coasts else inf
        self._braked_ms = min(self._braked_ms, now_ms) if _is_slowed_by_drag(motion, MOST_BRAKED_PER_M) else inf
        lasts = now_ms - self._coast_ms >= COAST_LASTS_MS or now_ms - self._braked_ms >= BRAKED_LASTS_MS
        return motion if lasts else None

    def _fit(self, noise_m: float) -> Fit | None:
        """The parabola through the heights (least squares): the motion at the last of them, and how well it fits."""
        heights = self._heights
        if len(heights) < LEAST_HEIGHTS:
            return None
        last_ms, last_m = heights[-1]
        if last_ms - heights[0][0] < LEAST_SPAN_MS:
            return None
        points = [((t_ms - last_ms) / 1000.0, h - last_m) for t_ms, h in heights]
        n = float(len(points))
        s1 = sum([t for t, _ in points])
        s2 = sum([t * t for t, _ in points])
        s3 = sum([t**3 for t, _ in points])
        s4 = sum([t**4 for t, _ in points])
        h0 = sum([h for _, h in points])
        h1 = sum([t * h for t, h in points])
        h2 = sum([t * t * h for t, h in points])
        # Cofactors of the normal matrix [[n, s1, s2], [s1, s2, s3], [s2, s3, s4]].
        c00, c01, c02 = s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2
        c11, c12, c22 = n * s4 - s2 * s2, s1 * s2 - n * s3, n * s2 - s1 * s1
        size = n * c00 + s1 * c01 + s2 * c02
        if size <= 0.0:
            return None
        level = (c00 * h0 + c01 * h1 + c02 * h2) / size
        slope = (c01 * h0 + c11 * h1 + c12 * h2) / size
        half = (c02 * h0 + c12 * h1 + c22 * h2) / size
        motion = VerticalFilter(last_m + level, slope, 2.0 * half)
        variance = noise_m * noise_m / size
        motion.phh, motion.phv, motion.pha = c00 * variance, c01 * variance, 2.0 * c02 * variance
        motion.pvv, motion.pva, motion.paa = c11 * variance, 2.0 * c12 * variance, 4.0 * c22 * variance
        squares = sum([(h - level - slope * t - half * t * t) ** 2 for t, h in points])
        return motion, squares / (noise_m * noise_m), n - 3.0


def _is_smooth(fit: Fit) -> bool:
    _, squares, freedom = fit
    return squares <= freedom + MOST_SIGMAS * sqrt(2.0 * freedom)


def _is_slowed_by_drag(motion: VerticalFilter, most_per_m: float) -> bool:
    """On the way up gravity and drag add up, on the way down drag takes off from gravity."""
    unsure = MARGIN_MPS2 + SURE_SIGMAS * sqrt(motion.paa)
    by_drag = most_per_m * motion.v * motion.v
    if motion.v > 0.0:
        return -G0_MPS2 - by_drag - unsure < motion.a < -G0_MPS2 + unsure
    return -G0_MPS2 - unsure < motion.a < -G0_MPS2 + min(by_drag, 2.0 * G0_MPS2) + unsure
