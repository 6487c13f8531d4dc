"""What the owner says of a flight, in a small file beside its log (`station/flight_log/FLIGHT_LOG.md`). Pure."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

LONGEST_REMARKS = 2000
LONGEST_NAME = 60
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class BadNoteError(ValueError):
    """Why a note, or a change of one, was not taken, in one line."""


@dataclass(frozen=True, slots=True)
class OwnersNote:
    """None: the owner has not said. Empty: the owner has taken back what was said. `day` is YYYY-MM-DD."""

    rocket: str | None = None
    motor: str | None = None
    day: str | None = None
    remarks: str | None = None

    def or_else(self, other: "OwnersNote") -> "OwnersNote":
        """This note, and of the other one what this leaves unsaid."""
        unsaid = {f.name: getattr(other, f.name) for f in fields(self) if getattr(self, f.name) is None}
        return replace(self, **unsaid)


KEYS = tuple(f.name for f in fields(OwnersNote))


def note_from(text: str) -> OwnersNote:
    """The note in a file's text. Raises BadNoteError."""
    found = parsed(text)
    return OwnersNote(**{key: checked(key, found[key]) for key in KEYS if found.get(key) is not None})


def changed_text(text: str, changes: Mapping[str, Any]) -> str:
    """The file's text after a change of some keys; whatever else stands in it is kept. Raises BadNoteError."""
    found = parsed(text) if text.strip() else {}
    unknown = sorted(set(changes) - set(KEYS))
    if unknown:
        raise BadNoteError(f"a note has no {unknown[0]}: it has {', '.join(KEYS)}")
    found |= {key: checked(key, value) for key, value in changes.items()}
    return json.dumps(found, ensure_ascii=False, indent=1) + "\n"


def parsed(text: str) -> dict[str, Any]:
    """The JSON object in a note. Raises BadNoteError."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadNoteError(f"no JSON ({error})") from error
    if not isinstance(found, dict):
        raise BadNoteError("no JSON object")
    return found


def checked(key: str, value: Any) -> str:
    """The value of a key without blanks around it. Raises BadNoteError."""
    if not isinstance(value, str):
        raise BadNoteError(f"{key} is not a text")
    text = value.strip().replace("\r\n", "\n")
    longest = LONGEST_REMARKS if key == "remarks" else LONGEST_NAME
    if len(text) > longest:
        raise BadNoteError(f"{key} of {len(text)} characters is too long: {longest} fit")
    if not (text.replace("\n", "") if key == "remarks" else text).isprintable():
        raise BadNoteError(f"{key} holds characters that cannot be shown")
    if key == "day" and text and not _is_day(text):
        raise BadNoteError(f"{text!r} is not a day such as 2031-05-04")
    return text


def _is_day(text: str) -> bool:
    if not _DAY.fullmatch(text):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
