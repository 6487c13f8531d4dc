"""Which satellite fixes are believed. Pure, one fix at a time.

A receiver without a fix, with too few satellites, or thrown off by a reflection or by the boost, still sends lines.
Refused are:

- no position: the fields are empty, or both are exactly 0 with no number of satellites, as some receivers say it;
- too few satellites: under four. A fix has four unknowns, three of place and the receiver's clock (the navigation
  equations of IS-GPS-200, and of every other system);
- a jump: further from the last believed fix than any rocket goes in the time between (`FASTEST_MPS`, by phase), with an
  allowance for fixes that are off by some tens of metres. The figures are common practice, no source.

The last believed fix may itself be the wild one, the very first too. So every fix is joined to the one before it that
makes the longest chain without a jump, and the longest chain of all is believed: a wild fix is left aside as soon as
two others agree without it.
"""

from collections import Counter, deque
from dataclasses import dataclass
from enum import StrEnum
from math import hypot

from station.flight_state import Phase
from station.geodesy import Position, line_between

LEAST_SATELLITES = 4
ALLOWED_MISS_M = 40.0
FASTEST_MPS = {
    Phase.WAITING: 40.0,  # in a car on its way to the pad
    Phase.THRUST: 400.0,
    Phase.COAST: 400.0,
    Phase.DESCENT: 100.0,
    Phase.DOWN: 40.0,  # touchdown is called some seconds late
}
LOOKED_BACK = 20
# Of a long wait the last fixes are kept, so that a day on the pad takes no more memory than an hour.
KEPT_WAITING = 3600


class FixRefusal(StrEnum):
    """Why a fix was not believed."""

    NO_POSITION = "no position"
    TOO_FEW = "too few satellites"
    JUMP = "jump"


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """One fix. `north_m` and `east_m` are on a plane that touches the earth at the first fix with a position.

    `t_ms` on the flight's time line; `arrival_us` on the recorder's clock if it has one. `altitude_m` above the pad by
    pressure, at that moment; `height_m` above mean sea level by satellite.
    """

    t_ms: float
    position: Position
    north_m: float
    east_m: float
    height_m: float | None
    satellites: int | None
    altitude_m: float | None
    arrival_us: int | None


@dataclass(slots=True, eq=False)
class _Link:
    """A fix in its chain: the one before it, and how many there are up to here."""

    point: TrackPoint
    before: "_Link | None"
    length: int


class FixGate:
    """Takes fixes; `believed` is the longest chain, and is made anew when another becomes longer."""

    def __init__(self) -> None:
        self.believed: list[TrackPoint] = []
        self._newest: _Link | None = None
        self._recent: deque[_Link] = deque(maxlen=LOOKED_BACK)
        self._origin: Position | None = None
        self._refused: Counter[FixRefusal] = Counter()
        self._with_position = 0
        self._forgotten = 0

    @property
    def refused(self) -> tuple[tuple[str, int], ...]:
        """How many fixes were not believed, by reason, in the order of the reasons."""
        counts = self._refused + Counter({FixRefusal.JUMP: self._with_position - self._forgotten - len(self.believed)})
        return tuple((reason.value, counts[reason]) for reason in FixRefusal if counts[reason])

    def take(
        self,
        t_ms: float,
        position: Position | None,
        *,
        phase: Phase,
        height_m: float | None = None,
        satellites: int | None = None,
        altitude_m: float | None = None,
        arrival_us: int | None = None,
    ) -> None:
        """Take one fix; one that comes late, after a newer one, is passed over."""
        if position is None or (satellites is None and position == Position(0.0, 0.0)):
            self._refused[FixRefusal.NO_POSITION] += 1
            return
        if satellites is not None and satellites < LEAST_SATELLITES:
            self._refused[FixRefusal.TOO_FEW] += 1
            return
        if self._recent and t_ms <= self._recent[-1].point.t_ms:
            return
        if self._origin is None:
            self._origin = position
        way = line_between(self._origin, position)
        point = TrackPoint(t_ms, position, way.north_m, way.east_m, height_m, satellites, altitude_m, arrival_us)
        self._with_position += 1
        self._join(point, phase)

    def _join(self, point: TrackPoint, phase: Phase) -> None:
        newest = self._newest
        reached = [link for link in self._recent if _reaches(link.point, point, phase)]
        if newest is not None and newest not in self._recent and _reaches(newest.point, point, phase):
            reached.append(newest)
        before = max(reversed(reached), key=lambda link: link.length, default=None)
        link = _Link(point, before, 1 if before is None else before.length + 1)
        self._recent.append(link)
        if newest is not None and link.length <= newest.length:
            return
        self._newest = link
        if before is newest:
            self.believed.append(point)
        else:
            self.believed = _chain(link)
        if phase is Phase.WAITING and len(self.believed) > 2 * KEPT_WAITING:
            self._forget()

    def _forget(self) -> None:
        """Let go of the older half of a long wait."""
        self._forgotten += len(self.believed) - KEPT_WAITING
        self.believed = self.believed[-KEPT_WAITING:]
        link = self._newest
        for _ in range(KEPT_WAITING - 1):
            link = link.before if link is not None else None
        if link is not None:
            link.before = None


def _chain(link: _Link | None) -> list[TrackPoint]:
    points = []
    while link is not None:
        points.append(link.point)
        link = link.before
    return points[::-1]


def _reaches(start: TrackPoint, end: TrackPoint, phase: Phase) -> bool:
    """Can the rocket have gone from one to the other?"""
    apart_m = hypot(end.north_m - start.north_m, end.east_m - start.east_m)
    return apart_m <= ALLOWED_MISS_M + FASTEST_MPS[phase] * (end.t_ms - start.t_ms) / 1000.0
