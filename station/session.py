"""A flight that several threads look at: one feeds lines, viewers read snapshots and new curve points.

The pipeline knows no thread and no clock; this is the edge where both are added. The clock is passed in,
so that live (the recorder's clock) and replay (the replayed arrival times) show the same thing.
"""

import threading
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from station.flight_state import Estimate, Snapshot
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.prediction import Prediction


@dataclass(frozen=True, slots=True)
class SessionStatus:
    """What the session knows beside the flight: source, recorder, marks. Times in microseconds.

    `over`: no more lines will come.
    """

    source: str
    source_open: bool
    source_note: str
    recording_to: str | None
    recording_error: str | None
    now_us: int
    marks: tuple[tuple[int, str], ...]
    over: bool = False


class FlightSession:
    """Owns one pipeline; every method may be called from any thread."""

    def __init__(self, pipeline: Pipeline, source: str, now_us: Callable[[], int]) -> None:
        self.session_id = _new_id()
        self._pipeline = pipeline
        self._now_us = now_us
        self._changed = threading.Condition()
        self._version = 0
        self._source = source
        self._source_open = False
        self._source_note = ""
        self._recording_to: str | None = None
        self._recording_error: str | None = None
        self._over = False
        self._marks: list[tuple[int, str]] = []
        self._prediction: Prediction | None = None

    def restart(self, pipeline: Pipeline) -> None:
        """Begin again with a fresh pipeline, under a new session id; source and recorder stay as they are."""
        with self._changed:
            self.session_id = _new_id()
            self._pipeline = pipeline
            self._over = False
            self._marks = []
            self._bump()

    def end_of_lines(self) -> None:
        """Say that no more lines will come, so that what is still open is answered from what there is."""
        with self._changed:
            if not self._over:
                self._over = True
                self._bump()

    def take_line(self, line: bytes, arrival_us: int | None) -> None:
        """Feed one received line and wake the viewers.

        One that takes a liftoff back gives a new session id: the points of the curve that were told count no more.
        """
        with self._changed:
            before = len(self._pipeline.taken_back)
            self._pipeline.take_line(line, arrival_us)
            if len(self._pipeline.taken_back) != before:
                self.session_id = _new_id()
            self._bump()

    def mark(self, at_us: int, text: str) -> None:
        """Note an operator's mark for the viewers (the recorder writes it to the log)."""
        with self._changed:
            self._marks.append((at_us, text))
            self._bump()

    def set_source(self, *, is_open: bool, note: str = "") -> None:
        """Say whether the source of lines is open, and what happened to it in a few words."""
        with self._changed:
            self._source_open, self._source_note = is_open, note
            self._bump()

    def set_recording(self, path: str | None, error: str | None = None) -> None:
        """Say which file is being written, or why none is."""
        with self._changed:
            self._recording_to, self._recording_error = path, error
            self._bump()

    def wait_newer(self, version: int, timeout_s: float) -> int:
        """Block until the session has changed since `version` or the time is up; returns the version now."""
        with self._changed:
            self._changed.wait_for(lambda: self._version != version, timeout_s)
            return self._version

    @property
    def plan(self) -> FlightPlan | None:
        """The plan that the flight is judged against."""
        with self._changed:
            return self._pipeline.plan

    @property
    def prediction(self) -> Prediction | None:
        """The simulation that the flight is shown beside."""
        return self._prediction

    def set_prediction(self, prediction: Prediction | None) -> None:
        """Show the flight beside this simulation; it stays when the session begins again."""
        with self._changed:
            self._prediction = prediction
            self._bump()

    def snapshot(self) -> tuple[int, Snapshot, SessionStatus]:
        """One consistent view: (version, what is known of the flight, what is known of the session)."""
        with self._changed:
            status = SessionStatus(
                self._source,
                self._source_open,
                self._source_note,
                self._recording_to,
                self._recording_error,
                self._now_us(),
                tuple(self._marks),
                self._over,
            )
            snapshot = self._pipeline.snapshot(over=True) if self._over else self._pipeline.snapshot()
            return self._version, snapshot, status

    def points(self, start: int) -> list[Estimate]:
        """The curve's points from index `start` on; indices count from 0 and never change in a session."""
        with self._changed:
            return self._pipeline.track[start:]

    def _bump(self) -> None:
        self._version += 1
        self._changed.notify_all()


def _new_id() -> str:
    return uuid.uuid4().hex[:12]
