"""What the track shows of the fall between two times, silences left out. Times ms, speeds m/s, down counts as +."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

from station.atmosphere import G0_MPS2, at_pad_mps
from station.flight_state import Estimate
from station.touchdown import GROUND_NEAR_M

LONGEST_UNSEEN_MS = 1500.0
LATELY_MS = 2000.0
# The standard deviation of a speed that is known is less.
KNOWN_SPEED_MPS = 4.0
LEAST_MEAN_MS = 1000.0
# A fall that gains less than a quarter of g, and loses no more, is carried by drag.
SETTLED_S = 1.5
SETTLED_MPS2 = 2.5
SETTLED_STEP_MS = 500.0
SETTLED_LATELY = 30
SETTLED_LOOKS = 4
MOST_LOOKED_AT = 400
LEAST_QUARTERED = 5


@dataclass(frozen=True, slots=True)
class SeenFall:
    """Questions to a track of the flight, whose estimates are in order of time."""

    track: Sequence[Estimate]

    def at(self, t_ms: float) -> Estimate | None:
        """The estimate nearest before `t_ms`, or None when the track has none within `LONGEST_UNSEEN_MS`."""
        index = self._index(t_ms)
        if index == 0 or t_ms - self.track[index - 1].t_ms > LONGEST_UNSEEN_MS:
            return None
        return self.track[index - 1]

    def was_seen(self, start_ms: float, end_ms: float, least_s: float) -> bool:
        """Enough of a span was really seen to judge it: its length less the silences in it."""
        track, index = self.track, self._index(start_ms)
        seen_ms = 0.0
        while index < len(track) and track[index].t_ms <= end_ms and seen_ms < 1000.0 * least_s:
            step_ms = track[index].t_ms - track[index - 1].t_ms if index else 0.0
            seen_ms += min(step_ms, track[index].t_ms - start_ms) if step_ms <= LONGEST_UNSEEN_MS else 0.0
            index += 1
        return seen_ms >= 1000.0 * least_s

    def fastest_mps(self, start_ms: float, end_ms: float) -> float | None:
        """The highest speed that was known, None where none was: after a silence, or in gas, it is a guess."""
        return max([-e.velocity_mps for e in self._known(start_ms, end_ms)], default=None)

    def fastest_at_pad_mps(self, start_ms: float, end_ms: float) -> float | None:
        """The same with each speed brought to the air of the pad: as much drag there."""
        return max([at_pad_mps(-e.velocity_mps, e.altitude_m) for e in self._known(start_ms, end_ms)], default=None)

    def is_slowed_by(self, fraction: float, t_ms: float) -> bool:
        """At `t_ms` it falls at less than `fraction` of what it lately did, and not because the ground stops it."""
        last = self.at(t_ms)
        if last is None or last.altitude_m < GROUND_NEAR_M:
            return False
        return self.is_slower_than_lately(fraction, t_ms)

    def is_slower_than_lately(self, fraction: float, t_ms: float) -> bool:
        """At `t_ms` it falls at less than `fraction` of what it lately did, whatever slows it."""
        last, lately_mps = self.at(t_ms), self.fastest_mps(t_ms - LATELY_MS, t_ms)
        return last is not None and lately_mps is not None and -last.velocity_mps <= fraction * lately_mps

    def settled_mps(self, start_ms: float, end_ms: float) -> float | None:
        """The speed that drag carries all of the weight at, of a fall that hardly speeds up or slows any more.

        In the air of the pad: the median of what was seen so at the last `SETTLED_LATELY` looks, half a second apart,
        None where it was hardly ever so. The looks are counted from the start, so that what has been seen stays so,
        whatever gust comes after.
        """
        last = int((end_ms - start_ms) / SETTLED_STEP_MS)
        return _median_look(self._carried(start_ms, max(0, last - SETTLED_LATELY), last))

    def settled_so_far_mps(self, start_ms: float, end_ms: float) -> list[float]:
        """The same as it was at each look until then, without those at which there was none."""
        last = int((end_ms - start_ms) / SETTLED_STEP_MS)
        carried = self._carried(start_ms, 0, last)
        medians = [_median_look(carried[max(0, look - SETTLED_LATELY) : look + 1]) for look in range(last + 1)]
        return [speed_mps for speed_mps in medians if speed_mps is not None]

    def mean_mps(self, start_ms: float, end_ms: float) -> float | None:
        """The mean rate by heights, None for less than a second; in a span that was seen in part, of that part."""
        index, stop = self._index(start_ms), self._index(end_ms)
        if stop == 0 or index == len(self.track):
            return None
        first, last = self.at(start_ms) or self.track[index], self.track[stop - 1]
        if last.t_ms - first.t_ms < LEAST_MEAN_MS:
            return None
        return 1000.0 * (first.altitude_m - last.altitude_m) / (last.t_ms - first.t_ms)

    def clear_of_ground_ms(self, after_ms: float) -> float:
        """When it was last seen well above the ground; `after_ms` if that was earlier."""
        for estimate in reversed(self.track):
            if estimate.altitude_m > GROUND_NEAR_M or estimate.t_ms <= after_ms:
                return estimate.t_ms
        return after_ms

    def last_mps(self, after_ms: float) -> float | None:
        """How fast it came down when last seen well above the ground, None if that was before `after_ms`."""
        for estimate in reversed(self.track):
            if estimate.t_ms < after_ms:
                return None
            if estimate.altitude_m > GROUND_NEAR_M:
                return -estimate.velocity_mps
        return None

    def passes_ms(self, altitude_m: float, after_ms: float) -> float | None:
        """When it first is no higher than this, None if that was not seen; all the way from `after_ms` it must fall."""
        low, high = self._index(after_ms), len(self.track)
        while low < high:
            middle = (low + high) // 2
            if self.track[middle].altitude_m > altitude_m:
                low = middle + 1
            else:
                high = middle
        return self.track[low].t_ms if low < len(self.track) else None

    def upper_quartile_mps(self, start_ms: float, end_ms: float) -> float | None:
        """What a quarter of the speeds, brought to the air of the pad, are over; None for fewer than five."""
        index, stop = self._index(start_ms), self._index(end_ms)
        inside = self.track[index : stop : max(1, (stop - index) // 100)]
        speeds = sorted(at_pad_mps(-e.velocity_mps, e.altitude_m) for e in inside)
        return speeds[(3 * len(speeds)) // 4] if len(speeds) >= LEAST_QUARTERED else None

    def _carried(self, start_ms: float, first: int, last: int) -> list[float | None]:
        return [self._carried_mps(start_ms, start_ms + look * SETTLED_STEP_MS) for look in range(first, last + 1)]

    def _carried_mps(self, start_ms: float, t_ms: float) -> float | None:
        """The speed that carries the weight, by what it is at `t_ms` and still gains; None while that is much."""
        last, middle, before = self.at(t_ms), self.at(t_ms - 500.0 * SETTLED_S), self.at(t_ms - 1000.0 * SETTLED_S)
        if last is None or middle is None or before is None or before.t_ms < start_ms:
            return None
        for late, early in ((last, middle), (middle, before)):
            seconds = (late.t_ms - early.t_ms) / 1000.0
            if seconds < 0.25 * SETTLED_S or abs(early.velocity_mps - late.velocity_mps) > SETTLED_MPS2 * seconds:
                return None
        gain_mps2 = 1000.0 * (before.velocity_mps - last.velocity_mps) / (last.t_ms - before.t_ms)
        return at_pad_mps(-last.velocity_mps, last.altitude_m) / sqrt(1.0 - gain_mps2 / G0_MPS2)

    def _known(self, start_ms: float, end_ms: float) -> list[Estimate]:
        index, stop = self._index(start_ms), self._index(end_ms)
        step = max(1, (stop - index) // MOST_LOOKED_AT)
        seen = [self.track[i] for i in range(index, stop, step)]
        return [e for e in seen if e.velocity_sigma_mps < KNOWN_SPEED_MPS]

    def _index(self, t_ms: float) -> int:
        return bisect_right(self.track, t_ms, key=lambda e: e.t_ms)


def _median_look(carried_mps: Sequence[float | None]) -> float | None:
    found = [speed_mps for speed_mps in carried_mps if speed_mps is not None]
    return median(found) if len(found) >= SETTLED_LOOKS else None
