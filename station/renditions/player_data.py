"""The flight as the shared page's player wants it: whole numbers, each the difference from the one before. Pure."""

import numpy as np
from numpy.typing import NDArray

from station.columns import Array
from station.flight_state import Verdict
from station.renditions.course import gaps, shown_until_s, spans
from station.renditions.words import event_name, verdict
from station.whole_flight import WholeFlight

MOST_POINTS = 12_000
# Verdicts with which a parachute did hold the rocket for a while.
_HELD = {Verdict.CONFIRMED, Verdict.TOO_FAST, Verdict.EARLY}


def player_data(flight: WholeFlight) -> dict[str, object]:
    """Times s from liftoff; `t_ms`, `altitude_dm` and `velocity_dmps` are lists of differences, the first from 0."""
    curve = flight.curve
    keep = _kept(flight)
    return {
        "t_ms": _differences(curve.t_s[keep], 1000.0),
        "altitude_dm": _differences(curve.altitude_m[keep], 10.0),
        "velocity_dmps": _differences(curve.velocity_mps[keep], 10.0),
        "gaps": [[round(start, 3), round(end, 3)] for start, end in gaps(flight)],
        "events": [
            {"label": event_name(event), "t_s": round(flight.seconds(event), 3)} for event in flight.report.events
        ],
        "spans": [
            {"from_s": max(-1e6, round(span.from_s, 3)), "kind": span.kind, "words": span.words}
            for span in spans(flight)
        ],
        "parachutes": [
            {
                "role": d.role.value,
                "t_s": round((d.opened_t_ms - flight.liftoff_ms) / 1000.0, 3),
                "kind": verdict(d)[0],
            }
            for d in sorted(flight.report.deployments, key=lambda d: d.opened_t_ms or 0.0)
            if d.opened_t_ms is not None and d.verdict in _HELD
        ],
    }


def _kept(flight: WholeFlight) -> NDArray[np.intp]:
    """Every sample, or every so many of a long flight; always both ends, the highest point and the edges of gaps."""
    n = max(2, int(np.searchsorted(flight.curve.t_s, shown_until_s(flight), side="right")))
    edges = [edge for gap in gaps(flight) for edge in gap]
    always = np.concatenate(
        [[0, n - 1, int(np.argmax(flight.curve.altitude_m))], np.searchsorted(flight.curve.t_s, edges)]
    )
    regular = np.arange(0, n, max(1, -(-n // MOST_POINTS)))
    kept = np.unique(np.concatenate([regular, always]).astype(np.intp))
    return kept[kept < n]


def _differences(values: Array, factor: float) -> list[int]:
    units = np.rint(values * factor).astype(np.int64)
    return [int(d) for d in np.diff(units, prepend=0)]
