"""The live loop: what the port gives is recorded first, then made something of.

Three threads, so that nothing slow costs bytes: one reads the port and stamps the time, one cuts lines and writes
the log (the caller's own, in `run_forever`), one feeds the session. Whatever the display does, recording goes on.
"""

import logging
import queue
import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Protocol

from station.errors import StationError
from station.flight_log import EntryKind, LogEntry
from station.serial_link import LinkChange
from station.session import FlightSession
from station.wire import LineFramer

LONGEST_MARK = 500
_IDLE_S = 0.1
_MOST_CHUNKS = 20_000
_PATIENCE_S = 10.0

log = logging.getLogger(__name__)


class Link(Protocol):
    """Where bytes come from: `SerialLink` or another object of its shape."""

    def read(self) -> bytes | LinkChange:
        """Bytes, b"" if none came for a moment, or what happened to the port. Does not raise."""

    def close(self) -> None:
        """Give the port back."""


class Recorder(Protocol):
    """What writes the log: `FlightLogWriter` or another object of its shape."""

    @property
    def path(self) -> Path:
        """The file being written."""

    @property
    def problem(self) -> StationError | None:
        """Why nothing is being written just now, or None."""

    def append(self, entry: LogEntry) -> None:
        """Write one entry."""

    def close(self) -> None:
        """Write what is left."""


def start_clock(monotonic_ns: Callable[[], int] = time.monotonic_ns) -> Callable[[], int]:
    """A clock in whole microseconds that nobody sets, and that begins at 0 now: make it as the log is opened."""
    began_ns = monotonic_ns()
    return lambda: (monotonic_ns() - began_ns) // 1000


class LiveFlight:
    """Runs one flight from an open link to the log and the session. `clock_us` is the log's clock."""

    def __init__(self, link: Link, writer: Recorder, session: FlightSession, clock_us: Callable[[], int]) -> None:
        self._link = link
        self._writer = writer
        self._session = session
        self._clock_us = clock_us
        self._stopping = threading.Event()
        self._received: queue.Queue[tuple[int, bytes | LinkChange]] = queue.Queue(_MOST_CHUNKS)
        self._to_show: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._told_recording: tuple[str, str | None] | None = None
        self._display_failed = False

    def run_forever(self, stop: threading.Event) -> None:
        """Read, record and show until `stop` is set or `stop()` called; then close link and log in good order."""
        framer = LineFramer()
        last_us = self._clock_us()
        threads = [
            threading.Thread(target=self._read, args=(stop,), name="port-reader", daemon=True),
            threading.Thread(target=self._show, name="session-feeder", daemon=True),
        ]
        self._show_later(partial(self._session.set_source, is_open=True))
        self._tell_recording()
        for thread in threads:
            thread.start()
        try:
            while threads[0].is_alive() or not self._received.empty():
                try:
                    last_us, received = self._received.get(timeout=_IDLE_S)
                except queue.Empty:
                    pass
                else:
                    self._take(framer, last_us, received)
                self._tell_recording()
        finally:
            self._stopping.set()
            self._take_lines(framer.flush(), last_us)
            self._writer.close()
            self._tell_recording()
            self._show_later(partial(self._session.set_source, is_open=False, note="stopped"))
            self._to_show.put(None)
            for thread in threads:
                thread.join(timeout=_PATIENCE_S)
            self._link.close()

    def stop(self) -> None:
        """Ask `run_forever` to end. Any thread."""
        self._stopping.set()

    def mark(self, text: str) -> None:
        """Write the operator's mark to the log and show it. Any thread. Empty text is no mark."""
        text = " ".join(text.split())[:LONGEST_MARK].encode("utf-8", "replace").decode()
        if text:
            at_us = self._clock_us()
            self._append(EntryKind.MARK, at_us, text.encode())
            self._show_later(partial(self._session.mark, at_us, text))

    def _read(self, stop: threading.Event) -> None:
        while not (stop.is_set() or self._stopping.is_set()):
            received = self._link.read()
            if received:
                self._received.put((self._clock_us(), received))

    def _take(self, framer: LineFramer, arrival_us: int, received: bytes | LinkChange) -> None:
        if isinstance(received, LinkChange):
            if not received.is_open:
                self._take_lines(framer.flush(), arrival_us)
            self._append(EntryKind.NOTE, arrival_us, received.note.encode("utf-8", "replace"))
            self._show_later(partial(self._session.set_source, is_open=received.is_open, note=received.note))
        else:
            self._take_lines(framer.feed(received), arrival_us)

    def _take_lines(self, lines: list[bytes], arrival_us: int) -> None:
        for line in lines:
            self._append(EntryKind.LINE, arrival_us, line)
            self._show_later(partial(self._session.take_line, line, arrival_us))

    def _append(self, kind: EntryKind, at_us: int, data: bytes) -> None:
        self._writer.append(LogEntry(kind, at_us, data))

    def _tell_recording(self) -> None:
        problem = self._writer.problem
        recording = (str(self._writer.path), None if problem is None else str(problem))
        if recording != self._told_recording:
            self._told_recording = recording
            self._show_later(partial(self._session.set_recording, *recording))

    def _show_later(self, action: Callable[[], None]) -> None:
        self._to_show.put(action)

    def _show(self) -> None:
        while (action := self._to_show.get()) is not None:
            try:
                action()
            except Exception:
                self._tell_display_failed()

    def _tell_display_failed(self) -> None:
        """A fault of ours in what is made of a line must not end the flight: say so, once, and go on."""
        if self._display_failed:
            return
        self._display_failed = True
        log.exception("A line could not be worked out; recording goes on")
        note = "a line could not be worked out: a fault of the station itself; recording goes on"
        self._append(EntryKind.NOTE, self._clock_us(), note.encode())
        self._session.set_source(is_open=True, note=note)
