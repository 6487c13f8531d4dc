"""The bytes of a saved flight to what they hold: a log of this station, or a bare capture of lines. Pure."""

import codecs
from dataclasses import dataclass

from station.errors import FileUnreadableError, NotAFlightError
from station.flight_log.entries import (
    ALTIMETERS_OWN,
    VERSION,
    VERSION_PREFIX,
    EntryKind,
    LogEntry,
    LogHeader,
    entry_from,
    header_from,
)
from station.records import Reject
from station.wire import LineFramer, decode_line


@dataclass(frozen=True, slots=True)
class FlightFile:
    """A saved flight as read. `header` is None for a bare capture, whose entries have no arrival times.

    `torn`: the last line was cut off, as a flat battery or a pulled plug leaves it, and was dropped. `damaged`
    counts the lines of a log that are no entries.
    """

    name: str
    header: LogHeader | None
    entries: tuple[LogEntry, ...]
    torn: bool
    damaged: int

    @property
    def lines(self) -> list[tuple[bytes, int | None]]:
        """The altimeter's lines in order, received or read out, each with its time (microseconds) if it has one."""
        return [(data, arrival_us) for kind, arrival_us, data in self.entries if kind in ALTIMETERS_OWN]

    @property
    def unheard(self) -> int | None:
        """How many of the lines were read out after landing and had not been received; None if nobody compared."""
        return None if self.header is None else self.header.unheard

    @property
    def marks(self) -> list[tuple[int, str]]:
        """The operator's marks in order: microseconds since the log was opened, and text."""
        return [(entry.arrival_us or 0, entry.text) for entry in self.entries if entry.kind is EntryKind.MARK]


def parse_flight(data: bytes, name: str) -> FlightFile:
    """What the bytes of a file hold; `name` is for messages.

    Raises NotAFlightError if no line in it is one that an altimeter could have sent and it is no log of this
    station, FileUnreadableError for a log of a later version.
    """
    if not data:
        raise NotAFlightError(f"{name} is empty: nothing was recorded in it.")
    data = _as_bytes_of_text(data)
    # After a power loss some file systems leave zeros where the last lines should be.
    kept = data.rstrip(b"\0")
    zeros_at_end = len(kept) != len(data)
    if kept.startswith(VERSION_PREFIX):
        return _parse_log(kept, name, zeros_at_end)
    return _parse_capture(kept, name, zeros_at_end)


def _parse_log(data: bytes, name: str, zeros_at_end: bool) -> FlightFile:
    *lines, rest = data.split(b"\n")
    # A CR here is an editor's: one that was received is escaped.
    if b"\r" in data:
        lines = [line.removesuffix(b"\r") for line in lines]
    if lines:
        _check_version(lines[0], name)
    end = lines.index(b"", 1) if b"" in lines[1:] else len(lines)
    entries = [entry_from(line) for line in lines[end + 1 :] if line]
    found = tuple([entry for entry in entries if entry is not None])
    return FlightFile(
        name,
        header_from(lines[1:end]),
        found,
        torn=zeros_at_end or bool(rest) or end == len(lines),
        damaged=len(entries) - len(found),
    )


def _check_version(line: bytes, name: str) -> None:
    version = line.removeprefix(VERSION_PREFIX).strip()
    if not version.isdigit() or len(version) > 9:
        raise FileUnreadableError(f"{name}: the first line of this flight log is damaged; its version cannot be read.")
    if int(version) > VERSION:
        raise FileUnreadableError(
            f"{name} was written by a later version of the station (log version {int(version)}, this one reads "
            f"up to {VERSION}): update the station."
        )


def _parse_capture(data: bytes, name: str, zeros_at_end: bool) -> FlightFile:
    framer = LineFramer()
    lines = framer.feed(data)
    last = framer.flush()
    torn = zeros_at_end
    if last and not _is_good(last[0]):
        torn = True
    else:
        lines += last
    if not any(map(_is_good, lines)):
        raise NotAFlightError(
            f"{name} is not a flight: no line in it is one that an altimeter of this protocol sends. Give a log "
            "that the station saved (flights/*.flight), or a capture of the altimeter's lines."
        )
    return FlightFile(name, None, tuple(LogEntry(EntryKind.LINE, None, line) for line in lines), torn, damaged=0)


def _is_good(line: bytes) -> bool:
    record = decode_line(line)
    return record is not None and not isinstance(record, Reject)


def _as_bytes_of_text(data: bytes) -> bytes:
    """Without a UTF-8 mark; UTF-16 text, as some terminal programs save it, back to one byte a character."""
    if data.startswith(codecs.BOM_UTF8):
        return data[len(codecs.BOM_UTF8) :]
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", "replace").encode("latin-1", "replace")
    return data
