"""A flight's way over the ground as a phone or a map program takes it, before it is written as GPX or KML. Pure.

Times are those at which the lines were received, which a log of this station holds to a radio's delay; a bare capture
has none. Heights are those of the fixes, above mean sea level, uncorrected.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from station.fix_gate import TrackPoint
from station.geodesy import Position
from station.place_words import coordinates
from station.whereabouts import Onward, PadPlace, Place, PlaceKind, Whereabouts

LOST_AFTER_S = 4.0


@dataclass(frozen=True, slots=True)
class PhonePoint:
    """One point of the way: UTC time, height above mean sea level (m) and satellites, None for what is not known."""

    position: Position
    time: datetime | None
    height_m: float | None
    satellites: int | None


@dataclass(frozen=True, slots=True)
class Landmark:
    """A named place. It lies within `sigma_m` (one standard deviation along any direction)."""

    name: str
    text: str
    position: Position
    sigma_m: float
    time: datetime | None = None


@dataclass(frozen=True, slots=True)
class PhoneTrack:
    """What is written: the way in segments, each without a loss of the satellites, and the places to find."""

    name: str
    segments: tuple[tuple[PhonePoint, ...], ...]
    landmarks: tuple[Landmark, ...]


def phone_track(
    name: str,
    points: Sequence[TrackPoint],
    found: Whereabouts,
    *,
    liftoff_ms: float | None,
    opened: datetime | None = None,
) -> PhoneTrack:
    """The way since liftoff, the pad and where it was last. `opened` is when the clock of arrivals began, UTC."""
    flown = [point for point in points if liftoff_ms is not None and point.t_ms >= liftoff_ms]
    times = {point.t_ms: _time(point, opened) for point in flown}
    landmarks = []
    if found.pad is not None:
        landmarks.append(_pad(found.pad))
    if found.place is not None:
        landmarks.append(_place(found.place, times.get(found.place.t_ms)))
        if found.place.onward is not None:
            landmarks.append(_onward(found.place.onward))
    return PhoneTrack(printable(name), _segments(flown, times), tuple(landmarks))


def printable(name: str) -> str:
    """A name without what XML 1.0 cannot hold (control characters, half surrogates)."""
    return "".join(char if char.isprintable() else "?" for char in name.encode("utf-8", "replace").decode("utf-8"))


def utc(time: datetime) -> str:
    """ISO 8601 in UTC with milliseconds, as both formats want it."""
    return time.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _segments(flown: Sequence[TrackPoint], times: dict[float, datetime | None]) -> tuple[tuple[PhonePoint, ...], ...]:
    segments: list[list[PhonePoint]] = []
    before_ms: float | None = None
    for point in flown:
        if before_ms is None or point.t_ms - before_ms > 1000.0 * LOST_AFTER_S:
            segments.append([])
        before_ms = point.t_ms
        segments[-1].append(PhonePoint(point.position, times[point.t_ms], point.height_m, point.satellites))
    return tuple(map(tuple, segments))


def _time(point: TrackPoint, opened: datetime | None) -> datetime | None:
    if opened is None or point.arrival_us is None:
        return None
    return opened + timedelta(microseconds=point.arrival_us)


def _pad(pad: PadPlace) -> Landmark:
    position = Position(pad.latitude_deg, pad.longitude_deg)
    return Landmark("Pad", coordinates(pad.latitude_deg, pad.longitude_deg), position, pad.sigma_m)


def _place(place: Place, time: datetime | None) -> Landmark:
    position = Position(place.latitude_deg, place.longitude_deg)
    landed = place.kind is PlaceKind.LANDED
    name = "Rocket" if landed else "Rocket last seen"
    text = f"{coordinates(place.latitude_deg, place.longitude_deg)}, give or take {2.0 * place.sigma_m:.0f} m"
    if not landed and place.altitude_m is not None:
        text += f", {max(0.0, place.altitude_m):.0f} m up"
    return Landmark(name, text, position, place.sigma_m, time)


def _onward(onward: Onward) -> Landmark:
    text = (
        f"{coordinates(onward.latitude_deg, onward.longitude_deg)}, give or take {2.0 * onward.sigma_m:.0f} m: "
        "if it drifted on as when it was last seen"
    )
    return Landmark("Rocket, reckoned", text, Position(onward.latitude_deg, onward.longitude_deg), onward.sigma_m)
