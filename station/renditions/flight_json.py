"""A flight as one JSON document, `station-flight/1`: what the check says, the events, every sample. Pure."""

import json
from collections.abc import Sequence
from datetime import datetime

from station.check_report import report_json
from station.renditions.table import Table, events_table, samples_table
from station.whole_flight import WholeFlight

SCHEMA = "station-flight/1"


def flight_json(
    flight: WholeFlight, *, flown_at: datetime | None, marks: Sequence[tuple[int, str]] = (), whole_record: bool = False
) -> str:
    """The document. Tables are objects of columns, named as in the CSV; null is "none"."""
    check = report_json(flight.report)
    source = check["source"]
    assert isinstance(source, dict)
    # The file's name is the flight's; the folders above it are its owner's business.
    source["file"] = source["file"].replace("\\", "/").rsplit("/", 1)[-1]
    document = {
        "schema": SCHEMA,
        "rocket": flight.name,
        "flown_at": None if flown_at is None else flown_at.isoformat(timespec="seconds"),
        "check": check,
        "events": _columns(events_table(flight, marks)),
        "samples": _columns(samples_table(flight, whole_record=whole_record)),
    }
    return json.dumps(document, allow_nan=False, separators=(",", ":")) + "\n"


def _columns(table: Table) -> dict[str, list[float | int | str | None]]:
    return {column.header: list(column.values) for column in table}
