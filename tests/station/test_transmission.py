"""Sending at a pace, with a clock that the test moves."""

from collections.abc import Callable

import pytest

from station.transmission import LATEST_S, transmit
from station.virtual import SentLine

LINES = [SentLine(0.0, b"first\n"), SentLine(0.5, b"second\n"), SentLine(2.0, b"third\n")]


class Clock:
    """Time passes only while something waits."""

    def __init__(self, stop_at_s: float = float("inf")) -> None:
        self.now_s = 100.0
        self.stop_at_s = stop_at_s
        self.waits = 0

    def read(self) -> float:
        return self.now_s

    def wait(self, seconds: float) -> bool:
        self.waits += 1
        self.now_s += seconds
        return self.now_s >= self.stop_at_s


class Listener:
    """Takes lines and notes when; `deaf` decides from the time whether it takes none."""

    def __init__(self, clock: Clock, deaf: Callable[[float], bool] = lambda _now_s: False) -> None:
        self.clock = clock
        self.deaf = deaf
        self.heard: list[tuple[float, bytes]] = []

    def send(self, data: bytes, patience_s: float) -> bool:
        if self.deaf(self.clock.now_s):
            self.clock.now_s += patience_s
            return False
        self.heard.append((round(self.clock.now_s - 100.0, 6), data))
        return True


@pytest.mark.parametrize(("pace", "times"), [(1.0, [0.0, 0.5, 2.0]), (4.0, [0.0, 0.125, 0.5]), (0.5, [0.0, 1.0, 4.0])])
def test_lines_leave_at_their_times_divided_by_the_pace(pace: float, times: list[float]) -> None:
    clock = Clock()
    listener = Listener(clock)
    assert transmit(LINES, listener, pace, clock.read, clock.wait)
    assert [t for t, _ in listener.heard] == times
    assert [data for _, data in listener.heard] == [line.data for line in LINES]


def test_pace_zero_takes_no_time() -> None:
    clock = Clock()
    listener = Listener(clock)
    assert transmit(LINES, listener, 0.0, clock.read, clock.wait)
    assert [t for t, _ in listener.heard] == [0.0, 0.0, 0.0]


def test_pace_zero_waits_for_a_slow_reader_and_loses_nothing() -> None:
    clock = Clock()
    listener = Listener(clock, deaf=lambda now_s: now_s < 107.0)
    assert transmit(LINES, listener, 0.0, clock.read, clock.wait)
    assert [data for _, data in listener.heard] == [line.data for line in LINES]


def test_with_a_pace_a_line_that_nobody_takes_is_lost_and_the_next_keep_their_times() -> None:
    lines = [SentLine(t / 10.0, b"%d\n" % t) for t in range(60)]
    clock = Clock()
    listener = Listener(clock, deaf=lambda now_s: now_s < 103.0)
    assert transmit(lines, listener, 1.0, clock.read, clock.wait)
    first_t, first_line = listener.heard[0]
    assert first_t >= 3.0
    assert int(first_line) / 10.0 >= first_t - LATEST_S - 0.1
    assert listener.heard[-1] == (5.9, b"59\n")


def test_being_asked_to_stop_ends_the_sending() -> None:
    clock = Clock(stop_at_s=100.4)
    listener = Listener(clock)
    assert not transmit(LINES, listener, 1.0, clock.read, clock.wait)
    assert [data for _, data in listener.heard] == [b"first\n"]


def test_being_asked_to_stop_ends_the_wait_for_a_reader_that_never_comes() -> None:
    clock = Clock(stop_at_s=130.0)
    listener = Listener(clock, deaf=lambda _now_s: True)
    assert not transmit(LINES, listener, 0.0, clock.read, clock.wait)
    assert listener.heard == []
