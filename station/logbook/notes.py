"""The owner's notes on disk, each beside its log."""

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from station.errors import OutputError
from station.flight_log.folder import SUFFIX
from station.logbook.note import BadNoteError, OwnersNote, changed_text, note_from

_LONGEST_BYTES = 64 * 1024


def note_path(log: Path) -> Path:
    """Where the note on a log is."""
    return log.with_name(f"{log.name.removesuffix(SUFFIX)}.note.json")


def read_note(log: Path) -> tuple[OwnersNote, str | None]:
    """The owner's note on a log, an empty one if there is none; and why it could not be read, if so."""
    try:
        return note_from(_text(note_path(log))), None
    except FileNotFoundError:
        return OwnersNote(), None
    except BadNoteError as error:
        return OwnersNote(), f"{note_path(log).name}: {error}"
    except OSError as error:
        return OwnersNote(), f"{note_path(log).name}: {error.strerror or error}"


def change_note(log: Path, changes: Mapping[str, Any]) -> None:
    """Change some keys of the note on a log; the old one stays whole until the new one is.

    Raises BadNoteError for a value that a note cannot hold, OutputError if the note cannot be written, or if there is
    one that cannot be read and would be lost.
    """
    path = note_path(log)
    before = ""
    try:
        before = _text(path)
        note_from(before)
    except FileNotFoundError:
        pass
    except (BadNoteError, OSError) as error:
        raise OutputError(
            f"{path} cannot be read ({error}) and is not written over: mend it, or move it away."
        ) from error
    after = changed_text(before, changes)
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="\n") as file:
            file.write(after)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise OutputError(f"{path} cannot be written ({error.strerror or error}): the note is not kept.") from error


def _text(path: Path) -> str:
    """Raises FileNotFoundError, OSError, BadNoteError."""
    with path.open("rb") as file:
        data = file.read(_LONGEST_BYTES + 1)
    if len(data) > _LONGEST_BYTES:
        raise BadNoteError("too long for a note")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadNoteError("not UTF-8") from error
