"""Whose word holds of a flight."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone

import pytest

from station.logbook.entry import LogbookEntry
from station.logbook.note import OwnersNote

MakeEntry = Callable[..., LogbookEntry]


def test_the_owner_s_word_goes_before_the_plan_s_and_that_before_the_altimeter_s(entry: MakeEntry) -> None:
    assert entry(note=OwnersNote(rocket="Big Comet")).rocket == "Big Comet"
    assert entry().rocket == "Little Comet"
    assert entry(plan_rocket=None).rocket == "SWIFT-2"
    assert entry(plan_rocket=None, unit_name=None).rocket is None
    assert entry(note=OwnersNote(rocket="")).rocket == "Little Comet"
    assert entry(note=OwnersNote(motor="I120")).motor == "I120"
    assert entry().motor == "H90-9"


def test_the_day_is_the_owner_s_or_that_of_the_liftoff_where_one_is(entry: MakeEntry) -> None:
    late = entry(flown_at=datetime(2031, 5, 4, 23, 30, tzinfo=UTC))
    assert late.day(UTC) == "2031-05-04"
    assert late.day(timezone(timedelta(hours=2))) == "2031-05-05"
    assert entry(note=OwnersNote(day="2030-01-02")).day(UTC) == "2030-01-02"
    assert entry(flown_at=None).day(UTC) is None


@pytest.mark.parametrize(
    ("impulse_ns", "motor", "letter"),
    [
        (160.0, "X", "G"),  # 80.01 to 160 N s is G, NFPA 1125
        (160.5, "X", "H"),
        (None, "F40-7", "F"),
        (None, "1/2A3-2", "A"),
        (None, "125G131-14A", "G"),
        (None, "Homemade", None),
        (None, None, None),
        (None, "CTX9000", None),  # no designation: other letters before it
    ],
)
def test_the_class_comes_from_the_impulse_else_from_the_designation(
    entry: MakeEntry, impulse_ns: float | None, motor: str | None, letter: str | None
) -> None:
    assert entry(total_impulse_ns=impulse_ns, plan_motor=motor).letter == letter


def test_another_motor_than_planned_has_not_the_plan_s_impulse(entry: MakeEntry) -> None:
    other = entry(note=OwnersNote(motor="I150"))
    assert other.total_impulse_ns is None
    assert other.letter == "I"
    assert entry(note=OwnersNote(motor="H90-9")).total_impulse_ns == 170.5
