"""Touchdown: the heights that are measured lie still, and the line of the fall before meets their level."""

from collections import deque
from dataclasses import dataclass
from typing import Final

GROUND_NEAR_M: Final = 12.0
# Heights are kept over so many times the usual time, for the longer look and the fall before it.
KEPT_WINDOWS: Final = 10.0
# So many heights show that it lies still; where they come seldom, over so many times the usual time.
STILL_SAMPLES: Final = 8
SPARSE_WINDOWS: Final = 4.0
LAST_FALL_M: Final = 15.0
# A landing in a silence is reckoned from the rate before it, which gusts and slopes change by this share; not where it
# was so fast (m/s) that a main may have slowed it.
LANDED_UNSEEN_SHARE: Final = 0.15
LANDED_UNSEEN_MPS: Final = 10.0
LEAST_FALL_SAMPLES: Final = 8
# Whether it lies still takes two seconds to see and a hundred heights to go through: looked at so often.
STILL_LOOK_MS: Final = 100.0


@dataclass(frozen=True, slots=True)
class GroundLimits:
    """When a rocket lies still; common practice, no source. Speeds m/s, times s, heights m."""

    window_s: float = 2.0
    speed_mps: float = 1.0
    unrest_m: float = 1.0
    # A silence of so long may hide the landing.
    gap_s: float = 1.5
    # Still is the ground only low down, or after a long while and without the least fall (a tree, a hillside): rising
    # air can hold a parachute up for some seconds.
    high_m: float = 30.0
    high_fraction: float = 0.01
    high_window_s: float = 10.0
    high_speed_mps: float = 0.3


class GroundWatch:
    """Looks for the ground under a fall from `top_m`."""

    __slots__ = ("_due_ms", "_top_m", "heights", "limits")

    def __init__(self, top_m: float, limits: GroundLimits | None = None) -> None:
        self.limits = limits or GroundLimits()
        self._top_m = top_m
        self._due_ms = -1e12
        # Measured heights (ms, m), appended to by who measures; what is too old goes when they are looked at.
        self.heights: deque[tuple[float, float]] = deque()

    def touchdown(self, t_ms: float, noise_m: float, rate_mps: float | None) -> tuple[float, float] | None:
        """(Time ms, sigma s) of touchdown once the measured `heights` until now show that it has lain still.

        `rate_mps` is how fast it came down, where that is known.
        """
        if t_ms < self._due_ms:
            return None
        self._due_ms = t_ms + STILL_LOOK_MS
        ground = self.heights
        altitude_m = ground[-1][1]
        window_ms = 1000.0 * self.limits.window_s
        # One height from before is kept, however long the silence after it.
        while len(ground) > 1 and t_ms - ground[1][0] > KEPT_WINDOWS * window_ms:
            ground.popleft()
        high = altitude_m > self.limits.high_m + self.limits.high_fraction * self._top_m
        if high:
            window_ms = 1000.0 * self.limits.high_window_s
        recent = [g for g in ground if t_ms - g[0] <= window_ms]
        if (
            len(recent) < STILL_SAMPLES <= len(ground)
            and t_ms - ground[-STILL_SAMPLES][0] <= SPARSE_WINDOWS * window_ms
        ):
            # So few come in a second that it is looked at for longer.
            recent = list(ground)[-STILL_SAMPLES:]
            window_ms = t_ms - recent[0][0]
        if len(recent) < STILL_SAMPLES or t_ms - recent[0][0] < 0.8 * window_ms:
            return None
        slope, level, slope_sigma = _line(recent, noise_m)
        most_mps = self.limits.high_speed_mps if high else self.limits.speed_mps
        if abs(slope) + 1.0 * slope_sigma > most_mps:
            return None
        # Still, and not only on the whole: a fall that a thermal held up for a while bends the line.
        unrest = sum((g[1] - level) ** 2 for g in recent) / len(recent)
        if unrest > (2.0 * noise_m + self.limits.unrest_m) ** 2:
            return None
        before = [g for g in ground if t_ms - g[0] > window_ms]
        silence = self._silence_before_lying(level, 3.0 * noise_m + self.limits.unrest_m)
        if silence is not None:
            return _landed_unseen(*silence, rate_mps)
        if len(before) < 4:
            return recent[0][0], 1.0
        # The descent's line meets the ground's level.
        fall = [g for g in before if g[1] > level + 3.0 * noise_m]
        # The last of it, for the parachute may have opened only just before.
        low = [g for g in fall if g[1] < level + 3.0 * noise_m + LAST_FALL_M]
        fall = low if len(low) >= LEAST_FALL_SAMPLES else fall[-LEAST_FALL_SAMPLES:]
        if len(fall) < 4:
            return recent[0][0], 0.5
        rate, height, _rate_sigma = _line(fall, noise_m)
        if rate > -1.0:
            return recent[0][0], 0.5
        middle_ms = sum(g[0] for g in fall) / len(fall)
        at_ms = middle_ms + 1000.0 * (level - height) / rate
        return min(at_ms, recent[0][0] + window_ms), max(0.1, 2.0 * noise_m / abs(rate) / len(fall) ** 0.5)

    def _silence_before_lying(
        self, level_m: float, near_m: float
    ) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """The heights (ms, m) before and after a silence that ended with it on the ground, from where on it lay there.

        Nothing but readings of the ground came after it, and what came before it was none.
        """
        later = self.heights[-1]
        for earlier in reversed(self.heights):
            if abs(earlier[1] - level_m) >= near_m:
                return (earlier, later) if later[0] - earlier[0] > 1000.0 * self.limits.gap_s else None
            later = earlier
        return None


def _landed_unseen(
    last: tuple[float, float], lying: tuple[float, float], rate_mps: float | None
) -> tuple[float, float]:
    """(Time ms, sigma s) of a touchdown in the silence between two heights (ms, m), at the rate of before it."""
    silent_s = (lying[0] - last[0]) / 1000.0
    anywhere = last[0] + 500.0 * silent_s, silent_s / 12.0**0.5
    if rate_mps is None or rate_mps > LANDED_UNSEEN_MPS:
        return anywhere
    fell_s = max(0.0, last[1] - lying[1]) / rate_mps
    sigma_s = 0.5 + LANDED_UNSEEN_SHARE * fell_s
    if fell_s > silent_s or sigma_s > anywhere[1]:
        return anywhere
    return last[0] + 1000.0 * fell_s, sigma_s


def _line(points: list[tuple[float, float]], noise_m: float) -> tuple[float, float, float]:
    """Least-squares line through (t ms, h m): slope m/s, height at the mean time, sigma of the slope."""
    n = len(points)
    tm = sum(p[0] for p in points) / n
    hm = sum(p[1] for p in points) / n
    stt = sum((p[0] - tm) ** 2 for p in points) * 1e-6
    if stt <= 0.0:
        return 0.0, hm, 1e9
    slope = sum((p[0] - tm) * (p[1] - hm) for p in points) * 1e-3 / stt
    return slope, hm, noise_m / stt**0.5
