"""The text of a flight log: values to bytes and back. Pure; `FLIGHT_LOG.md` describes the format."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final, NamedTuple

from station.records import new_tuple

VERSION: Final = 1
VERSION_PREFIX: Final = b"station flight log "

_BACKSLASH: Final = ord("\\")
_ESCAPED: Final = re.compile(rb"\\(?:x([0-9A-F]{2})|(\\))")
_TO_ESCAPE: Final = re.compile(rb"[^ -~]|\\")
_ENTRY: Final = re.compile(rb"([0-9]{1,12})\.([0-9]{6}) (line|mark|note|read)(?: (.*))?", re.DOTALL)
_HEADER: Final = re.compile(rb"([a-z][a-z ]*): ?(.*)", re.DOTALL)


class EntryKind(StrEnum):
    """What an entry is: a line as received, the operator's mark, the station's own note, or a line as it was read out
    of the altimeter afterwards.
    """

    LINE = "line"
    MARK = "mark"
    NOTE = "note"
    READ = "read"


ALTIMETERS_OWN = (EntryKind.LINE, EntryKind.READ)
"""The kinds of entry that hold a line of the altimeter; no set, for a member's hash takes longer than both looks."""

_KINDS: Final = {kind.encode(): kind for kind in EntryKind}


class LogEntry(NamedTuple):
    """One entry. `arrival_us` counts microseconds from when the log was opened; None in a bare capture.

    A named tuple, as a flight has tens of thousands of them: made in a quarter of the time of a frozen dataclass.
    """

    kind: EntryKind
    arrival_us: int | None
    data: bytes

    @property
    def text(self) -> str:
        """The data as text, for marks and notes."""
        return self.data.decode("utf-8", "replace")


@dataclass(frozen=True, slots=True)
class LogHeader:
    """What is known before the first line. `opened` is when entries' clock began, in UTC.

    `port` is where lines come from; `software` the station's name and version; `clock` says what entries are
    timed with; `plan` is the text of the flight plan, if one was given; `continues` is the name of the log
    that this one goes on from, if that could not be written any further. In a log made of a read-out, `read_from`
    names the file that was read, `joined` the log of the received lines that went into it, and `unheard` counts the
    lines of the read-out that are not among those.
    """

    opened: datetime | None
    port: str
    software: str
    clock: str
    plan: str | None = None
    continues: str | None = None
    joined: str | None = None
    read_from: str | None = None
    unheard: int | None = None

    def text(self) -> bytes:
        """The log's first lines, version line included, up to the blank line that ends the header."""
        opened = "" if self.opened is None else self.opened.astimezone(UTC).isoformat().replace("+00:00", "Z")
        pairs = [("opened", opened), ("port", self.port), ("software", self.software), ("clock", self.clock)]
        optional = (
            ("plan", self.plan),
            ("continues", self.continues),
            ("joined", self.joined),
            ("read from", self.read_from),
            ("unheard", None if self.unheard is None else str(self.unheard)),
        )
        pairs += [(key, value) for key, value in optional if value is not None]
        lines = [VERSION_PREFIX + b"%d" % VERSION]
        lines += [key.encode() + b": " + escape(value.encode("utf-8", "replace")) for key, value in pairs]
        return b"\n".join([*lines, b"", b""])


def header_from(lines: list[bytes]) -> LogHeader:
    """The header in the lines between the version line and the blank line.

    Keys that this version does not know are passed over, missing ones are empty.
    """
    found: dict[str, str] = {}
    for line in lines:
        match = _HEADER.fullmatch(line)
        if match is not None:
            found[match.group(1).decode()] = unescape(match.group(2)).decode("utf-8", "replace")
    return LogHeader(
        _moment(found.get("opened", "")),
        found.get("port", ""),
        found.get("software", ""),
        found.get("clock", ""),
        found.get("plan"),
        found.get("continues"),
        found.get("joined"),
        found.get("read from"),
        _count(found.get("unheard", "")),
    )


def log_text(header: LogHeader, entries: Iterable[LogEntry]) -> bytes:
    """A whole log."""
    return b"".join([header.text(), *map(entry_text, entries)])


def entry_text(entry: LogEntry) -> bytes:
    """The entry's line in the log, LF included. An entry without a time is written at 0."""
    seconds, microseconds = divmod(entry.arrival_us or 0, 1_000_000)
    return b"%d.%06d %s %s\n" % (seconds, microseconds, entry.kind.encode(), escape(entry.data))


def entry_from(line: bytes) -> LogEntry | None:
    """The entry in one line of the log (without its LF), or None if it is none."""
    match = _ENTRY.fullmatch(line)
    if match is None:
        return None
    seconds, microseconds, kind, data = match.groups()
    # Both parts are digits, the second six of them: read as one number they are microseconds.
    return new_tuple(LogEntry, (_KINDS[kind], int(seconds + microseconds), unescape(data or b"")))


def escape(data: bytes) -> bytes:
    r"""Printable ASCII stays as it is, a backslash is doubled, any other byte becomes ``\xNN``."""
    return _TO_ESCAPE.sub(lambda match: b"\\\\" if match.group() == b"\\" else b"\\x%02X" % match.group()[0], data)


def unescape(text: bytes) -> bytes:
    """What `escape` was given; a backslash that it did not write stays as it is."""
    # Asked for as a number: to look for bytes of length one, bytes first tries them as a number, and fails.
    if _BACKSLASH not in text:
        return text
    return _ESCAPED.sub(lambda match: b"\\" if match.group(2) else bytes([int(match.group(1), 16)]), text)


def _count(text: str) -> int | None:
    return int(text) if re.fullmatch("[0-9]{1,9}", text) else None


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
