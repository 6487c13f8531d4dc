"""A virtual flight as the station would have saved it: its log, or a bare capture."""

from datetime import UTC, datetime

from station.flight_log.entries import EntryKind, LogEntry, LogHeader, entry_text
from station.virtual.virtual_flight import VirtualFlight
from station.wire import LineFramer

# Any flight is logged as if opened at the same moment: a log must not depend on the day it was made on.
OPENED = datetime(2031, 5, 4, 9, 30, tzinfo=UTC)


def bare_capture(flight: VirtualFlight) -> bytes:
    """What a terminal program saves: the bytes that the receiver gave out, and no times."""
    return b"".join(line.data for line in flight.lines)


def flight_log(flight: VirtualFlight) -> bytes:
    """What the station's recorder saves of the flight: each received line with the time at which it came."""
    header = LogHeader(
        OPENED, f"virtual altimeter, {flight.name}, seed {flight.seed}", "virtual altimeter", "virtual, from zero"
    )
    parts = [header.text()]
    framer = LineFramer()
    arrival_us = 0
    for sent in flight.lines:
        arrival_us = round(sent.t_s * 1e6)
        parts += [entry_text(LogEntry(EntryKind.LINE, arrival_us, line)) for line in framer.feed(sent.data)]
    parts += [entry_text(LogEntry(EntryKind.LINE, arrival_us, line)) for line in framer.flush()]
    return b"".join(parts)
