"""A liftoff that may have been called falsely: did the rocket leave, or is it still on the pad? Pure, sample by sample.

A called liftoff stands unless what came after it plainly speaks against it. It is taken back only when for `WATCHED_S`
the rocket was heard without a long gap, never seen as far from the pad's height as any rocket goes that has left,
and is at the pad's height again; an accelerometer must not have felt a motor. Whatever is missing keeps the liftoff: a
long gap, a restart of the altimeter (how long it was off may not be known), a height that does not come back.
"""

from collections import deque
from collections.abc import Iterable
from typing import NamedTuple

from station.flight_state import TakenBack
from station.liftoff import Sample

# Who is this far above (or below) the pad has left it. The smallest flight that counts is a hop of 20 m; gusts over the
# ports, a door and hands seldom reach 15 m (180 Pa).
LEFT_M = 15.0
# In so long a gap a rocket that was not over `LEFT_M` before and after it can have been g gap^2 / 8 = 2.8 m higher:
# still under 20 m. And a hop of 20 m is over `LEFT_M` for two seconds.
LONGEST_GAP_S = 1.5
# A rocket that rose less than `LEFT_M` is down again after its burn and 2 sqrt(2 h / g) = 3.5 s.
WATCHED_S = 5.0
# Back at the pad: the mean of the last second is no further from it. It may lie beside the pad, and gusts go on.
BACK_WITHIN_M = 4.0
BACK_FOR_S = 1.0
BACK_LEAST_SAMPLES = 3
# Speed gained by pushes that only a motor makes for long: v^2 / 2 g = 11 m of height. Hands and shaking gain less.
MOTOR_GAIN_MPS = 15.0
PUSH_MPS2 = 8.0
LONGEST_STEP_S = 0.25
# What has not come back by then is left as it was called.
WEIGHED_S = 60.0


class Heard(NamedTuple):
    """A sample as the pad reference takes it, kept so that the wait can go on as if nothing had been called."""

    t_ms: float
    pressure_pa: float
    temperature_c: float | None
    axial_mps2: float | None


class DoubtedLiftoff:
    """Weighs one called liftoff; `over` once it can no longer be taken back."""

    def __init__(self, liftoff_ms: float, called_ms: float, before: Iterable[Sample]) -> None:
        """`before`: the samples up to the one at which it was called, the last one before first motion among them."""
        self.heard: list[Heard] = []
        self.over = False
        self._liftoff_ms = liftoff_ms
        self._called_ms = called_ms
        self._highest_m = 0.0
        self._gained_mps = 0.0
        self._last_ms: float | None = None
        self._recent: deque[tuple[float, float]] = deque()
        earlier = list(before)
        first = max((n for n, sample in enumerate(earlier) if sample.t_ms <= liftoff_ms), default=0)
        for sample in earlier[first:]:
            self._see(sample)

    def restarted(self) -> None:
        """The altimeter began anew: time may be missing that nobody can tell."""
        self.over = True

    def take(self, heard: Heard, sample: Sample) -> TakenBack | None:
        """Take the next sample; says once that the liftoff is taken back, and on what."""
        if self.over:
            return None
        self._see(sample)
        if sample.t_ms - self._called_ms > 1000.0 * WEIGHED_S:
            self.over = True
        if self.over:
            self.heard.clear()
            return None
        self.heard.append(heard)
        if sample.t_ms - self._called_ms < 1000.0 * WATCHED_S or not self._is_back():
            return None
        self.over = True
        return TakenBack(self._liftoff_ms, self._called_ms, sample.t_ms, self._highest_m)

    def _see(self, sample: Sample) -> None:
        t_ms, height_m, gained = sample.t_ms, sample.altitude_m, sample.gained_mps2
        last_ms = t_ms if self._last_ms is None else self._last_ms
        self._last_ms = t_ms
        if gained is not None and gained > PUSH_MPS2:
            self._gained_mps += gained * min((t_ms - last_ms) / 1000.0, LONGEST_STEP_S)
        self._highest_m = max(self._highest_m, height_m)
        self._recent.append((t_ms, height_m))
        while t_ms - self._recent[0][0] > 1000.0 * BACK_FOR_S:
            self._recent.popleft()
        if t_ms - last_ms > 1000.0 * LONGEST_GAP_S or abs(height_m) > LEFT_M or self._gained_mps > MOTOR_GAIN_MPS:
            self.over = True

    def _is_back(self) -> bool:
        heights = [height_m for _, height_m in self._recent]
        return len(heights) >= BACK_LEAST_SAMPLES and abs(sum(heights) / len(heights)) <= BACK_WITHIN_M
