"""Turns what the session knows into the messages that viewers get. No thread, no socket, no clock.

Every message is made once for all viewers. The kinds of message are documented in `dashboard/LIVE_API.md`.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.curve_history import CurveHistory
from dashboard.place_state import PLACE_PARTS
from dashboard.playback import Playback
from dashboard.state_json import JsonObject, prediction_json, row_json, state_json
from station.flight_state import Estimate, Snapshot
from station.plan import FlightPlan
from station.prediction import Prediction
from station.session import SessionStatus

IN_EVERY_MESSAGE = frozenset({"schema", "session", "points", "now_us", "flight_time_s"})
"""Parts of the state that a change does not repeat: its id, its rows and its age say them."""

SELDOM = ("link", "last_minute", "estimate", "channels", "air", "outlook", *PLACE_PARTS)
"""Parts that change with nearly every line: told in every 20th message, and when nothing else happens."""

SELDOM_EVERY = 20

RETRY_MS = 1000
"""How long a browser waits before it takes up a cut stream again."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One consistent reading of the session: what there is to tell viewers.

    `at_rest`: nothing has happened since the reading before.
    """

    session_id: str
    snapshot: Snapshot
    status: SessionStatus
    new_points: Sequence[Estimate]
    at_rest: bool = False
    plan: FlightPlan | None = None
    prediction: Prediction | None = None


class LiveFeed:
    """Remembers what viewers were told last, so that a change carries only what is new."""

    def __init__(self, playback: Playback | None = None) -> None:
        self._playback = playback
        self._prediction: Prediction | None = None
        self._prediction_json: JsonObject | None = None
        self._begin("")
        self.state: JsonObject = {}

    @property
    def count(self) -> int:
        """How many points of the curve have been taken in."""
        return self._history.count

    @property
    def session_id(self) -> str:
        """The session whose points are counted."""
        return self._session_id

    def _begin(self, session_id: str) -> None:
        self._session_id = session_id
        self._history = CurveHistory()
        self._mark_times_ms: list[float | None] = []
        self._told: JsonObject = {}
        self._since_seldom = 0

    def take(self, moment: Moment) -> bytes:
        """Take a reading in and return the message for all viewers: a change, or the whole of a new session."""
        is_new = moment.session_id != self._session_id
        if is_new:
            self._begin(moment.session_id)
        rows = [row_json(point) for point in moment.new_points]
        first = self._history.count
        snapshot = moment.snapshot
        self._history.append(rows)
        self._time_marks(snapshot, moment.status)
        self.state = state_json(
            moment.session_id,
            self._history.count,
            snapshot,
            moment.status,
            self._mark_times_ms,
            self._playback,
            moment.plan,
        )
        self.state["prediction"] = self._predicted(moment.prediction)
        changed = self._changes(moment.at_rest)
        before = self._told.get("last_minute", ())
        self._told.update(changed)
        if "last_minute" in changed:
            changed["last_minute"] = [second for second in changed["last_minute"] if second not in before]
        if is_new:
            return self.whole()
        body: JsonObject = {"age_ms": self._age_ms()}
        if rows:
            body["from"] = first
            body["rows"] = rows
        if changed:
            body["set"] = changed
        return self._message("change", body)

    def _predicted(self, prediction: Prediction | None) -> JsonObject | None:
        """Its JSON, made once: it never changes, and is long."""
        if prediction is not self._prediction:
            self._prediction = prediction
            self._prediction_json = None if prediction is None else prediction_json(prediction)
        return self._prediction_json

    def whole(self, resume_from: str = "") -> bytes:
        """Everything for one viewer: the state, and the curve from where its last message id says it stands."""
        session, _, number = resume_from.rpartition(":")
        known = int(number) if session == self._session_id and number.isascii() and number.isdigit() else 0
        first, rows = self._history.since(known)
        body = {"age_ms": self._age_ms(), "state": self.state, "from": first, "rows": rows}
        return self._message("whole", body)

    def _changes(self, at_rest: bool) -> JsonObject:
        changed: JsonObject = {
            name: value
            for name, value in self.state.items()
            if name not in IN_EVERY_MESSAGE and (name not in self._told or self._told[name] != value)
        }
        self._since_seldom += 1
        if at_rest or self._since_seldom >= SELDOM_EVERY:
            self._since_seldom = 0
        else:
            for name in SELDOM:
                # What comes into being or ends is told at once.
                if name in self._told and (self._told[name] is None) == (self.state[name] is None):
                    changed.pop(name, None)
        return changed

    def _time_marks(self, snapshot: Snapshot, status: SessionStatus) -> None:
        link = snapshot.link
        for at_us, _text in status.marks[len(self._mark_times_ms) :]:
            if link.last_t_ms is None or link.last_heard_us is None:
                self._mark_times_ms.append(None)
            else:
                self._mark_times_ms.append(link.last_t_ms + (at_us - link.last_heard_us) / 1000.0)

    def _age_ms(self) -> int | None:
        heard_us = self.state["link"]["last_heard_us"]
        return None if heard_us is None else max(0, (self.state["now_us"] - heard_us) // 1000)

    def _message(self, kind: str, body: dict[str, Any]) -> bytes:
        data = json.dumps(body, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        name = "" if kind == "change" else f"event: {kind}\nretry: {RETRY_MS}\n"
        return f"id: {self._session_id}:{self._history.count}\n{name}data: {data}\n\n".encode()
