"""Sorting and searching."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from station.flight_state import Verdict
from station.logbook.choosing import SortKey, search_flights, sort_flights
from station.logbook.entry import LogbookEntry
from station.logbook.note import OwnersNote

MakeEntry = Callable[..., LogbookEntry]


@pytest.fixture
def flights(entry: MakeEntry) -> list[LogbookEntry]:
    return [
        entry(file="a", flown_at=datetime(2031, 5, 4, tzinfo=UTC), apogee_m=100.0, plan_rocket="comet"),
        entry(file="b", flown_at=datetime(2032, 1, 1, tzinfo=UTC), apogee_m=None, main=Verdict.CONFIRMED),
        entry(
            file="c", flown_at=None, apogee_m=300.0, plan_rocket="Ant", note=OwnersNote(remarks="Windy.\nA fin lost")
        ),
    ]


def order(flights: list[LogbookEntry], by: SortKey, *, reverse: bool = False) -> str:
    return "".join(entry.row.file for entry in sort_flights(flights, by, reverse=reverse))


def test_dates_come_newest_first_figures_greatest_first_names_from_a(flights: list[LogbookEntry]) -> None:
    assert order(flights, SortKey.DATE) == "bac"
    assert order(flights, SortKey.APOGEE) == "cab"
    assert order(flights, SortKey.ROCKET) == "cab"
    assert order(flights, SortKey.REMARKS) == "cab"


def test_what_is_not_known_comes_last_either_way(flights: list[LogbookEntry]) -> None:
    assert order(flights, SortKey.DATE, reverse=True) == "abc"
    assert order(flights, SortKey.APOGEE, reverse=True) == "acb"


@pytest.mark.parametrize("key", SortKey)
def test_every_key_sorts(flights: list[LogbookEntry], key: SortKey) -> None:
    assert sorted(order(flights, key)) == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("", "abc"),
        ("COMET", "ab"),
        ("windy ant", "c"),
        ("windy comet", ""),
        ("2032", "b"),
        ("fast", "ac"),
        ("h90", "abc"),
        ("swift", "abc"),
    ],
)
def test_every_wanted_word_must_stand_somewhere(flights: list[LogbookEntry], wanted: str, found: str) -> None:
    assert "".join(entry.row.file for entry in search_flights(flights, wanted)) == found
