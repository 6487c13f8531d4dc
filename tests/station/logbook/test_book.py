"""The logbook of a real folder; what the logs would be judged as is told at once where it does not matter."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from station.errors import FileUnreadableError, OutputError
from station.logbook.book import KEPT_AT_ONCE, Logbook
from station.logbook.index import INDEX_NAME, Indexed, Stamp
from station.logbook.note import BadNoteError
from station.logbook.row import LogbookRow

MakeRow = Callable[..., LogbookRow]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("a.flight", "b.flight", "c.flight"):
        (tmp_path / name).write_bytes(name.encode())
    (tmp_path / ".hidden.flight").write_bytes(b"")
    (tmp_path / "readout.txt").write_bytes(b"")
    (tmp_path / "folder.flight").mkdir()
    return tmp_path


def refreshed(folder: Path) -> Logbook:
    book = Logbook(folder)
    book.refresh(book.pending())
    return book


def files(book: Logbook) -> list[str]:
    return [entry.row.file for entry in book.entries()]


def test_a_log_is_judged_once_and_again_only_when_it_has_changed(folder: Path, judging: list[str]) -> None:
    assert files(refreshed(folder)) == ["a.flight", "b.flight", "c.flight"]
    assert judging == ["a.flight", "b.flight", "c.flight"]
    refreshed(folder)
    assert len(judging) == 3
    with (folder / "b.flight").open("ab") as log:
        log.write(b"more")
    os.utime(folder / "c.flight", ns=(1, 1))
    refreshed(folder)
    assert judging[3:] == ["b.flight", "c.flight"]


def test_a_log_that_is_gone_is_forgotten_and_its_note_stays(folder: Path, judging: list[str]) -> None:
    book = refreshed(folder)
    book.change_note("a.flight", {"remarks": "Windy."})
    (folder / "a.flight").unlink()
    assert files(refreshed(folder)) == ["b.flight", "c.flight"]
    assert (folder / "a.note.json").exists()


@pytest.mark.parametrize("harm", ["missing", "garbage"])
def test_remarks_outlive_the_index(folder: Path, judging: list[str], harm: str) -> None:
    refreshed(folder).change_note("a.flight", {"remarks": "Windy."})
    if harm == "missing":
        (folder / INDEX_NAME).unlink()
    else:
        (folder / INDEX_NAME).write_bytes(b"garbage" * 1000)
    book = refreshed(folder)
    assert book.entries()[0].remarks == "Windy."
    assert len(judging) == 6


def test_a_log_that_went_into_another_is_passed_over_and_its_note_goes_on(
    folder: Path, row: MakeRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    joins = {"a.flight": None, "b.flight": "a.flight", "c.flight": "elsewhere.flight"}

    def at_once(paths: list[Path], _should_stop: Callable[[], bool]) -> list[Indexed]:
        return [Indexed(path.name, Stamp(1, 1), row(file=path.name, joined=joins[path.name])) for path in paths]

    monkeypatch.setattr("station.logbook.book.judge_logs", at_once)
    book = refreshed(folder)
    assert files(book) == ["b.flight", "c.flight"]
    book.change_note("a.flight", {"remarks": "Windy.", "rocket": "Comet"})
    assert (book.entries()[0].remarks, book.entries()[0].rocket) == ("Windy.", "Comet")
    book.change_note("b.flight", {"remarks": ""})
    assert (book.entries()[0].remarks, book.entries()[0].rocket) == ("", "Comet")


def test_what_is_not_kept_is_still_listed_with_its_curve(folder: Path, judging: list[str]) -> None:
    (folder / INDEX_NAME).mkdir()
    book = refreshed(folder)
    assert book.index_problem == "unable to open database file"
    assert files(book) == ["a.flight", "b.flight", "c.flight"]
    assert book.curve("a.flight") == b"\0" * 12
    assert refreshed(folder).curve("a.flight") == b"\0" * 12
    assert len(judging) == 6


def test_what_was_judged_before_a_sudden_end_is_kept(
    folder: Path, row: MakeRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(2 * KEPT_AT_ONCE):
        (folder / f"n{number:03}.flight").write_bytes(b"x")

    class SuddenEndError(Exception):
        pass

    def until(paths: list[Path], _should_stop: Callable[[], bool]) -> object:
        for number, path in enumerate(paths):
            if number == KEPT_AT_ONCE + 5:
                raise SuddenEndError
            status = path.stat()
            yield Indexed(path.name, Stamp(status.st_size, status.st_mtime_ns), row(file=path.name))

    monkeypatch.setattr("station.logbook.book.judge_logs", until)
    book = Logbook(folder)
    with pytest.raises(SuddenEndError):
        book.refresh(book.pending())
    assert len(Logbook(folder).pending()) == 3 + 2 * KEPT_AT_ONCE - (KEPT_AT_ONCE + 5)


def test_progress_is_told_and_stopping_is_asked_for(folder: Path, judging: list[str]) -> None:
    told: list[int] = []
    book = Logbook(folder)
    book.refresh(book.pending(), told.append)
    assert told == [1, 2, 3]


@pytest.mark.parametrize("name", ["../a.flight", "a.note.json", "none.flight", "", "folder.flight"])
def test_only_logs_of_the_folder_can_be_named(folder: Path, judging: list[str], name: str) -> None:
    with pytest.raises(FileUnreadableError, match="is none of the logs in"):
        refreshed(folder).change_note(name, {"remarks": "x"})


def test_a_note_that_does_not_fit_or_cannot_be_read_is_refused(folder: Path, judging: list[str]) -> None:
    book = refreshed(folder)
    with pytest.raises(BadNoteError):
        book.change_note("a.flight", {"day": "soon"})
    (folder / "a.note.json").write_text("torn")
    with pytest.raises(OutputError):
        book.change_note("a.flight", {"day": "2031-05-04"})
    assert book.entries()[0].note_problem is not None


def test_a_folder_that_is_none_is_an_error_in_one_line(folder: Path) -> None:
    with pytest.raises(FileUnreadableError, match="does not exist"):
        Logbook(folder / "nowhere")
    with pytest.raises(FileUnreadableError, match="is not a folder"):
        Logbook(folder / "a.flight")


def test_a_thousand_flights_are_listed_without_judging_or_reading_a_log(
    tmp_path: Path, row: MakeRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = []
    for number in range(1000):
        path = tmp_path / f"{number:04}.flight"
        path.write_bytes(b"x")
        status = path.stat()
        found.append(Indexed(path.name, Stamp(status.st_size, status.st_mtime_ns), row(file=path.name)))
    Logbook(tmp_path)._index.store(found)

    def refuse(self: Path, *_arguments: object, **_named: object) -> object:
        raise AssertionError(f"{self} was read")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    book = Logbook(tmp_path)
    assert book.pending() == []
    assert len(book.entries()) == 1000
