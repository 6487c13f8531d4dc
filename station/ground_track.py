"""The way over the ground by satellite: where the pad is, where the rocket was last, how good that is. Pure.

The **pad** is the mean of the fixes heard while the rocket waited: the newest that lie close together, so that the
way to the pad does not count. The **last known place** is the mean of the fixes after touchdown if there are any,
else the last fix. A receiver's error wanders over minutes, so the mean of a few seconds is hardly better than one
fix, and its sigma is not made smaller by their number.

**How good a fix is** is not told on the line, only from how many satellites it comes. Sigmas along any one direction:
3.5 m from seven satellites on (the GPS Standard Positioning Service promises 8 m at 95 % sideways, which is 3.3 m;
from memory), twice that for five or six or when the number is not told, four times for four (common practice, no
source).

**Onward**: a rocket last seen in the air drifts on. If it goes on over the ground as in the last seconds before, this
is where it comes down: halfway between the shortest and the longest rest of its fall (`station/drift.py`). Its sigma
is three tenths of that way, as wind changes with height (common practice, no source; on virtual flights half of that
would do).
"""

from collections.abc import Sequence
from dataclasses import replace
from math import atan2, degrees, hypot, sqrt
from statistics import median

from station.drift import Main, still_to_fall
from station.fix_gate import FixGate, TrackPoint
from station.flight_state import Estimate, Phase
from station.geodesy import Line, Position, line_between, place_along
from station.records import FixRecord
from station.whereabouts import FixQuality, Onward, PadPlace, Place, PlaceKind

SIGMA_M = {FixQuality.GOOD: 3.5, FixQuality.FAIR: 7.0, FixQuality.POOR: 14.0}
GOOD_SATELLITES = 7
FAIR_SATELLITES = 5
STILL_WITHIN_M = 20.0
STILL_WINDOW_MS = 120_000.0
SETTLED_AFTER_TOUCHDOWN_MS = 2000.0
DRIFT_WINDOW_MS = 6000.0
DRIFT_LEAST_MS = 2000.0
SINKS_MPS = 1.0
ONWARD_SIGMA_SHARE = 0.3
MOST_POINTS = 120


def quality_of(satellites: int | None) -> FixQuality:
    """How good a fix from so many satellites is."""
    if satellites is None:
        return FixQuality.FAIR
    if satellites >= GOOD_SATELLITES:
        return FixQuality.GOOD
    return FixQuality.FAIR if satellites >= FAIR_SATELLITES else FixQuality.POOR


class GroundTrack:
    """Takes the fixes of a flight and says where it was and is."""

    def __init__(self) -> None:
        self._gate = FixGate()
        # Asked for many times a second, while fixes come seldom: each answer is kept until something changes.
        self._pad: tuple[object, PadPlace | None] | None = None
        self._place: tuple[object, Place | None] | None = None
        self._way: tuple[object, tuple[tuple[float, float], ...]] | None = None

    @property
    def points(self) -> Sequence[TrackPoint]:
        """The believed fixes in order of time, those on the pad too."""
        return self._gate.believed

    @property
    def refused(self) -> tuple[tuple[str, int], ...]:
        """How many fixes were not believed, by reason."""
        return self._gate.refused

    def take(
        self, t_ms: float, record: FixRecord, phase: Phase, estimate: Estimate | None, arrival_us: int | None
    ) -> None:
        """Take one `FIX` line, with the phase and the newest estimate at that moment."""
        position = None
        if record.latitude_deg is not None and record.longitude_deg is not None:
            position = Position(record.latitude_deg, record.longitude_deg)
        self._gate.take(
            t_ms,
            position,
            phase=phase,
            height_m=record.height_m,
            satellites=record.satellites,
            altitude_m=None if estimate is None else estimate.altitude_m,
            arrival_us=arrival_us,
        )

    def pad(self, liftoff_ms: float | None) -> PadPlace | None:
        """Where the pad is; None without a fix from before liftoff."""
        key = self._key(liftoff_ms)
        if self._pad is None or self._pad[0] != key:
            waited = self._gate.believed
            if liftoff_ms is not None:
                waited = [point for point in waited if point.t_ms < liftoff_ms]
            self._pad = key, self._mean_pad(still(waited))
        return self._pad[1]

    def place(
        self,
        now_ms: float,
        liftoff_ms: float | None,
        touchdown_ms: float | None,
        main: Main | None = None,
    ) -> Place | None:
        """Where it was last; None on the pad, and without a fix since liftoff. `now_ms`: the newest line heard."""
        if liftoff_ms is None:
            return None
        key = self._key(liftoff_ms, touchdown_ms, main)
        if self._place is None or self._place[0] != key:
            self._place = key, self._last_place(liftoff_ms, touchdown_ms, main)
        place = self._place[1]
        return None if place is None else replace(place, age_s=max(0.0, now_ms - place.t_ms) / 1000.0)

    def way_over_ground(self, liftoff_ms: float | None) -> tuple[tuple[float, float], ...]:
        """The fixes since liftoff, north and east (m) of the pad, else of their first; thinned, the newest kept."""
        if liftoff_ms is None:
            return ()
        key = self._key(liftoff_ms)
        if self._way is None or self._way[0] != key:
            self._way = key, self._thinned(liftoff_ms)
        return self._way[1]

    def _key(self, *asked: object) -> object:
        points = self._gate.believed
        return len(points), points[-1] if points else None, asked

    def _flown(self, liftoff_ms: float) -> list[TrackPoint]:
        return [point for point in self._gate.believed if point.t_ms >= liftoff_ms]

    def _last_place(self, liftoff_ms: float, touchdown_ms: float | None, main: Main | None) -> Place | None:
        flown = self._flown(liftoff_ms)
        if not flown:
            return None
        landed = []
        if touchdown_ms is not None:
            landed = still([point for point in flown if point.t_ms > touchdown_ms + SETTLED_AFTER_TOUCHDOWN_MS])
        used = landed or flown[-1:]
        newest = used[-1]
        position, sigma_m = _mean(used)
        satellites = _median_of([point.satellites for point in used])
        pad = self.pad(liftoff_ms)
        way = _from_pad(pad, position)
        range_sigma_m = None if pad is None else hypot(pad.sigma_m, sigma_m)
        return Place(
            kind=PlaceKind.LANDED if landed else PlaceKind.LAST_SEEN,
            t_ms=newest.t_ms,
            age_s=0.0,
            latitude_deg=position.latitude_deg,
            longitude_deg=position.longitude_deg,
            sigma_m=sigma_m,
            satellites=satellites,
            quality=quality_of(satellites),
            fixes=len(used),
            altitude_m=newest.altitude_m,
            range_m=None if way is None else way.range_m,
            bearing_deg=None if way is None else way.bearing_deg,
            range_sigma_m=range_sigma_m,
            bearing_sigma_deg=_bearing_sigma(way, range_sigma_m),
            onward=None if landed else _onward(flown, main, pad),
        )

    def _thinned(self, liftoff_ms: float) -> tuple[tuple[float, float], ...]:
        flown = self._flown(liftoff_ms)
        if not flown:
            return ()
        first = flown[0]
        north_m, east_m = first.north_m, first.east_m
        pad = self.pad(liftoff_ms)
        if pad is not None:
            way = line_between(first.position, Position(pad.latitude_deg, pad.longitude_deg))
            north_m, east_m = north_m + way.north_m, east_m + way.east_m
        step = max(1, -(-len(flown) // MOST_POINTS))
        kept = flown[::-1][::step][::-1]
        return tuple((point.north_m - north_m, point.east_m - east_m) for point in kept)

    @staticmethod
    def _mean_pad(points: Sequence[TrackPoint]) -> PadPlace | None:
        if not points:
            return None
        position, sigma_m = _mean(points)
        return PadPlace(position.latitude_deg, position.longitude_deg, sigma_m, len(points))


def still(points: Sequence[TrackPoint]) -> list[TrackPoint]:
    """The newest fixes that lie close together: within `STILL_WITHIN_M` of the median place of the last ten."""
    if not points:
        return []
    tail = points[-10:]
    north_m, east_m = median(point.north_m for point in tail), median(point.east_m for point in tail)
    since_ms = points[-1].t_ms - STILL_WINDOW_MS
    return [
        point
        for point in points
        if point.t_ms >= since_ms and hypot(point.north_m - north_m, point.east_m - east_m) <= STILL_WITHIN_M
    ] or list(points[-1:])


def _onward(flown: Sequence[TrackPoint], main: Main | None, pad: PadPlace | None) -> Onward | None:
    """None for what hardly comes down, or was not followed long enough."""
    last = flown[-1]
    recent = [point for point in flown if last.t_ms - point.t_ms <= DRIFT_WINDOW_MS and point.altitude_m is not None]
    first = recent[0] if recent else last
    seconds = (last.t_ms - first.t_ms) / 1000.0
    if 1000.0 * seconds < DRIFT_LEAST_MS or first.altitude_m is None or last.altitude_m is None:
        return None
    sinks_mps = (first.altitude_m - last.altitude_m) / seconds
    if sinks_mps < SINKS_MPS or last.altitude_m <= 0.0:
        return None
    shortest, longest = still_to_fall(last.altitude_m, sinks_mps, main)
    time_s = (shortest.seconds + longest.seconds) / 2.0
    drift = line_between(first.position, last.position)
    further_m = drift.range_m * time_s / seconds
    end = place_along(last.position, Line(further_m, drift.bearing_deg))
    way = _from_pad(pad, end)
    return Onward(
        latitude_deg=end.latitude_deg,
        longitude_deg=end.longitude_deg,
        further_m=further_m,
        sigma_m=hypot(ONWARD_SIGMA_SHARE * further_m, SIGMA_M[quality_of(last.satellites)]),
        time_s=time_s,
        range_m=None if way is None else way.range_m,
        bearing_deg=None if way is None else way.bearing_deg,
    )


def _from_pad(pad: PadPlace | None, position: Position) -> Line | None:
    return None if pad is None else line_between(Position(pad.latitude_deg, pad.longitude_deg), position)


def _mean(points: Sequence[TrackPoint]) -> tuple[Position, float]:
    """Mean place, and its sigma: that of a fix, or their scatter if that is greater."""
    count = len(points)
    north_m = sum(point.north_m for point in points) / count
    east_m = sum(point.east_m for point in points) / count
    first = points[0]
    north, east = north_m - first.north_m, east_m - first.east_m
    offset = Line(hypot(north, east), degrees(atan2(east, north)) % 360.0)
    spread = sum((point.north_m - north_m) ** 2 + (point.east_m - east_m) ** 2 for point in points)
    scatter_m = sqrt(spread / (2.0 * count))
    sigma_m = SIGMA_M[quality_of(_median_of([point.satellites for point in points]))]
    return place_along(first.position, offset), max(sigma_m, scatter_m)


def _median_of(satellites: Sequence[int | None]) -> int | None:
    told = [number for number in satellites if number is not None]
    return int(median(told)) if told else None


def _bearing_sigma(way: Line | None, range_sigma_m: float | None) -> float | None:
    if way is None or range_sigma_m is None or way.range_m < 2.0 * range_sigma_m:
        return None
    return degrees(atan2(range_sigma_m, way.range_m))
