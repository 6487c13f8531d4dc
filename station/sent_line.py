"""Good lines of a saved flight as the altimeter sent them: what makes two the same, and where each stands. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from station.flight_log.entries import ALTIMETERS_OWN, LogEntry
from station.records import Reject, SampleRecord, SignalRecord
from station.unit_clock import UnitClock
from station.wire import decode_line

_CRC_BYTES = 5


@dataclass(frozen=True, slots=True)
class SentLine:
    """A line in which the altimeter says something of its own.

    `says` is KIND, T_MS and fields as written: the same in two records of one flight, and hardly ever in those of two.
    `seq` is its count, `raw_t_ms` its T_MS, `t_ms` its place on the record's own time line, `stretch` how often
    the altimeter had restarted in the record before it.
    """

    entry: LogEntry
    says: bytes
    seq: int
    raw_t_ms: int
    t_ms: int
    stretch: int
    is_sample: bool


def sent_lines(entries: Iterable[LogEntry]) -> list[SentLine]:
    """The good lines among the entries; not the receiver's own, nor those without SEQ or T_MS."""
    clock = UnitClock()
    found = []
    for entry in entries:
        if entry.kind not in ALTIMETERS_OWN:
            continue
        record = decode_line(entry.data)
        if record is None or isinstance(record, Reject | SignalRecord) or record.seq is None or record.t_ms is None:
            continue
        t_ms = clock.take(record.seq, record.t_ms, entry.arrival_us)
        found.append(
            SentLine(
                entry,
                _says(entry.data),
                record.seq,
                record.t_ms,
                t_ms,
                clock.restarts,
                isinstance(record, SampleRecord),
            )
        )
    return found


def _says(line: bytes) -> bytes:
    """The line without noise, SEQ and CRC."""
    frame = line[line.rfind(b"@") + 1 :].removesuffix(b"\r")[:-_CRC_BYTES]
    kind, _, rest = frame.split(b",", 2)
    return kind + b"," + rest
