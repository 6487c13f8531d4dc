"""The JSON document."""

import json
from dataclasses import replace
from datetime import UTC, datetime

from station.check_report import report_json
from station.renditions.flight_json import SCHEMA, flight_json
from station.renditions.table import samples_table
from station.whole_flight import WholeFlight

FLOWN = datetime(2031, 5, 4, 9, 31, 22, 500_000, UTC)


def test_it_holds_the_check_the_events_and_every_sample(nominal: WholeFlight) -> None:
    document = json.loads(flight_json(nominal, flown_at=FLOWN))
    assert document["schema"] == SCHEMA == "station-flight/1"
    assert document["flown_at"] == "2031-05-04T09:31:22+00:00"
    assert document["check"] == json.loads(json.dumps(report_json(nominal.report)))
    table = samples_table(nominal)
    assert document["samples"] == {column.header: list(column.values) for column in table}
    assert document["events"]["event"][0] == "liftoff"


def test_what_is_not_known_is_null(cut_off: WholeFlight) -> None:
    document = json.loads(flight_json(cut_off, flown_at=None))
    assert document["flown_at"] is None
    assert document["check"]["summary"]["flight_time_s"] is None


def test_folders_of_its_owner_stay_out_of_it(nominal: WholeFlight) -> None:
    for path in ("/home/somebody/flights/one.flight", "C:\\Users\\Somebody\\one.flight"):
        moved = replace(nominal, report=replace(nominal.report, file=path))
        text = flight_json(moved, flown_at=None)
        assert "omebody" not in text
        assert json.loads(text)["check"]["source"]["file"] == "one.flight"
