"""What is known of where the rocket is: plain frozen values, made by the pipeline alone.

Places by satellite come from `station/ground_track.py`, the wedge down the wind from `station/drift.py`. Latitudes +
north, longitudes + east, bearings clockwise from true north, all in degrees on WGS 84. A sigma is the standard
deviation along any one direction.
"""

from dataclasses import dataclass
from enum import StrEnum


class PlaceKind(StrEnum):
    """`landed`: fixes were heard after touchdown. `last_seen`: none was, it may have moved on since."""

    LANDED = "landed"
    LAST_SEEN = "last_seen"


class FixQuality(StrEnum):
    """How good a fix is, by the number of satellites in it."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


@dataclass(frozen=True, slots=True)
class PadPlace:
    """The mean of the fixes heard while the rocket waited."""

    latitude_deg: float
    longitude_deg: float
    sigma_m: float
    fixes: int


@dataclass(frozen=True, slots=True)
class Onward:
    """Where it comes down if it drifts on as it did when it was last seen: `further_m` from there, `time_s` later.

    Range and bearing are from the pad, None while the pad's place is not known.
    """

    latitude_deg: float
    longitude_deg: float
    further_m: float
    sigma_m: float
    time_s: float
    range_m: float | None
    bearing_deg: float | None


@dataclass(frozen=True, slots=True)
class Place:
    """The last known place. Range and bearing are from the pad, None while the pad's place is not known.

    `t_ms` is when its newest fix was made, `age_s` how long before the last line heard of the altimeter that was;
    `altitude_m` above the pad at that time, by pressure. `bearing_sigma_deg` is None when it lies too near the pad
    for a direction to mean anything. `fixes` is how many went into it.
    """

    kind: PlaceKind
    t_ms: float
    age_s: float
    latitude_deg: float
    longitude_deg: float
    sigma_m: float
    satellites: int | None
    quality: FixQuality
    fixes: int
    altitude_m: float | None
    range_m: float | None
    bearing_deg: float | None
    range_sigma_m: float | None
    bearing_sigma_deg: float | None
    onward: Onward | None


@dataclass(frozen=True, slots=True)
class DriftWedge:
    """Where the wind would have taken it: between two distances from the pad, and clockwise between two bearings.

    The bearings are None when the plan does not say where the wind comes from. `time_s` is the time from apogee to the
    ground. `heard_down` is False if part of it is reckoned, not heard.
    """

    least_m: float
    most_m: float
    from_deg: float | None
    to_deg: float | None
    wind_mps: float
    wind_from_deg: float | None
    time_s: float
    heard_down: bool


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """All that is known of it.

    `points` is the way over the ground since liftoff, thinned: north and east, m, of the pad, else of its first point.
    `refused` counts the `FIX` lines that were not believed, by reason. `drift` is only there without a place;
    `wind_is_planned` says whether a plan tells the wind's speed.
    """

    pad: PadPlace | None = None
    place: Place | None = None
    points: tuple[tuple[float, float], ...] = ()
    refused: tuple[tuple[str, int], ...] = ()
    drift: DriftWedge | None = None
    wind_is_planned: bool = False
