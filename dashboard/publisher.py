"""The thread that watches the session and hands each message, made once, to every viewer.

At most `MESSAGES_PER_S` messages a second; at least one a second, so that a viewer knows the line to us stands.
"""

import logging
import threading
import time
from collections import deque
from collections.abc import Iterator

from dashboard.live_feed import LiveFeed, Moment
from dashboard.playback import Playback
from dashboard.state_json import JsonObject
from station.session import FlightSession

MESSAGES_PER_S = 20
HEARTBEAT_S = 1.0
LOOK_UP_S = 0.2
"""How often a quiet thread looks whether it is to stop."""

KEPT_MESSAGES = 100

log = logging.getLogger(__name__)


class Publisher:
    """One for a page server; `state` and `messages` may be called from any thread."""

    def __init__(self, session: FlightSession, playback: Playback | None, *, most_viewers: int) -> None:
        self._session = session
        self._feed = LiveFeed(playback)
        self._most_viewers = most_viewers
        self._changed = threading.Condition()
        self._kept: deque[bytes] = deque(maxlen=KEPT_MESSAGES)
        self._number = 0
        self._viewers = 0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="page-publisher", daemon=True)
        self._version = -1

    def start(self) -> None:
        """Take a first reading, so that `state` has something to say, and start the thread."""
        self._publish()
        self._thread.start()

    def stop(self) -> None:
        """End the thread and every viewer's stream."""
        self._stopping.set()
        with self._changed:
            self._changed.notify_all()
        if self._thread.is_alive():
            self._thread.join(timeout=2 * HEARTBEAT_S)

    @property
    def viewers(self) -> int:
        """How many streams are open."""
        return self._viewers

    def state(self) -> JsonObject:
        """The latest state; treat it as read-only."""
        with self._changed:
            return self._feed.state

    def admit(self) -> bool:
        """Count one more viewer in, or refuse. Every admitted one must `leave`."""
        with self._changed:
            if self._viewers >= self._most_viewers or self._stopping.is_set():
                return False
            self._viewers += 1
            return True

    def leave(self) -> None:
        """Count a viewer out."""
        with self._changed:
            self._viewers -= 1

    def messages(self, resume_from: str) -> Iterator[bytes]:
        """First the whole, then every change, until the page server stops. Blocks between messages."""
        with self._changed:
            seen = self._number
            first = self._feed.whole(resume_from)
        yield first
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._number != seen or self._stopping.is_set())  # noqa: B023
                if self._stopping.is_set():
                    return
                missed = self._number - seen
                seen = self._number
                if missed == 1:
                    batch = self._kept[-1]
                elif missed <= len(self._kept):
                    batch = b"".join(list(self._kept)[-missed:])
                else:
                    batch = self._feed.whole()
            yield batch

    def _run(self) -> None:
        pause_s = 1.0 / MESSAGES_PER_S
        told_s = time.monotonic()
        while not self._stopping.is_set():
            version = self._session.wait_newer(self._version, LOOK_UP_S)
            began_s = time.monotonic()
            if version == self._version and began_s - told_s < HEARTBEAT_S - LOOK_UP_S / 2:
                continue
            told_s = began_s
            try:
                self._publish()
            except Exception:
                # A page that stands still in flight is worse than one message lost: say so and go on.
                log.exception("The page could not be brought up to date")
            self._stopping.wait(max(0.001, pause_s - (time.monotonic() - began_s)))

    def _publish(self) -> None:
        with self._changed:
            session_id = self._session.session_id
            version, snapshot, status = self._session.snapshot()
            start = self._feed.count if session_id == self._feed.session_id else 0
            new_points = self._session.points(start)
            if self._session.session_id != session_id:
                return  # Begun again between the readings; `_version` still stands, so the next turn is at once.
            at_rest = version == self._version
            plan = self._session.plan
            message = self._feed.take(
                Moment(session_id, snapshot, status, new_points, at_rest, plan, self._session.prediction)
            )
            self._version = version
            self._kept.append(message)
            self._number += 1
            self._changed.notify_all()
