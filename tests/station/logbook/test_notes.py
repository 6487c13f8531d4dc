"""Notes beside their logs."""

from pathlib import Path

import pytest

from station.errors import OutputError
from station.logbook.note import BadNoteError, OwnersNote
from station.logbook.notes import change_note, note_path, read_note


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "2031-05-04.club.flight"


def test_a_note_is_written_beside_its_log_and_read_back(log: Path) -> None:
    assert read_note(log) == (OwnersNote(), None)
    change_note(log, {"remarks": "Windy."})
    change_note(log, {"rocket": "Little Comet"})
    assert read_note(log) == (OwnersNote(rocket="Little Comet", remarks="Windy."), None)
    assert [path.name for path in log.parent.iterdir()] == ["2031-05-04.club.note.json"]


def test_a_value_that_does_not_fit_changes_nothing(log: Path) -> None:
    change_note(log, {"remarks": "Windy."})
    before = note_path(log).read_bytes()
    with pytest.raises(BadNoteError):
        change_note(log, {"remarks": "Calm.", "day": "soon"})
    assert note_path(log).read_bytes() == before


@pytest.mark.parametrize("content", [b"{torn", b"\xff\xfe\x00", b"[1]", b" " * 70_000])
def test_a_note_that_cannot_be_read_is_told_and_never_written_over(log: Path, content: bytes) -> None:
    note_path(log).write_bytes(content)
    found, problem = read_note(log)
    assert found == OwnersNote()
    assert problem is not None
    assert problem.startswith("2031-05-04.club.note.json: ")
    with pytest.raises(OutputError, match="is not written over"):
        change_note(log, {"remarks": "Calm."})
    assert note_path(log).read_bytes() == content


def test_a_note_that_an_editor_saved_with_its_mark_is_read(log: Path) -> None:
    note_path(log).write_bytes(b'\xef\xbb\xbf{"remarks": "Windy."}')
    assert read_note(log) == (OwnersNote(remarks="Windy."), None)


def test_a_note_that_cannot_be_written_is_an_error_that_says_so(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        change_note(tmp_path / "gone" / "a.flight", {"remarks": "Windy."})
