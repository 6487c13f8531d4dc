"""Plays a saved flight: when each entry is due is worked out apart from the waiting for it.

What the session is fed does not depend on speed, pauses or jumps: always the same lines with the arrival times
of the log, in order, from the first one on.
"""

import bisect
import itertools
import math
import threading
import time
from collections.abc import Callable

from station.flight_log import EntryKind, FlightFile, LogEntry
from station.flight_log.entries import ALTIMETERS_OWN
from station.flight_state import EventName
from station.pipeline import Pipeline
from station.records import Reject, SignalRecord
from station.session import FlightSession
from station.unit_clock import UnitClock
from station.wire import decode_line

FED_AT_ONCE = 500
"""Entries fed in one step of a fast wind, after which a new request is looked for."""

_LOOK_UP_S = 0.2


class Playback:
    """A saved flight that can be played, from any thread; `session` is what viewers look at.

    Positions are microseconds from the first received line. With the log of a station they follow the arrival
    times, with a bare capture the altimeter's own clock.
    """

    def __init__(
        self,
        file: FlightFile,
        make_pipeline: Callable[[], Pipeline],
        *,
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Stands at the beginning, paused. The pace is kept by `run_forever`, or by calls of `step`."""
        self.saved = file
        self._make_pipeline = make_pipeline
        self._clock_s = clock_s
        self._entries = file.entries
        self._start_us, self._due_us = _timeline(file)
        self._fed = 0
        self._lock = threading.Lock()
        self._changed = threading.Event()
        self._anchor_us = 0
        self._anchor_s = 0.0
        self._running = False
        self._speed = 1.0
        self._events: tuple[tuple[EventName, int], ...] = ()
        self.session = FlightSession(make_pipeline(), file.name, self._now_us)
        self.session.set_source(is_open=True, note="replay")

    @property
    def position_us(self) -> int:
        """Where the replay stands."""
        with self._lock:
            return self._position()

    @property
    def duration_us(self) -> int:
        """How long the whole record is."""
        return self._due_us[-1] if self._due_us else 0

    @property
    def playing(self) -> bool:
        """Whether time runs: not when paused, nor at the end."""
        with self._lock:
            return self._running and self._position() < self.duration_us

    @property
    def speed(self) -> float:
        """Multiple of the flight's own pace."""
        with self._lock:
            return self._speed

    @property
    def marks(self) -> list[tuple[int, str]]:
        """Every mark of the log: position and text."""
        return [
            (due_us, entry.text)
            for due_us, entry in zip(self._due_us, self._entries, strict=True)
            if entry.kind is EntryKind.MARK
        ]

    @property
    def events(self) -> tuple[tuple[EventName, int], ...]:
        """Every event of the whole record and the position where it lies; empty until `find_events` is done."""
        return self._events

    def find_events(self) -> None:
        """Look through the whole record for its events, with a pipeline of its own; takes a while."""
        pipeline = self._make_pipeline()
        times_ms: list[float] = []
        positions_us: list[int] = []
        for entry, due_us in zip(self._entries, self._due_us, strict=True):
            if entry.kind is EntryKind.LINE:
                estimate = pipeline.take_line(entry.data, entry.arrival_us)
                if estimate is not None and (not times_ms or estimate.t_ms > times_ms[-1]):
                    times_ms.append(estimate.t_ms)
                    positions_us.append(due_us)
        self._events = tuple(
            (event.name, positions_us[min(bisect.bisect_left(times_ms, event.t_ms), len(times_ms) - 1)])
            for event in pipeline.snapshot(over=True).events
        )

    def play(self) -> None:
        """Let time run; from the beginning if the replay stands at its end."""
        with self._lock:
            position = self._position()
            self._anchor(0 if position >= self.duration_us else position)
            self._running = True
        self._changed.set()

    def pause(self) -> None:
        """Hold time."""
        with self._lock:
            self._anchor(self._position())
            self._running = False
        self._changed.set()

    def set_speed(self, speed: float) -> None:
        """Change the pace. Raises ValueError for anything but a finite number above 0."""
        if not (math.isfinite(speed) and speed > 0.0):
            raise ValueError(f"not a speed: {speed}")
        with self._lock:
            self._anchor(self._position())
            self._speed = speed
        self._changed.set()

    def seek(self, position_us: int) -> None:
        """Go to a position, forward or back; one outside the record is its nearest end."""
        with self._lock:
            self._anchor(min(max(position_us, 0), self.duration_us))
        self._changed.set()

    def run_forever(self, stop: threading.Event) -> None:
        """Keep the pace until `stop` is set."""
        while not stop.is_set():
            self._changed.clear()
            wait_s = self.step()
            self._changed.wait(_LOOK_UP_S if wait_s is None else min(wait_s, _LOOK_UP_S))

    def step(self) -> float | None:
        """Feed what is due by now; returns seconds until there is more to do, None if nothing will be due.

        For one thread. A jump back begins the session again and winds forward from the start.
        """
        with self._lock:
            position_us = self._position()
        if self._fed and self._due_us[self._fed - 1] > position_us:
            self.session.restart(self._make_pipeline())
            self.session.set_source(is_open=True, note="replay")
            self._fed = 0
        due = bisect.bisect_right(self._due_us, position_us)
        for entry in itertools.islice(self._entries, self._fed, min(due, self._fed + FED_AT_ONCE)):
            self._feed(entry)
            self._fed += 1
        if self._fed < due:
            return 0.0
        if self._fed == len(self._entries):
            self.session.end_of_lines()
            return None
        with self._lock:
            if not self._running:
                return None
            return max(0.0, (self._due_us[self._fed] - self._position()) / 1e6 / self._speed)

    def _feed(self, entry: LogEntry) -> None:
        match entry.kind:
            case EntryKind.LINE | EntryKind.READ:
                self.session.take_line(entry.data, entry.arrival_us)
            case EntryKind.MARK:
                self.session.mark(entry.arrival_us or 0, entry.text)
            case EntryKind.NOTE:
                self.session.set_source(is_open=True, note=f"replay: {entry.text}")

    def _now_us(self) -> int:
        """The session's clock: where the replay stands, on the clock of the log's arrival times."""
        return self._start_us + self.position_us

    def _position(self) -> int:
        elapsed_s = self._clock_s() - self._anchor_s if self._running else 0.0
        return min(self._anchor_us + round(elapsed_s * self._speed * 1e6), self.duration_us)

    def _anchor(self, position_us: int) -> None:
        self._anchor_us, self._anchor_s = position_us, self._clock_s()


def _timeline(file: FlightFile) -> tuple[int, list[int]]:
    """The clock reading at position 0, and when each entry is due: never earlier than the one before it."""
    times_us = [entry.arrival_us for entry in file.entries]
    if file.header is None:
        times_us = _times_by_altimeter(file.entries)
    timed = [
        (time_us, entry.kind) for time_us, entry in zip(times_us, file.entries, strict=True) if time_us is not None
    ]
    lines_us = [time_us for time_us, kind in timed if kind in ALTIMETERS_OWN]
    start_us = lines_us[0] if lines_us else timed[0][0] if timed else 0
    due_us = list(itertools.accumulate(((time_us or 0) - start_us for time_us in times_us), max, initial=0))[1:]
    return (0 if file.header is None else start_us), due_us


def _times_by_altimeter(entries: tuple[LogEntry, ...]) -> list[int | None]:
    """For each line the altimeter's time at it; a line that has none comes with the last one that has.

    After a restart of the altimeter its clock goes on from where it was: how long it was off is not known.
    """
    clock = UnitClock()
    now_us: int | None = None
    times_us = []
    for entry in entries:
        record = decode_line(entry.data)
        if not (record is None or isinstance(record, Reject | SignalRecord)) and None not in (record.seq, record.t_ms):
            now_us = clock.take(record.seq or 0, record.t_ms or 0, None) * 1000
        times_us.append(now_us)
    return times_us
