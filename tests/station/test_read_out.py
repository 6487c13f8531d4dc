"""A hole in what was heard, filled by what was read out, against the same flight heard in full."""

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import pytest

from station.after_landing import CheckReport, judge_lines
from station.errors import DifferentFlightError, NotALogError
from station.flight_log.entries import EntryKind, LogEntry
from station.flight_log.flight_file import FlightFile, parse_flight
from station.pipeline import Pipeline
from station.read_out import as_log, compare, join, probes
from station.records import SampleRecord
from station.replay import Playback
from station.unit_clock import T_MS_MODULUS
from station.virtual import SCENARIOS, VirtualFlight, fly_setup
from station.virtual.flight_setup import Moment, Silence
from station.virtual.radio import CLEAR
from station.virtual.saved_flight import OPENED, bare_capture, flight_log
from station.wire import decode_line, encode

JUST_ON, BEFORE_WRAP = (400, 1), (T_MS_MODULUS - 15_000, 65_000)
HOLE = Silence(Moment.DROGUE_FIRED, -3.0, 7.0)


@cache
def flown(
    name: str, seed: int, *, begins: tuple[int, int] | None = None, heard: bool, hole: Silence = HOLE
) -> VirtualFlight:
    """The same flight heard badly, or every line of it; it begins with these T_MS and SEQ."""
    setup = SCENARIOS[name].setup(seed)
    if begins is not None:
        setup = replace(setup, altimeter=replace(setup.altimeter, first_t_ms=begins[0], first_seq=begins[1]))
    if heard:
        bad = replace(setup.radio, loss_fraction=0.15, corrupt_fraction=0.01)
        return fly_setup(replace(setup, radio=bad, faults=replace(setup.faults, silences=(hole,))), seed, name)
    return fly_setup(replace(setup, radio=CLEAR), seed, name)


def log_of(flight: VirtualFlight) -> FlightFile:
    return parse_flight(flight_log(flight), "flights/heard.flight")


def read_out_of(flight: VirtualFlight) -> FlightFile:
    return parse_flight(bare_capture(flight), "readout.txt")


def judged(file: FlightFile) -> CheckReport:
    return judge_lines(file.lines, file=file.name, unheard=file.unheard)


@cache
def judged_in_full(name: str, seed: int) -> CheckReport:
    """The report of the flight of which every line was heard."""
    return judged(log_of(flown(name, seed, heard=False)))


def joined(heard: FlightFile, read: FlightFile) -> FlightFile:
    found = join(heard, read, software="test")
    assert found is not None
    return found


def opened_s(report: CheckReport) -> float:
    drogue = report.deployments[0]
    assert drogue.opened_t_ms is not None
    assert report.liftoff_ms is not None
    return (drogue.opened_t_ms - report.liftoff_ms) / 1000.0


def samples(file: FlightFile) -> list[SampleRecord]:
    return [record for line, _ in file.lines if isinstance(record := decode_line(line), SampleRecord)]


@pytest.mark.parametrize(
    ("name", "seed", "begins"),
    [
        ("nominal-dual", 2, BEFORE_WRAP),
        ("drogue-late", 5, None),
        ("restart-in-flight", 3, None),
    ],
)
def test_a_flight_with_a_hole_joined_with_its_read_out_is_judged_as_if_nothing_had_been_lost(
    name: str, seed: int, begins: tuple[int, int] | None
) -> None:
    full, lossy = flown(name, seed, begins=begins, heard=False), flown(name, seed, begins=begins, heard=True)
    heard, read = log_of(lossy), read_out_of(full)
    whole, found, before = judged(log_of(full)), judged(joined(heard, read)), judged(heard)
    assert_judged_alike(found, whole)
    # The hole did cost something before: the drogue took hold in it.
    assert opened_s(before) - opened_s(whole) > 0.5


def assert_judged_alike(found: CheckReport, whole: CheckReport) -> None:
    """To the last bit: both are of the same samples, on the same clock."""
    assert found.liftoff_ms == whole.liftoff_ms
    assert found.events == whole.events
    assert found.verdict is whole.verdict
    assert found.deployments == whole.deployments
    assert found.summary == whole.summary
    assert found.stretches == whole.stretches
    assert found.alerts == whole.alerts
    assert found.snapshot.link.lost == 0


@pytest.mark.parametrize(
    ("name", "seed"), [("nominal-dual", 11), ("main-stays-in", 12), ("tangled-main", 13), ("late-ejection", 14)]
)
@pytest.mark.parametrize(
    "hole",
    [
        Silence(Moment.LIFTOFF, -2.0, 2.5),
        Silence(Moment.BURNOUT, -0.5, 4.0),
        Silence(Moment.APOGEE, -4.0, 6.0),
        Silence(Moment.MAIN_FIRED, -1.5, 4.0),
        Silence(Moment.TOUCHDOWN, -12.0, 4.0),
        Silence(Moment.LIFTOFF, 1.0, None),
    ],
    ids=lambda hole: f"{hole.moment}{hole.start_s:+.0f}",
)
def test_wherever_the_hole_is_the_join_fills_it(name: str, seed: int, hole: Silence) -> None:
    full, lossy = flown(name, seed, heard=False), flown(name, seed, heard=True, hole=hole)
    heard = log_of(lossy)
    before, whole = judged(heard), judged_in_full(name, seed)
    assert before.snapshot.link.lost > 0
    assert before.summary != whole.summary
    assert_judged_alike(judged(joined(heard, read_out_of(full))), whole)


def test_it_says_how_many_lines_the_radio_had_missed() -> None:
    full, lossy = flown("nominal-dual", 1, heard=False), flown("nominal-dual", 1, heard=True)
    heard, read = log_of(lossy), read_out_of(full)
    good = {line for line, _ in heard.lines}
    missed = sum(line not in good for line, _ in read.lines)
    assert missed > 500
    # A line with noise before it, or with its CR, is in the log in other bytes than in the read-out.
    assert joined(heard, read).unheard == pytest.approx(missed, abs=15)
    assert joined(heard, read).unheard == judged(heard).snapshot.link.lost


def test_what_was_heard_stays_to_the_byte_with_its_arrival_marks_and_notes_too() -> None:
    heard = log_of(flown("nominal-dual", 1, heard=True))
    middle = len(heard.entries) // 2
    at_us = heard.entries[middle].arrival_us
    extra = (LogEntry(EntryKind.MARK, at_us, b"wind up"), LogEntry(EntryKind.NOTE, at_us, b"port lost"))
    heard = replace(heard, entries=(*heard.entries[:middle], *extra, *heard.entries[middle:]))
    found = joined(heard, read_out_of(flown("nominal-dual", 1, heard=False)))
    kept = [entry for entry in found.entries if entry.kind is not EntryKind.READ]
    assert sorted(kept, key=repr) == sorted(heard.entries, key=repr)
    assert found.header is not None
    assert (found.header.joined, found.header.read_from) == ("heard.flight", "readout.txt")


def test_lines_stand_in_the_order_in_which_they_were_sent() -> None:
    full = flown("nominal-dual", 1, heard=False)
    heard = log_of(flown("nominal-dual", 1, heard=True))
    # Lines overtook each other in the radio's queue.
    entries = list(heard.entries)
    for k in range(0, len(entries) - 4, 40):
        entries[k], entries[k + 2] = entries[k + 2], entries[k]
    found = joined(replace(heard, entries=tuple(entries)), read_out_of(full))
    assert samples(found) == samples(read_out_of(full))


def test_a_read_out_that_begins_before_the_log_was_opened_opens_the_log_earlier() -> None:
    full, heard = flown("nominal-dual", 1, heard=False), log_of(flown("nominal-dual", 1, heard=True))
    late_us = 20_000_000
    begun = tuple(
        entry._replace(arrival_us=entry.arrival_us - late_us)
        for entry in heard.entries
        if entry.arrival_us is not None and entry.arrival_us >= late_us
    )
    assert heard.header is not None
    found = joined(replace(heard, entries=begun), read_out_of(full))
    assert found.header is not None
    assert found.header.opened is not None
    assert OPENED - found.header.opened == timedelta(seconds=20)
    assert min(entry.arrival_us or 0 for entry in found.entries) >= 0
    whole, mine = judged(log_of(full)), judged(found)
    assert mine.summary.apogee_m == pytest.approx(whole.summary.apogee_m, abs=0.01)


def test_what_the_altimeter_kept_of_other_flights_is_left_out() -> None:
    heard = log_of(flown("nominal-dual", 1, begins=JUST_ON, heard=True))
    before, this, after = (bare_capture(flown("nominal-dual", seed, begins=JUST_ON, heard=False)) for seed in (4, 1, 5))
    alone = joined(heard, parse_flight(this, "readout.txt"))
    found = joined(heard, parse_flight(before + this + after, "readout.txt"))
    assert samples(found) == samples(alone) == samples(parse_flight(this, "readout.txt"))


def test_what_it_kept_after_a_restart_that_the_radio_did_not_hear_is_of_the_flight() -> None:
    full, heard = flown("restart-in-flight", 3, heard=False), log_of(flown("restart-in-flight", 3, heard=True))
    restart = next(k for k, (a, b) in enumerate(pairwise(samples(heard))) if b.t_ms < a.t_ms)
    last = samples(heard)[restart]
    end = next(k for k, entry in enumerate(heard.entries) if decode_line(entry.data) == last)
    found = joined(replace(heard, entries=heard.entries[: end + 1]), read_out_of(full))
    assert samples(found) == samples(read_out_of(full))
    # How long it was off nobody heard, so only the verdicts are the same.
    assert judged(found).verdict is judged(log_of(full)).verdict


def numbered(record, seq: int):
    """The record with another SEQ; a sample is a named tuple, the others are dataclasses."""
    return record._replace(seq=seq) if isinstance(record, SampleRecord) else replace(record, seq=seq)


def test_a_read_out_that_counts_its_lines_otherwise_stands_alone() -> None:
    heard, read = log_of(flown("nominal-dual", 1, heard=True)), read_out_of(flown("nominal-dual", 1, heard=False))
    recounted = [
        encode(numbered(record, number)).rstrip()
        for number, record in enumerate(decode_line(line) for line, _ in read.lines)
    ]
    other = replace(read, entries=tuple(LogEntry(EntryKind.LINE, None, line) for line in recounted))
    assert not compare(heard, other).same_count
    found = joined(heard, other)
    assert [entry.data for entry in found.entries if entry.kind is EntryKind.READ] == recounted
    assert found.unheard == joined(heard, read).unheard
    assert judged(found).snapshot.link.lost == 0
    assert judged(found).summary.apogee_m == pytest.approx(judged(read).summary.apogee_m, abs=0.01)


def test_a_read_out_of_another_flight_is_refused_with_the_reason() -> None:
    heard = log_of(flown("nominal-dual", 1, heard=True))
    with pytest.raises(DifferentFlightError, match=r"^readout\.txt is not of the same flight .*: no sample is in both"):
        join(heard, read_out_of(flown("nominal-dual", 3, heard=False)), software="test")
    with pytest.raises(DifferentFlightError, match=r"its altimeter is HERON-7, the other's SWIFT-2"):
        join(heard, read_out_of(flown("past-mach-1", 2, heard=False)), software="test")


def test_the_same_clock_with_other_pressures_is_another_flight() -> None:
    heard, read = log_of(flown("nominal-dual", 1, heard=True)), read_out_of(flown("nominal-dual", 1, heard=False))
    moved = []
    for line, _ in read.lines:
        record = decode_line(line)
        if isinstance(record, SampleRecord) and record.seq % 3:
            record = record._replace(pressure_pa=record.pressure_pa + 12.5)
        moved.append(LogEntry(EntryKind.LINE, None, encode(record).rstrip()))
    with pytest.raises(DifferentFlightError, match=r"at the same T_MS \d+ of its samples have other values"):
        join(heard, replace(read, entries=tuple(moved)), software="test")


def test_too_few_samples_in_common_are_no_proof() -> None:
    heard, read = log_of(flown("nominal-dual", 1, heard=True)), read_out_of(flown("nominal-dual", 1, heard=False))
    with pytest.raises(DifferentFlightError, match="4 samples in common, and 10 are needed"):
        join(replace(heard, entries=heard.entries[:6]), read, software="test")


def test_a_read_out_that_adds_nothing_is_not_joined_again() -> None:
    heard, read = log_of(flown("nominal-dual", 1, heard=True)), read_out_of(flown("nominal-dual", 1, heard=False))
    assert join(joined(heard, read), read, software="test") is None


def test_a_bare_capture_has_no_times_to_join_by() -> None:
    read = read_out_of(flown("nominal-dual", 1, heard=False))
    with pytest.raises(NotALogError, match="has no times to join by"):
        join(read, read, software="test")


def test_a_read_out_by_itself_becomes_a_log_on_the_altimeter_s_clock() -> None:
    read = read_out_of(flown("nominal-dual", 2, begins=BEFORE_WRAP, heard=False))
    log = as_log(read, software="test")
    assert [entry.data for entry in log.entries] == [entry.data for entry in read.entries]
    assert {entry.kind for entry in log.entries} == {EntryKind.READ}
    assert log.header is not None
    assert log.header.opened is None
    assert log.header.unheard is None
    seconds = [(entry.arrival_us or 0) / 1e6 for entry in log.entries]
    assert seconds[0] == 0.0
    assert seconds == sorted(seconds)
    assert seconds[-1] == pytest.approx(
        flown("nominal-dual", 2, begins=BEFORE_WRAP, heard=False).lines[-1].t_s, abs=0.1
    )
    assert judged(log).summary == judged(read).summary
    with pytest.raises(NotALogError, match="is a log of the station already"):
        as_log(log, software="test")


def test_its_probes_stand_in_every_log_of_the_flight_and_in_no_other() -> None:
    found = probes(read_out_of(flown("nominal-dual", 1, heard=False)))
    assert 40 <= len(found) <= 80
    own, other = flight_log(flown("nominal-dual", 1, heard=True)), flight_log(flown("nominal-dual", 3, heard=True))
    assert sum(piece in own for piece in found) > 20
    assert not any(piece in other for piece in found)


def test_a_joined_flight_replays_with_all_its_lines() -> None:
    found = joined(log_of(flown("nominal-dual", 1, heard=True)), read_out_of(flown("nominal-dual", 1, heard=False)))
    playback = Playback(found, Pipeline)
    playback.seek(playback.duration_us)
    while playback.step() is not None:
        pass
    _, snapshot, _ = playback.session.snapshot()
    assert snapshot.link.lost == 0
    assert snapshot.highest_m == pytest.approx(judged(found).snapshot.highest_m)
