"""The index as a real SQLite file."""

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from station.logbook import index
from station.logbook.index import INDEX_NAME, Indexed, IndexFile, Stamp
from station.logbook.row import LogbookRow

MakeRow = Callable[..., LogbookRow]


@pytest.fixture
def one(row: MakeRow) -> Indexed:
    return Indexed(
        "one.flight", Stamp(1234, 1_900_000_000_123_456_789), row(unheard=7, joined="a.flight"), None, b"abc"
    )


def without_curve(found: Indexed) -> Indexed:
    return Indexed(found.file, found.stamp, found.row, found.problem)


def test_what_is_stored_loads_back_equal(tmp_path: Path, row: MakeRow, one: Indexed) -> None:
    empty = row(
        file="two.flight",
        **dict.fromkeys(("flown_at", "unit_name", "apogee_m", "drogue", "main", "landing_rate_mps")),
        has_liftoff=False,
    )
    two = Indexed("two.flight", Stamp(0, 0), empty, None, None)
    bad = Indexed("bad.flight", Stamp(3, 4), None, "bad.flight is not a flight")
    IndexFile(tmp_path).store([one, two, bad])
    again = IndexFile(tmp_path)
    assert again.load() == {"one.flight": without_curve(one), "two.flight": two, "bad.flight": bad}
    assert again.curve("one.flight") == b"abc"
    assert again.curve("two.flight") is again.curve("none.flight") is None
    assert again.problem is None


def test_a_log_is_replaced_and_forgotten(tmp_path: Path, row: MakeRow, one: Indexed) -> None:
    kept = IndexFile(tmp_path)
    kept.store([one])
    newer = Indexed("one.flight", Stamp(5, 6), row(apogee_m=1.0), None, None)
    kept.store([newer])
    assert kept.load() == {"one.flight": newer}
    kept.store([], gone=["one.flight"])
    assert kept.load() == {}


@pytest.mark.parametrize(("name", "value"), [("INDEX_VERSION", 999), ("station.__version__", "99.0")])
def test_an_index_of_another_version_is_made_anew(
    tmp_path: Path, one: Indexed, monkeypatch: pytest.MonkeyPatch, name: str, value: object
) -> None:
    IndexFile(tmp_path).store([one])
    monkeypatch.setattr(f"station.logbook.index.{name}", value)
    assert IndexFile(tmp_path).load() == {}
    IndexFile(tmp_path).store([one])
    assert len(IndexFile(tmp_path).load()) == 1


@pytest.mark.parametrize("content", [b"", b"no database at all\n" * 500, b"SQLite format 3\0" + b"\xff" * 5000])
def test_what_is_no_index_is_made_anew(tmp_path: Path, one: Indexed, content: bytes) -> None:
    (tmp_path / INDEX_NAME).write_bytes(content)
    kept = IndexFile(tmp_path)
    assert kept.load() == {}
    kept.store([one])
    assert len(IndexFile(tmp_path).load()) == 1
    assert kept.problem is None


@pytest.mark.parametrize(
    "spoil",
    [
        "DROP TABLE logs",
        "ALTER TABLE logs RENAME COLUMN apogee_m TO height_m",
        "UPDATE logs SET verdict = 'wonderful'",
        "UPDATE logs SET flown_at = 'yesterday'",
        "DROP TABLE made_by",
    ],
)
def test_an_index_that_was_meddled_with_is_made_anew(tmp_path: Path, one: Indexed, spoil: str) -> None:
    IndexFile(tmp_path).store([one])
    with sqlite3.connect(tmp_path / INDEX_NAME) as db:
        db.execute(spoil)
    db.close()
    kept = IndexFile(tmp_path)
    assert kept.load() == {}
    kept.store([one])
    assert len(IndexFile(tmp_path).load()) == 1


def test_another_program_s_database_of_that_name_is_left_alone(tmp_path: Path, one: Indexed) -> None:
    with sqlite3.connect(tmp_path / INDEX_NAME) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    before = (tmp_path / INDEX_NAME).read_bytes()
    kept = IndexFile(tmp_path)
    kept.store([one])
    assert kept.load() == {}
    assert kept.problem == f"{INDEX_NAME} is another program's"
    assert (tmp_path / INDEX_NAME).read_bytes() == before


def test_an_index_that_another_station_writes_just_now_is_not_made_anew(
    tmp_path: Path, one: Indexed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index, "_PATIENCE_S", 0.0)
    kept = IndexFile(tmp_path)
    kept.store([one])
    other = sqlite3.connect(tmp_path / INDEX_NAME)
    other.execute("BEGIN EXCLUSIVE")
    kept.store([Indexed("two.flight", Stamp(1, 1), None, "bad")])
    assert kept.problem == "database is locked"
    assert kept.load() == {}
    other.rollback()
    other.close()
    assert set(kept.load()) == {"one.flight"}


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_a_problem_and_no_error(tmp_path: Path, one: Indexed) -> None:
    tmp_path.chmod(0o555)
    kept = IndexFile(tmp_path)
    kept.store([one])
    assert kept.problem is not None
    tmp_path.chmod(0o755)


def test_where_no_file_can_be_made_is_a_problem_and_no_error(tmp_path: Path, one: Indexed) -> None:
    kept = IndexFile(tmp_path / "gone")
    kept.store([one])
    assert kept.load() == {}
    assert kept.problem == "unable to open database file"
