"""What was read out of an altimeter after landing, joined with what the radio brought of the same flight. Pure.

That two records are of one flight is told by the lines alone: T_MS and every value written the same. Where both have
a T_MS and the values differ, they are of different flights. The bounds are common practice, no source; see
`station/flight_log/FLIGHT_LOG.md` for what a joined log holds.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from statistics import median

from station.errors import DifferentFlightError, NotALogError
from station.flight_log.entries import ALTIMETERS_OWN, EntryKind, LogEntry, LogHeader
from station.flight_log.flight_file import FlightFile
from station.flight_state import Phase
from station.pipeline import Pipeline
from station.records import SignalRecord, UnitRecord
from station.sent_line import SentLine, sent_lines
from station.wire import decode_line

LEAST_COMMON = 10
MOST_CONTRADICTING_SHARE = 0.1
READ_CLOCK = "the altimeter's own, from its first line"


@dataclass(frozen=True, slots=True)
class Comparison:
    """How two records agree: how many samples are in both (`common`), how many have the same T_MS and other values
    (`contradicting`), and whether those in both have the same SEQ (`same_count`).
    """

    common: int
    contradicting: int
    same_count: bool

    @property
    def is_same_flight(self) -> bool:
        """Enough in common and hardly anything against it."""
        return self.common >= LEAST_COMMON and self.contradicting <= MOST_CONTRADICTING_SHARE * self.common


def compare(heard: FlightFile, read: FlightFile) -> Comparison:
    """Compare the log of what was heard with a read-out."""
    return _Match(sent_lines(heard.entries), sent_lines(read.entries)).comparison


def probes(read: FlightFile, number: int = 40) -> list[bytes]:
    """Pieces of samples from all over a read-out, as they stand in any log of the same flight, whatever its SEQ."""
    samples = [line for line in sent_lines(read.entries) if line.is_sample]
    step = max(1, len(samples) // number)
    return [b"," + line.says.partition(b",")[2] + b"*" for line in samples[::step]]


def join(heard: FlightFile, read: FlightFile, *, software: str) -> FlightFile | None:
    """One record of both: the header says where it is from, and how many lines had not been heard. None if the read-out
    adds nothing.

    Raises NotALogError if `heard` is no log of the station, DifferentFlightError if they are not of one flight.
    """
    if heard.header is None:
        raise NotALogError(f"{heard.name} is a bare capture and has no times to join by: name a log that was recorded.")
    match = _Match(sent_lines(heard.entries), sent_lines(read.entries))
    if not match.comparison.is_same_flight:
        raise DifferentFlightError(_why_not(heard, read, match))
    timed, unheard = match.timed(heard.entries)
    if not unheard:
        return None
    before_us = -min(0, min(time_us for time_us, _ in timed))
    before_us = -(-before_us // 1_000_000) * 1_000_000
    entries = tuple(
        entry._replace(arrival_us=before_us + (time_us if entry.arrival_us is None else entry.arrival_us))
        for time_us, entry in timed
    )
    opened = heard.header.opened
    header = replace(
        heard.header,
        opened=None if opened is None else opened - timedelta(microseconds=before_us),
        software=software,
        continues=None,
        joined=_base_name(heard.name),
        read_from=_base_name(read.name),
        unheard=unheard + (heard.unheard or 0),
    )
    return FlightFile(heard.name, header, entries, torn=False, damaged=0)


def as_log(read: FlightFile, *, software: str) -> FlightFile:
    """A read-out by itself, timed by the altimeter's clock.

    Raises NotALogError if it is a log of the station already, or if no line in it has a time.
    """
    if read.header is not None:
        raise NotALogError(
            f"{read.name} is a log of the station already: copy it beside your other logs, or name with --join the "
            "log that it is to be joined with."
        )
    sent = iter(sent_lines(read.entries))
    line = next(sent, None)
    if line is None:
        raise NotALogError(f"{read.name}: no line in it says when it was sent, so it cannot become a log.")
    first_ms = now_ms = line.t_ms
    entries = []
    for entry in read.entries:
        if line is not None and entry is line.entry:
            now_ms = max(now_ms, line.t_ms)
            line = next(sent, None)
        entries.append(LogEntry(EntryKind.READ, 1000 * (now_ms - first_ms), entry.data))
    header = LogHeader(None, _base_name(read.name), software, READ_CLOCK, read_from=_base_name(read.name))
    return FlightFile(read.name, header, tuple(entries), torn=False, damaged=0)


class _Match:
    """Lines of both records put together."""

    def __init__(self, heard: Sequence[SentLine], read: Sequence[SentLine]) -> None:
        self.heard, self.read = heard, read
        places: dict[bytes, list[int]] = defaultdict(list)
        for place, line in enumerate(read):
            places[line.says].append(place)
        self.stretches = self._same_stretches(places)
        self.of_read: dict[int, int] = {}
        self.twin: list[int | None] = []
        for number, line in enumerate(heard):
            stretch = self.stretches.get(line.stretch)
            found = [place for place in places.get(line.says, []) if read[place].stretch == stretch]
            twin = next((place for place in found if place not in self.of_read), found[-1] if found else None)
            if twin is not None:
                self.of_read.setdefault(twin, number)
            self.twin.append(twin)

    def _same_stretches(self, places: dict[bytes, list[int]]) -> dict[int, int]:
        """For each heard stretch the one of the read-out with which it has most samples in common. Lines of other kinds
        count only where there is no sample: they are often the same after every start of the altimeter.
        """
        votes: dict[int, Counter[tuple[bool, int]]] = defaultdict(Counter)
        for line in self.heard:
            for stretch in {self.read[place].stretch for place in places.get(line.says, [])}:
                votes[line.stretch][line.is_sample, stretch] += 1
        best = {mine: max((is_sample, count, of) for (is_sample, of), count in v.items()) for mine, v in votes.items()}
        return {mine: stretch for mine, (_, _, stretch) in best.items()}

    @property
    def comparison(self) -> Comparison:
        both = zip(self.heard, self.twin, strict=True)
        pairs = [(line, self.read[place]) for line, place in both if place is not None and line.is_sample]
        sampled = {(line.stretch, line.raw_t_ms) for line in self.read if line.is_sample}
        against = sum(
            line.is_sample and (self.stretches.get(line.stretch), line.raw_t_ms) in sampled
            for line, place in zip(self.heard, self.twin, strict=True)
            if place is None
        )
        agreeing = sum(mine.seq == other.seq for mine, other in pairs)
        return Comparison(len(pairs), against, 2 * agreeing > len(pairs))

    def timed(self, entries: Sequence[LogEntry]) -> tuple[list[tuple[int, LogEntry]], int]:
        """Every entry of the joined log with its time (microseconds on the heard log's clock), in order; one that was
        read has no arrival of its own yet. And how many lines of the read-out had not been heard.
        """
        heard_us = self._heard_times()
        read_us = self._read_times(heard_us)
        kept = self._kept_stretches(read_us)
        together = self.comparison.same_count
        timed: list[tuple[int, LogEntry]] = []
        number = 0
        for entry in entries:
            is_sent = number < len(self.heard) and entry is self.heard[number].entry
            if is_sent:
                number += 1
            if together or entry.kind not in ALTIMETERS_OWN or isinstance(decode_line(entry.data), SignalRecord):
                place = self.twin[number - 1] if is_sent else None
                if is_sent:
                    # Twins stand where the read-out has them, so that late lines come into order.
                    at_us = read_us[place] if place is not None else heard_us[number - 1]
                else:
                    at_us = entry.arrival_us or 0
                timed.append((at_us, entry))
        unheard = 0
        for place, line in enumerate(self.read):
            if line.stretch not in kept:
                continue
            is_new = place not in self.of_read
            unheard += is_new
            if is_new or not together:
                timed.append((read_us[place], LogEntry(EntryKind.READ, None, line.entry.data)))
        timed.sort(key=lambda item: item[0])
        return timed, unheard

    def _heard_times(self) -> list[int]:
        """When each heard line would have come in with the least delay of its stretch."""
        least: dict[int, int] = {}
        for line in self.heard:
            delay = (line.entry.arrival_us or 0) - 1000 * line.t_ms
            least[line.stretch] = min(delay, least.get(line.stretch, delay))
        return [1000 * line.t_ms + least[line.stretch] for line in self.heard]

    def _read_times(self, heard_us: Sequence[int]) -> list[int]:
        """When each line of the read-out would have come in; a stretch of which nothing was heard comes right after the
        one before it.
        """
        offsets: dict[int, list[int]] = defaultdict(list)
        for at_us, place in zip(heard_us, self.twin, strict=True):
            if place is not None:
                offsets[self.read[place].stretch].append(at_us - 1000 * self.read[place].t_ms)
        offset_us = {stretch: round(median(values)) for stretch, values in offsets.items()}
        times: list[int] = []
        newest_us: int | None = None
        for line in self.read:
            if line.stretch not in offset_us:
                start_us = 0 if newest_us is None else newest_us + 1000
                offset_us[line.stretch] = start_us - 1000 * line.t_ms
            times.append(1000 * line.t_ms + offset_us[line.stretch])
            newest_us = times[-1] if newest_us is None else max(newest_us, times[-1])
        return times

    def _kept_stretches(self, read_us: Sequence[int]) -> set[int]:
        """The stretches of this flight: from the first of which something was heard to the last, and those after it
        if the rocket was not down by then.
        """
        heard = {self.read[place].stretch for place in self.of_read}
        kept = set(range(min(heard), max(heard) + 1))
        last = self.read[-1].stretch
        if last > max(heard):
            pipeline = Pipeline()
            for line, at_us in zip(self.read, read_us, strict=True):
                if line.stretch in kept:
                    pipeline.take_line(line.entry.data, at_us)
            if pipeline.tracker.phase is not Phase.DOWN:
                kept |= set(range(max(heard) + 1, last + 1))
        return kept


def _why_not(heard: FlightFile, read: FlightFile, match: _Match) -> str:
    found = match.comparison
    start = f"{read.name} is not of the same flight as {heard.name}"
    units = [_unit_names(heard), _unit_names(read)]
    if all(units) and not units[0] & units[1]:
        first, second = (", ".join(sorted(names)) for names in units)
        return f"{start}: its altimeter is {second}, the other's {first}."
    if found.contradicting:
        return (
            f"{start}: at the same T_MS {found.contradicting} of its samples have other values "
            f"({found.common} have the same)."
        )
    if found.common:
        return (
            f"{start}, as far as can be told: they have {found.common} samples in common, and {LEAST_COMMON} are "
            "needed to be sure."
        )
    return f"{start}: no sample is in both ({len(match.heard)} lines were heard, {len(match.read)} read out)."


def _unit_names(file: FlightFile) -> set[str]:
    records = (decode_line(entry.data) for entry in file.entries)
    return {record.unit_name for record in records if isinstance(record, UnitRecord)}


def _base_name(name: str) -> str:
    """The last part of a path, of either kind of system."""
    return name.replace("\\", "/").rpartition("/")[2]
