"""The thread that watches the session and hands each message, made once, to every viewer.

It writes to the viewers itself where the server lets it: waking a thread for each cost three times as much. At most
`MESSAGES_PER_S` messages a second; at least one a second, so that a viewer knows the line to us stands.
"""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from queue import Empty, SimpleQueue

from dashboard.live_feed import LiveFeed, Moment
from dashboard.playback import Playback
from dashboard.state_json import JsonObject
from station.session import FlightSession

MESSAGES_PER_S = 20
HEARTBEAT_S = 1.0
LOOK_UP_S = 0.2
"""How often a quiet thread looks whether it is to stop."""

MOST_WAITING = 100
"""A viewer that has so many messages still to get is told the whole instead."""

log = logging.getLogger(__name__)


class Publisher:
    """One for a page server; `state` and `messages` may be called from any thread."""

    def __init__(self, session: FlightSession, playback: Playback | None, *, most_viewers: int) -> None:
        self._session = session
        self._feed = LiveFeed(playback)
        self._most_viewers = most_viewers
        self._lock = threading.Lock()
        self._streams: set[_Stream] = set()
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
        with self._lock:
            for stream in self._streams:
                stream.waiting.put(None)
        if self._thread.is_alive():
            self._thread.join(timeout=2 * HEARTBEAT_S)

    @property
    def viewers(self) -> int:
        """How many streams are open."""
        return self._viewers

    def state(self) -> JsonObject:
        """The latest state; treat it as read-only."""
        with self._lock:
            return self._feed.state

    def admit(self) -> bool:
        """Count one more viewer in, or refuse. Every admitted one must `leave`."""
        with self._lock:
            if self._viewers >= self._most_viewers or self._stopping.is_set():
                return False
            self._viewers += 1
            return True

    def leave(self) -> None:
        """Count a viewer out."""
        with self._lock:
            self._viewers -= 1

    def messages(self, resume_from: str, send: Callable[[bytes], bool] | None = None) -> Iterator[bytes]:
        """First the whole, then every change, until the page server stops. Blocks between messages.

        With `send` the changes go out by it, as soon as what came before them has been fetched here, and only the end
        is waited for; False from it ends the stream.
        """
        stream = _Stream(send)
        with self._lock:
            first = self._feed.whole(resume_from)
            self._streams.add(stream)
        try:
            yield first
            while not self._stopping.is_set():
                with self._lock:
                    stream.sends = send is not None and stream.waiting.empty()
                message = stream.waiting.get()
                if message is None:
                    return
                if stream.waiting.qsize() < MOST_WAITING:
                    yield message
                else:
                    yield self._whole_instead_of(stream)
        finally:
            with self._lock:
                self._streams.discard(stream)

    def _whole_instead_of(self, stream: "_Stream") -> bytes:
        with self._lock:
            try:
                while True:
                    stream.waiting.get_nowait()
            except Empty:
                return self._feed.whole()

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
        with self._lock:
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
            for stream in self._streams:
                stream.give(message)


class _Stream:
    """What one viewer is still to be given; None in `waiting` ends it."""

    def __init__(self, send: Callable[[bytes], bool] | None) -> None:
        self.waiting: SimpleQueue[bytes | None] = SimpleQueue()
        self.sends = False
        self._send = send

    def give(self, message: bytes) -> None:
        """Send it or let it wait to be fetched."""
        if not self.sends or self._send is None:
            self.waiting.put(message)
        elif not self._send(message):
            self.sends = False
            self.waiting.put(None)
