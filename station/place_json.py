"""Where the rocket is, as JSON for programs: the same parts in the live state and in the check's document. Pure.

SI units, degrees; times in ms on the flight's time line (`t_ms`) and in s since liftoff (`t_s`); null for what is not
known.
"""

from station.whereabouts import DriftWedge, Onward, PadPlace, Place, Whereabouts

_DEGREES, _METRES = 7, 1  # decimals: a centimetre, a decimetre


def whereabouts_json(found: Whereabouts, liftoff_ms: float | None) -> dict[str, object]:
    """The parts `pad_place`, `place` and `drift`, and `fixes_refused`, the `FIX` lines not believed, by reason."""
    return {
        "pad_place": _pad(found.pad),
        "place": _place(found.place, liftoff_ms),
        "drift": _drift(found.drift),
        "fixes_refused": dict(found.refused),
    }


def _pad(pad: PadPlace | None) -> dict[str, object] | None:
    if pad is None:
        return None
    return {**_position(pad), "sigma_m": round(pad.sigma_m, _METRES), "fixes": pad.fixes}


def _place(place: Place | None, liftoff_ms: float | None) -> dict[str, object] | None:
    if place is None:
        return None
    return {
        "kind": place.kind.value,
        "t_ms": round(place.t_ms, 1),
        "t_s": None if liftoff_ms is None else round((place.t_ms - liftoff_ms) / 1000.0, 3),
        "age_s": round(place.age_s, 1),
        **_position(place),
        "sigma_m": round(place.sigma_m, _METRES),
        "satellites": place.satellites,
        "quality": place.quality.value,
        "fixes": place.fixes,
        "altitude_m": _rounded(place.altitude_m),
        "range_m": _rounded(place.range_m),
        "bearing_deg": _rounded(place.bearing_deg),
        "range_sigma_m": _rounded(place.range_sigma_m),
        "bearing_sigma_deg": _rounded(place.bearing_sigma_deg),
        "onward": _onward(place.onward),
    }


def _onward(onward: Onward | None) -> dict[str, object] | None:
    if onward is None:
        return None
    return {
        **_position(onward),
        "further_m": round(onward.further_m, _METRES),
        "sigma_m": round(onward.sigma_m, _METRES),
        "time_s": round(onward.time_s, 1),
        "range_m": _rounded(onward.range_m),
        "bearing_deg": _rounded(onward.bearing_deg),
    }


def _drift(drift: DriftWedge | None) -> dict[str, object] | None:
    if drift is None:
        return None
    return {
        "least_m": round(drift.least_m, _METRES),
        "most_m": round(drift.most_m, _METRES),
        "from_deg": _rounded(drift.from_deg),
        "to_deg": _rounded(drift.to_deg),
        "wind_mps": round(drift.wind_mps, 2),
        "wind_from_deg": _rounded(drift.wind_from_deg),
        "time_s": round(drift.time_s, 1),
        "heard_down": drift.heard_down,
    }


def _position(place: PadPlace | Place | Onward) -> dict[str, object]:
    return {
        "latitude_deg": round(place.latitude_deg, _DEGREES),
        "longitude_deg": round(place.longitude_deg, _DEGREES),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, _METRES)
