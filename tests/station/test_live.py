import logging
import os
import random
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import pytest

from station.errors import RecordingError
from station.flight_log import EntryKind, FlightLogWriter, LogEntry, LogHeader, read_flight_file
from station.live import LONGEST_MARK, LiveFlight, start_clock
from station.pipeline import Pipeline
from station.records import SampleRecord
from station.serial_link import LinkChange, SerialLink
from station.session import FlightSession
from station.wire import encode

HEADER = LogHeader(datetime(2031, 5, 4, tzinfo=UTC), "test", "station", "monotonic")
LOST = LinkChange(False, "port lost: waiting for test")
BACK = LinkChange(True, "port back: test")


class NotingPipeline:
    """Notes what it is fed, after doing what the test asks for."""

    def __init__(self, before: Callable[[bytes], object] = lambda _line: None) -> None:
        self.fed: list[tuple[bytes, int | None]] = []
        self.track: list[Any] = []
        self.taken_back: list[Any] = []
        self._before = before

    def take_line(self, line: bytes, arrival_us: int | None) -> None:
        self._before(line)
        self.fed.append((line, arrival_us))

    def snapshot(self, *, over: bool = False) -> int:
        return len(self.fed)


class ScriptedLink:
    """Gives what the script says, then asks for the end."""

    def __init__(self, *script: bytes | LinkChange) -> None:
        self.script = list(script)
        self.stop = threading.Event()
        self.closed = False

    def read(self) -> bytes | LinkChange:
        if self.script:
            return self.script.pop(0)
        self.stop.set()
        return b""

    def close(self) -> None:
        self.closed = True


class MemoryRecorder:
    """A recorder in memory that may have a problem."""

    def __init__(self) -> None:
        self.path = Path("memory.flight")
        self.problem: RecordingError | None = None
        self.entries: list[LogEntry] = []
        self.appended = threading.Semaphore(0)
        self.closed = False

    def append(self, entry: LogEntry) -> None:
        self.entries.append(entry)
        self.appended.release()

    def close(self) -> None:
        self.closed = True


class Flight:
    """A live flight over fakes, with a clock that goes up by a millisecond at each look."""

    def __init__(self, *script: bytes | LinkChange, pipeline: NotingPipeline | None = None) -> None:
        self.now_us = 0
        self.link = ScriptedLink(*script)
        self.recorder = MemoryRecorder()
        self.pipeline = pipeline or NotingPipeline()
        self.session = FlightSession(cast(Pipeline, self.pipeline), "test", lambda: self.now_us)
        self.live = LiveFlight(self.link, self.recorder, self.session, self._clock)

    def _clock(self) -> int:
        self.now_us += 1000
        return self.now_us

    def run(self) -> None:
        self.live.run_forever(self.link.stop)

    @property
    def lines(self) -> list[tuple[bytes, int | None]]:
        return [(entry.data, entry.arrival_us) for entry in self.recorder.entries if entry.kind is EntryKind.LINE]

    @property
    def notes(self) -> list[str]:
        return [entry.text for entry in self.recorder.entries if entry.kind is EntryKind.NOTE]


def test_every_line_is_recorded_and_shown_with_its_arrival_time() -> None:
    flight = Flight(b"one\ntw", b"o\r\nthree\n")
    flight.run()
    assert [data for data, _ in flight.lines] == [b"one", b"two\r", b"three"]
    assert flight.pipeline.fed == flight.lines
    times = [at_us or 0 for _, at_us in flight.lines]
    assert 0 < times[0] < times[1] == times[2]


def test_the_end_flushes_what_is_left_and_closes_everything() -> None:
    flight = Flight(b"one\nunfini")
    flight.run()
    assert [data for data, _ in flight.pipeline.fed] == [b"one", b"unfini"]
    assert flight.recorder.closed
    assert flight.link.closed
    status = flight.session.snapshot()[2]
    assert (status.source_open, status.source_note) == (False, "stopped")


def test_a_line_is_in_the_log_before_anything_is_made_of_it() -> None:
    seen: list[bool] = []
    pipeline = NotingPipeline(lambda line: seen.append(line in [data for data, _ in flight.lines]))
    flight = Flight(b"one\ntwo\n", pipeline=pipeline)
    flight.run()
    assert seen == [True, True]


def test_a_lost_port_ends_its_unfinished_line_and_is_noted() -> None:
    flight = Flight(b"cut o", LOST, BACK, b"new\n")
    flight.run()
    assert [data for data, _ in flight.lines] == [b"cut o", b"new"]
    assert flight.notes == [LOST.note, BACK.note]
    assert [entry.kind.value for entry in flight.recorder.entries] == ["line", "note", "note", "line"]


def test_viewers_see_that_the_port_is_lost_and_why() -> None:
    statuses: list[tuple[bool, str]] = []
    pipeline = NotingPipeline(lambda _line: statuses.append(status_of(flight)))
    flight = Flight(b"a\n", LOST, b"b\n", BACK, b"c\n", pipeline=pipeline)
    flight.run()
    assert statuses == [(True, ""), (False, LOST.note), (True, BACK.note)]


def status_of(flight: Flight) -> tuple[bool, str]:
    status = flight.session.snapshot()[2]
    return status.source_open, status.source_note


def test_a_failing_recorder_is_told_to_viewers_and_the_flight_goes_on_showing() -> None:
    told: list[str | None] = []
    pipeline = NotingPipeline(lambda _line: told.append(flight.session.snapshot()[2].recording_error))
    flight = Flight(b"a\n", b"b\n", pipeline=pipeline)
    flight.recorder.problem = RecordingError("the disk is full")
    flight.run()
    assert told == ["the disk is full", "the disk is full"]
    assert flight.session.snapshot()[2].recording_to == "memory.flight"


def test_a_recorder_that_works_again_is_told_too() -> None:
    flight = Flight(b"a\n")
    flight.recorder.problem = RecordingError("the disk is full")

    def mend() -> None:
        flight.recorder.problem = None

    flight.recorder.close = mend  # type: ignore[method-assign]
    flight.run()
    assert flight.session.snapshot()[2].recording_error is None


def test_a_fault_in_what_is_made_of_a_line_never_ends_the_flight(caplog: pytest.LogCaptureFixture) -> None:
    def fail(line: bytes) -> None:
        if line in (b"b", b"c"):
            raise ZeroDivisionError

    flight = Flight(b"a\nb\nc\nd\n", pipeline=NotingPipeline(fail))
    with caplog.at_level(logging.ERROR):
        flight.run()
    assert [data for data, _ in flight.lines] == [b"a", b"b", b"c", b"d"]
    assert [data for data, _ in flight.pipeline.fed] == [b"a", b"d"]
    assert [note[:30] for note in flight.notes] == ["a line could not be worked out"]
    assert len(caplog.records) == 1


def test_a_display_that_hangs_does_not_hold_up_the_recording() -> None:
    go_on = threading.Event()
    flight = Flight(b"a\n", b"b\nc\n", pipeline=NotingPipeline(lambda _line: go_on.wait(60.0)))
    thread = threading.Thread(target=flight.run)
    thread.start()
    for _ in range(3):
        assert flight.recorder.appended.acquire(timeout=60.0)
    assert [data for data, _ in flight.lines] == [b"a", b"b", b"c"]
    assert flight.pipeline.fed == []
    go_on.set()
    thread.join(60.0)
    assert flight.pipeline.fed == flight.lines


def test_marks_are_recorded_and_shown() -> None:
    flight = Flight()
    flight.live.mark("  Zündung\nbereit ")
    flight.live.mark(" \n ")
    flight.live.mark("\ud800" + "x" * 10_000)
    flight.run()
    marks = [entry for entry in flight.recorder.entries if entry.kind is EntryKind.MARK]
    assert [mark.text for mark in marks] == ["Zündung bereit", "?" + "x" * (LONGEST_MARK - 1)]
    shown = flight.session.snapshot()[2].marks
    assert shown == tuple((mark.arrival_us, mark.text) for mark in marks)


def test_stop_ends_the_flight() -> None:
    flight = Flight()
    never = threading.Event()
    flight.live.stop()
    flight.live.run_forever(never)
    assert flight.recorder.closed


def test_the_logs_clock_counts_whole_microseconds_from_its_start() -> None:
    readings = iter([5_000_000_999, 5_000_001_998, 5_000_002_000, 65_000_000_999])
    clock_us = start_clock(lambda: next(readings))
    assert [clock_us() for _ in range(3)] == [0, 1, 60_000_000]


# From here on with the system's own pseudo-terminals and a log on disk.

LINES = [encode(SampleRecord(n, 20 * n, 101325.0 - n / 8, None, None)) for n in range(400)]


class Cable:
    """A pseudo-terminal behind a name of ours, which can be unplugged and plugged in again."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "receiver"
        self.plug_in()

    def plug_in(self) -> None:
        self.far_end, self.near_end = os.openpty()
        self.path.symlink_to(os.ttyname(self.near_end))

    def send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self.far_end, data) :]

    def unplug(self) -> None:
        self.path.unlink()
        os.close(self.near_end)
        os.close(self.far_end)


class RealFlight:
    """A live flight from a pseudo-terminal to a log on disk, in a thread of its own."""

    def __init__(self, folder: Path) -> None:
        self.cable = Cable(folder)
        self.pipeline = NotingPipeline()
        self.stop = threading.Event()
        clock_us = start_clock()
        self.writer = FlightLogWriter(folder / "flights", HEADER)
        self.session = FlightSession(cast(Pipeline, self.pipeline), "test", clock_us)
        link = SerialLink(str(self.cable.path))
        link.open()
        self.live = LiveFlight(link, self.writer, self.session, clock_us)
        self.thread = threading.Thread(target=self.live.run_forever, args=(self.stop,))
        self.thread.start()

    def wait_for(self, condition: Callable[[], bool]) -> None:
        version = -1
        while not condition():
            newer = self.session.wait_newer(version, 60.0)
            assert newer != version, "nothing happened any more"
            version = newer

    def end(self) -> list[bytes]:
        """Stop; the lines of the log."""
        self.stop.set()
        self.thread.join(60.0)
        assert not self.thread.is_alive()
        file = read_flight_file(self.writer.path)
        assert not file.torn
        assert file.damaged == 0
        assert file.lines == self.pipeline.fed
        return [data for data, _ in file.lines]


@pytest.fixture
def real(tmp_path: Path) -> Iterator[RealFlight]:
    if not hasattr(os, "openpty"):
        pytest.skip("no pseudo-terminals on this system")
    flight = RealFlight(tmp_path)
    yield flight
    flight.stop.set()
    flight.thread.join(60.0)
    flight.cable.unplug()


def test_a_flight_over_a_terminal_with_lost_and_corrupted_lines_is_recorded_as_it_came(real: RealFlight) -> None:
    rng = random.Random(8)
    sent = []
    for data in LINES:
        if rng.random() < 0.05:
            continue
        if rng.random() < 0.03:
            place = rng.randrange(len(data) - 1)
            data = data[:place] + bytes([rng.choice([0, 7, 13, 64, 255])]) + data[place + 1 :]
        sent.append(data.removesuffix(b"\n"))
    stream = b"\n".join([*sent, b""])
    while stream:
        cut = rng.randrange(1, 200)
        real.cable.send(stream[:cut])
        stream = stream[cut:]
    real.wait_for(lambda: len(real.pipeline.fed) == len(sent))
    assert real.end() == sent


def test_a_flight_goes_on_after_the_port_was_unplugged_and_plugged_in_again(real: RealFlight) -> None:
    real.cable.send(LINES[0] + LINES[1] + b"@SMP,2,4")
    real.wait_for(lambda: len(real.pipeline.fed) == 2)
    real.cable.unplug()
    real.wait_for(lambda: not real.session.snapshot()[2].source_open)
    real.cable.plug_in()
    real.wait_for(lambda: real.session.snapshot()[2].source_open)
    real.live.mark("plugged in again")
    real.cable.send(LINES[3])
    real.wait_for(lambda: len(real.pipeline.fed) >= 3 and real.pipeline.fed[-1][0] == LINES[3].strip())
    lines = real.end()
    assert [lines[0], lines[1], lines[-1]] == [LINES[0].strip(), LINES[1].strip(), LINES[3].strip()]
    assert lines[2:-1] in ([], [b"@SMP,2,4"])  # what was still in the cable may be gone
    kinds = [entry.kind for entry in read_flight_file(real.writer.path).entries if entry.kind is not EntryKind.LINE]
    assert kinds == [EntryKind.NOTE, EntryKind.NOTE, EntryKind.MARK]


def test_the_recorder_goes_on_through_a_flood_of_binary_noise(real: RealFlight) -> None:
    noise = random.Random(2).randbytes(300_000).replace(b"\n", b"@")
    real.cable.send(noise + b"\n" + LINES[0])
    real.wait_for(lambda: bool(real.pipeline.fed) and real.pipeline.fed[-1][0] == LINES[0].strip())
    assert b"".join(real.end()) == noise + LINES[0].strip()
