"""Makers of rows, entries and small real logs."""

from collections.abc import Callable, Iterator
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from station.flight_state import FlightVerdict, Verdict
from station.logbook.entry import LogbookEntry
from station.logbook.index import Indexed, Stamp
from station.logbook.note import OwnersNote
from station.logbook.row import LogbookRow
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

ROW = LogbookRow(
    file="one.flight",
    has_liftoff=True,
    flown_at=datetime(2031, 5, 4, 9, 30, 12, 250_000, tzinfo=UTC),
    unit_name="SWIFT-2",
    plan_rocket="Little Comet",
    plan_motor="H90-9",
    total_impulse_ns=170.5,
    apogee_m=426.25,
    max_speed_mps=99.5,
    max_acceleration_mps2=95.0,
    drogue=Verdict.CONFIRMED,
    main=Verdict.TOO_FAST,
    verdict=FlightVerdict.ATTENTION,
    landing_rate_mps=11.5,
    flight_time_s=47.75,
    loss_fraction=0.021,
    unheard=None,
    joined=None,
)


def make_row(**changes: Any) -> LogbookRow:
    """The row above; keyword arguments replace single values."""
    values = {field.name: getattr(ROW, field.name) for field in fields(ROW)}
    return LogbookRow(**(values | changes))


def make_entry(*, note: OwnersNote | None = None, **changes: Any) -> LogbookEntry:
    return LogbookEntry(make_row(**changes), note or OwnersNote())


@pytest.fixture
def row() -> Callable[..., LogbookRow]:
    return make_row


@pytest.fixture
def entry() -> Callable[..., LogbookEntry]:
    return make_entry


@cache
def log_bytes(scenario: str, seed: int) -> bytes:
    return flight_log(fly(SCENARIOS[scenario], seed))


@pytest.fixture
def write_log() -> Callable[..., Path]:
    """Write the log of an invented flight."""

    def write(path: Path, scenario: str = "main-silent", seed: int = 1) -> Path:
        path.write_bytes(log_bytes(scenario, seed))
        return path

    return write


@pytest.fixture
def judging(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Which logs the book has judged; each gets a row at once, without a look into it."""
    seen: list[str] = []

    def at_once(paths: list[Path], _should_stop: Callable[[], bool]) -> Iterator[Indexed]:
        for path in paths:
            seen.append(path.name)
            status = path.stat()
            yield Indexed(
                path.name, Stamp(status.st_size, status.st_mtime_ns), make_row(file=path.name), None, b"\0" * 12
            )

    monkeypatch.setattr("station.logbook.book.judge_logs", at_once)
    return seen
