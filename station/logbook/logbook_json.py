"""The logbook as the document `station-logbook/1`, for programs and the page. SI; null is not known. Pure."""

from collections.abc import Iterable
from dataclasses import asdict, fields
from typing import Any

from station.logbook.entry import LogbookEntry
from station.logbook.note import KEYS
from station.logbook.totals import Totals, by_impulse_class, by_rocket, totals

SCHEMA = "station-logbook/1"


def logbook_json(entries: Iterable[LogbookEntry], problems: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """Flights in the order given, totals, and the logs that could not be read with their reasons."""
    entries = list(entries)
    return {
        "schema": SCHEMA,
        "flights": [entry_json(entry) for entry in entries],
        "total": totals_json(totals(None, entries)),
        "by_rocket": [totals_json(group) for group in by_rocket(entries)],
        "by_impulse_class": [totals_json(group) for group in by_impulse_class(entries)],
        "not_read": [{"file": file, "reason": reason} for file, reason in problems],
    }


def entry_json(entry: LogbookEntry) -> dict[str, Any]:
    """One flight: what holds of it, and under `note` what of that is the owner's own word."""
    row = entry.row
    return {
        "file": row.file,
        "day": entry.day(),
        "flown_at": None if row.flown_at is None else row.flown_at.isoformat(),
        "rocket": entry.rocket,
        "motor": entry.motor,
        "impulse_class": entry.letter,
        "remarks": entry.remarks,
        **{f.name: _value(getattr(row, f.name)) for f in fields(row) if f.name not in ("file", "flown_at")},
        "total_impulse_ns": _value(entry.total_impulse_ns),
        "note": {key: getattr(entry.note, key) for key in KEYS},
        "note_problem": entry.note_problem,
    }


def totals_json(found: Totals) -> dict[str, Any]:
    """One group; each best names its flight's log."""
    return {key: _value(value) for key, value in asdict(found).items()}


def _value(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _value(inner) for key, inner in value.items()}
    return round(value, 4) if isinstance(value, float) else value
