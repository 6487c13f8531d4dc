import random
import threading
from dataclasses import dataclass, field
from typing import Any, cast

import pytest

from station.flight_log import EntryKind, FlightFile, LogEntry, LogHeader
from station.pipeline import Pipeline
from station.records import SampleRecord, SignalRecord
from station.replay import FED_AT_ONCE, Playback
from station.wire import encode

HEADER = LogHeader(None, "COM3", "station", "monotonic")


@dataclass
class NotingPipeline:
    """Notes what it is fed; its snapshot is how much that was."""

    fed: list[tuple[bytes, int | None]] = field(default_factory=list)
    track: list[Any] = field(default_factory=list)
    taken_back: list[Any] = field(default_factory=list)

    def take_line(self, line: bytes, arrival_us: int | None) -> None:
        self.fed.append((line, arrival_us))

    def snapshot(self, *, over: bool = False) -> Any:
        return (len(self.fed), over)


class Bench:
    """A playback with a clock that the test moves, and the pipelines it made."""

    def __init__(self, file: FlightFile) -> None:
        self.now_s = 50.0
        self.pipelines: list[NotingPipeline] = []
        self.playback = Playback(file, self._pipeline, clock_s=lambda: self.now_s)

    def _pipeline(self) -> Pipeline:
        self.pipelines.append(NotingPipeline())
        return cast(Pipeline, self.pipelines[-1])

    @property
    def fed(self) -> list[bytes]:
        return [line for line, _ in self.pipelines[-1].fed]

    def seen(self) -> Any:
        """The pipeline's snapshot, as viewers get it."""
        return self.playback.session.snapshot()[1]

    def pass_time(self, duration_s: float) -> None:
        self.now_s += duration_s
        self.settle()

    def settle(self) -> None:
        while self.playback.step() == 0.0:
            pass

    def play_out(self) -> None:
        for _ in range(1_000_000):
            wait_s = self.playback.step()
            if wait_s is None:
                return
            self.now_s += wait_s
        pytest.fail("the replay never ended")


def line(at_us: int | None, text: str = "x") -> LogEntry:
    return LogEntry(EntryKind.LINE, at_us, text.encode())


def log_of(*entries: LogEntry) -> FlightFile:
    return FlightFile("f.flight", HEADER, entries, torn=False, damaged=0)


def capture_of(*lines: bytes) -> FlightFile:
    entries = tuple(LogEntry(EntryKind.LINE, None, text.strip()) for text in lines)
    return FlightFile("f.txt", None, entries, torn=False, damaged=0)


SECONDS = log_of(*(line(5_000_000 + second * 1_000_000, str(second)) for second in range(11)))


def test_it_stands_at_the_beginning_paused() -> None:
    bench = Bench(SECONDS)
    bench.pass_time(5.0)
    assert bench.playback.position_us == 0
    assert bench.playback.duration_us == 10_000_000
    assert not bench.playback.playing
    assert bench.fed == [b"0"]


def test_lines_come_at_the_pace_at_which_they_arrived() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.pass_time(2.5)
    assert bench.playback.position_us == 2_500_000
    assert bench.fed == [b"0", b"1", b"2"]
    assert bench.playback.step() == pytest.approx(0.5)


def test_lines_keep_the_arrival_times_of_the_log() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.play_out()
    assert bench.pipelines[-1].fed[3] == (b"3", 8_000_000)


def test_the_sessions_clock_is_the_replayed_one() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.pass_time(2.5)
    assert bench.playback.session.snapshot()[2].now_us == 7_500_000


def test_pause_holds_time_and_play_goes_on_from_there() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.pass_time(2.0)
    bench.playback.pause()
    bench.pass_time(100.0)
    assert (bench.playback.position_us, bench.playback.playing) == (2_000_000, False)
    bench.playback.play()
    assert (bench.playback.position_us, bench.playback.playing) == (2_000_000, True)
    bench.pass_time(1.0)
    assert bench.fed[-1] == b"3"


def test_a_change_of_speed_counts_from_now_on() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.pass_time(1.0)
    bench.playback.set_speed(4.0)
    assert bench.playback.speed == 4.0
    bench.pass_time(1.0)
    assert bench.playback.position_us == 5_000_000
    assert bench.playback.step() == pytest.approx(0.25)


@pytest.mark.parametrize("speed", [0.0, -1.0, float("nan"), float("inf")])
def test_what_is_no_speed_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="not a speed"):
        Bench(SECONDS).playback.set_speed(speed)


def test_it_stops_at_the_end_and_says_that_no_more_lines_come() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    assert bench.seen() == (0, False)
    bench.pass_time(100.0)
    assert bench.playback.position_us == 10_000_000
    assert not bench.playback.playing
    assert bench.playback.step() is None
    assert bench.seen() == (11, True)


def test_play_at_the_end_begins_again() -> None:
    bench = Bench(SECONDS)
    bench.playback.play()
    bench.pass_time(100.0)
    bench.playback.play()
    bench.settle()
    assert bench.playback.position_us == 0
    assert bench.fed == [b"0"]


def test_a_jump_forward_feeds_every_line_between_in_the_same_session() -> None:
    bench = Bench(SECONDS)
    bench.settle()
    session_id = bench.playback.session.session_id
    bench.playback.seek(7_200_000)
    bench.settle()
    assert bench.playback.session.session_id == session_id
    assert bench.fed == [b"%d" % second for second in range(8)]


def test_a_jump_back_begins_a_new_session_and_feeds_from_the_start() -> None:
    bench = Bench(SECONDS)
    bench.playback.seek(9_000_000)
    bench.settle()
    session_id = bench.playback.session.session_id
    bench.playback.seek(3_000_000)
    bench.settle()
    assert bench.playback.session.session_id != session_id
    assert bench.fed == [b"0", b"1", b"2", b"3"]


def test_a_jump_back_between_two_lines_needs_no_new_session() -> None:
    bench = Bench(SECONDS)
    bench.playback.seek(3_900_000)
    bench.settle()
    session_id = bench.playback.session.session_id
    bench.playback.seek(3_100_000)
    bench.settle()
    assert bench.playback.session.session_id == session_id


def test_a_jump_outside_the_record_is_its_nearest_end() -> None:
    bench = Bench(SECONDS)
    bench.playback.seek(10**12)
    assert bench.playback.position_us == 10_000_000
    bench.playback.seek(-5)
    assert bench.playback.position_us == 0


def test_a_long_wind_looks_up_in_between() -> None:
    bench = Bench(log_of(*(line(number) for number in range(2 * FED_AT_ONCE + 10))))
    bench.playback.seek(10**9)
    assert bench.playback.step() == 0.0
    assert len(bench.fed) == FED_AT_ONCE
    bench.playback.seek(0)  # the user has thought better of it
    bench.settle()
    assert len(bench.fed) == 1


def test_arrival_times_that_step_back_do_not_hold_up_the_replay() -> None:
    bench = Bench(log_of(line(0, "a"), line(2_000_000, "b"), line(1_000_000, "c"), line(3_000_000, "d")))
    bench.playback.play()
    bench.pass_time(2.0)
    assert bench.fed == [b"a", b"b", b"c"]


def test_marks_and_notes_are_shown_when_their_time_comes() -> None:
    bench = Bench(
        log_of(
            LogEntry(EntryKind.MARK, 500_000, b"arming"),
            line(1_000_000),
            LogEntry(EntryKind.MARK, 2_000_000, "Zündung".encode()),
            LogEntry(EntryKind.NOTE, 3_000_000, b"port lost"),
            line(4_000_000),
        )
    )
    bench.settle()
    assert bench.playback.marks == [(0, "arming"), (1_000_000, "Zündung")]
    assert bench.playback.session.snapshot()[2].marks == ((500_000, "arming"),)
    bench.playback.play()
    bench.pass_time(2.0)
    status = bench.playback.session.snapshot()[2]
    assert status.marks == ((500_000, "arming"), (2_000_000, "Zündung"))
    assert status.source_note == "replay: port lost"


def test_a_bare_capture_is_paced_by_the_altimeters_clock_and_has_no_arrival_times() -> None:
    lines = [encode(SampleRecord(n, 7_000 + 100 * n, 101325.0, None, None)) for n in range(5)]
    bench = Bench(capture_of(b"hello", lines[0], encode(SignalRecord(-80.0, 9.0)), *lines[1:], b"@bad*0000"))
    assert bench.playback.duration_us == 400_000
    bench.settle()
    assert len(bench.fed) == 3
    bench.playback.play()
    bench.pass_time(0.25)
    assert len(bench.fed) == 5
    bench.pass_time(1.0)
    assert len(bench.fed) == 8
    assert {arrival for _, arrival in bench.pipelines[-1].fed} == {None}


def test_a_bare_capture_with_a_restart_and_a_wrap_never_waits_for_days() -> None:
    times = [4_294_967_000, 4_294_967_290, 294, 600, 50, 350]
    bench = Bench(capture_of(*(encode(SampleRecord(n, t, 101325.0, None, None)) for n, t in enumerate(times))))
    assert 800_000 <= bench.playback.duration_us <= 5_000_000


@pytest.mark.parametrize("file", [log_of(), log_of(LogEntry(EntryKind.MARK, 9, b"m")), log_of(line(3))])
def test_a_record_without_length_is_over_at_once(file: FlightFile) -> None:
    bench = Bench(file)
    bench.playback.play()
    assert bench.playback.step() is None
    assert bench.playback.duration_us == 0
    assert not bench.playback.playing
    bench.playback.seek(5)
    bench.playback.play()
    assert bench.playback.step() is None


@pytest.mark.parametrize("seed", range(8))
def test_what_is_fed_does_not_depend_on_speed_pauses_or_jumps(seed: int) -> None:
    rng = random.Random(seed)
    entries = [line(rng.randrange(20_000_000), str(number)) for number in range(300)]
    bench = Bench(log_of(*sorted(entries, key=lambda entry: entry.arrival_us or 0)))
    expected = [(entry.data, entry.arrival_us) for entry in sorted(entries, key=lambda entry: entry.arrival_us or 0)]
    bench.playback.play()
    for _ in range(60):
        match rng.randrange(5):
            case 0:
                bench.playback.set_speed(rng.choice([0.25, 1.0, 3.7, 16.0, 1000.0]))
            case 1:
                bench.playback.seek(rng.randrange(20_000_000))
            case 2:
                bench.playback.pause()
            case 3:
                bench.playback.play()
            case _:
                bench.pass_time(rng.uniform(0.0, 3.0))
    bench.settle()
    fed = bench.pipelines[-1].fed
    assert fed == expected[: len(fed)]
    bench.playback.play()
    bench.play_out()
    assert bench.pipelines[-1].fed == expected


def test_a_thread_keeps_the_pace_until_it_is_told_to_stop() -> None:
    pipeline, stop = NotingPipeline(), threading.Event()
    file = log_of(*(line(1000 * number) for number in range(20)))
    playback = Playback(file, lambda: cast(Pipeline, pipeline))
    thread = threading.Thread(target=playback.run_forever, args=(stop,))
    thread.start()
    playback.play()
    version = 0
    while len(pipeline.fed) < 20:
        version = playback.session.wait_newer(version, 60.0)
    stop.set()
    thread.join(60.0)
    assert not thread.is_alive()
