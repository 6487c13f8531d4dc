"""Where the rocket is, as parts of the live state; documented in `dashboard/LIVE_API.md`. Pure."""

from typing import Any

from station.place_json import whereabouts_json
from station.whereabouts import Whereabouts

PLACE_PARTS = ("pad_place", "place", "drift", "fixes_refused")


def place_parts(found: Whereabouts, liftoff_t_ms: float | None) -> dict[str, Any]:
    """The check's parts, and the way over the ground for the plan view: `points`, [north, east] in m."""
    parts: dict[str, Any] = whereabouts_json(found, liftoff_t_ms)
    if parts["place"] is not None:
        parts["place"]["points"] = [[round(north, 1), round(east, 1)] for north, east in found.points]
    return parts
