"""Where the rocket lies, in words for somebody who walks there. Pure.

Ranges and errors in whole metres and feet; "give or take" is two standard deviations, which 95 of 100 errors stay
within.
"""

from station.both_units import compass_point, speed
from station.flight_state import Snapshot
from station.quantity import LENGTH, per_unit
from station.whereabouts import DriftWedge, Place, PlaceKind

TRUE_NORTH = (
    "Directions are degrees from true north, clockwise. A magnetic compass is off by what the local map says; "
    "a phone's can be set to true north."
)
LEAST_TOLD_M = 5.0
_NO_FIXES = "no satellite fix was heard after liftoff"


def direction(bearing_deg: float) -> str:
    """A direction in words and in whole degrees: "south-west (224°)"."""
    return f"{compass_point(bearing_deg)} ({_degrees(bearing_deg)})"


def coordinates(latitude_deg: float, longitude_deg: float) -> str:
    """Decimal degrees, as a phone takes them; the sixth decimal is 0.1 m."""
    return f"{latitude_deg:.6f}, {longitude_deg:.6f}"


def whereabouts_text(snapshot: Snapshot) -> list[str]:
    """What can be said of where it lies, the answer first; nothing for what never left the pad."""
    if snapshot.liftoff_t_ms is None:
        return []
    found = snapshot.whereabouts
    if found.place is not None:
        return _place_lines(found.place, snapshot.liftoff_t_ms)
    if found.drift is not None:
        return _drift_lines(found.drift)
    return [f"Where it lies is not known: {_NO_FIXES}, and {_why_no_wedge(snapshot)}."]


def _place_lines(place: Place, liftoff_ms: float) -> list[str]:
    lines = []
    here = coordinates(place.latitude_deg, place.longitude_deg)
    if place.kind is PlaceKind.LANDED:
        lines.append(f"Where it lies: {_from_pad(place)}; {here}")
        lines.append(f"    By {_fixes(place.fixes)} after touchdown: {_goodness(place)}.")
        return lines
    lines.append(f"Last seen by satellite: {_from_pad(place)}; {here}")
    up = "" if place.altitude_m is None else f", {_whole(max(0.0, place.altitude_m))} up"
    lines.append(f"    {(place.t_ms - liftoff_ms) / 1000.0:.1f} s after liftoff{up}: {_goodness(place)}.")
    onward = place.onward
    if onward is not None:
        towards = ""
        if onward.range_m is not None and onward.bearing_deg is not None:
            towards = f"{_whole(onward.range_m)} from the pad, {direction(onward.bearing_deg)}, "
        lines.append(
            f"    If it drifted on as it did then, it lies {_whole(onward.further_m)} further: {towards}"
            f"give or take {_whole(2.0 * onward.sigma_m)}; {coordinates(onward.latitude_deg, onward.longitude_deg)}"
        )
    return lines


def _from_pad(place: Place) -> str:
    if place.range_m is None or place.bearing_deg is None or place.range_sigma_m is None:
        return f"the pad's place was not heard, so not how far; give or take {_whole(2.0 * place.sigma_m)}"
    within = f"give or take {_whole(2.0 * place.range_sigma_m)}"
    if place.bearing_sigma_deg is None:
        return f"{_whole(place.range_m)} from the pad, too near to tell the direction, {within}"
    return f"{_whole(place.range_m)} from the pad, {direction(place.bearing_deg)}, {within}"


def _fixes(count: int) -> str:
    return "one satellite fix" if count == 1 else f"{count} satellite fixes"


def _goodness(place: Place) -> str:
    satellites = "the number of satellites not told" if place.satellites is None else f"{place.satellites} satellites"
    return f"{place.quality.value}, {satellites}"


def _drift_lines(drift: DriftWedge) -> list[str]:
    wind = f"By the plan's wind, {speed(drift.wind_mps)}"
    if drift.least_m < LEAST_TOLD_M:
        span = f"within {_whole(drift.most_m)} of the pad"
    else:
        span = f"between {_whole(drift.least_m)} and {_whole(drift.most_m)} from the pad"
    if drift.from_deg is None or drift.to_deg is None or drift.wind_from_deg is None:
        where = f"{wind}, look {span}, down the wind; the plan does not say where it blows from."
    else:
        where = (
            f"{wind} from the {direction(drift.wind_from_deg)}, look {span}, towards the "
            f"{direction(drift.wind_from_deg + 180.0)}, from {_degrees(drift.from_deg)} to {_degrees(drift.to_deg)}."
        )
    lines = [f"Where it lies is not known: {_NO_FIXES}.", f"    {where}"]
    lines.append("    That is where the wind would have taken it: where to look first, not where it is.")
    if not drift.heard_down:
        lines.append("    The end of the descent was not heard; the time that it took is reckoned.")
    return lines


def _why_no_wedge(snapshot: Snapshot) -> str:
    if snapshot.whereabouts.wind_is_planned:
        return "too little of the descent was heard to say where the wind took it"
    return "no plan says the wind"


def _degrees(bearing_deg: float) -> str:
    """As on a compass card, three figures."""
    return f"{round(bearing_deg) % 360:03d}°"


def _whole(metres: float) -> str:
    return f"{metres:,.0f} m ({metres / per_unit(LENGTH, 'ft'):,.0f} ft)"
