"""A small flight whose every value is known, and page servers around it."""

import itertools
import socket
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from dashboard.server import PageServer
from station.flight_state import (
    Basis,
    ChannelStatus,
    Deployment,
    Estimate,
    Event,
    EventName,
    LinkStatus,
    Phase,
    Snapshot,
    Unit,
    Verdict,
)
from station.records import ChannelState, Role
from station.session import FlightSession, SessionStatus

PATIENCE_S = 30.0
"""How long a server may take to answer before a test fails: no result depends on it."""


def make_estimate(index: int) -> Estimate:
    """Point `index` of a curve, 20 ms apart, every column different."""
    return Estimate(10_000.0 + 20.0 * index, 0.5 * index, 12.5, -9.81, 0.4, 0.3, 0.2)


def make_link(**changes: Any) -> LinkStatus:
    values: dict[str, Any] = {
        "lines": 100,
        "good": 98,
        "rejected": 2,
        "rejected_by_reason": (("bad crc", 2),),
        "noise_bytes": 0,
        "lost": 1,
        "loss_fraction": 0.01,
        "unknown_kinds": 0,
        "restarts": 0,
        "last_t_ms": 12_000.0,
        "last_heard_us": 5_000_000,
        "signal_dbm": -71.5,
        "snr_db": 40.0,
    }
    return LinkStatus(**(values | changes))


def make_snapshot(**changes: Any) -> Snapshot:
    """A flight coasting up, liftoff at T_MS 10,000; `changes` replace single values."""
    values: dict[str, Any] = {
        "phase": Phase.COAST,
        "liftoff_t_ms": 10_000.0,
        "estimate": Estimate(12_000.0, 150.25, 62.5, -14.5, 0.4, 0.3, 0.2),
        "highest_m": 150.25,
        "fastest_mps": 98.5,
        "pad_pressure_pa": 98_000.0,
        "air_temperature_c": 21.5,
        "isa_to_true": 1.0225,
        "temperature_is_given": False,
        "events": (Event(EventName.LIFTOFF, 10_000.0, 0.0, 0.0, 0.02, Basis.ESTIMATED, 10_160.0),),
        "deployments": (make_deployment(Role.DROGUE), make_deployment(Role.MAIN)),
        "alerts": (),
        "unit": Unit("PEBBLE-1", 1, 20, Role.DROGUE, Role.MAIN, 150.0),
        "channels": ChannelStatus(11_900.0, 8310, ChannelState.READY, None, ChannelState.READY, None),
        "fix": None,
        "link": make_link(),
    }
    return Snapshot(**(values | changes))


def make_deployment(role: Role, verdict: Verdict | None = None, **changes: Any) -> Deployment:
    values: dict[str, Any] = {
        "role": role,
        "channel": 1 if role is Role.DROGUE else 2,
        "charge": ChannelState.READY,
        "fired_t_ms": None,
        "fired_altitude_m": None,
        "fired_velocity_mps": None,
        "opened_t_ms": None,
        "opened_altitude_m": None,
        "rate_before_mps": None,
        "rate_after_mps": None,
        "verdict": verdict,
        "reasons": (),
    }
    return Deployment(**(values | changes))


def make_status(**changes: Any) -> SessionStatus:
    values: dict[str, Any] = {
        "source": "loop://",
        "source_open": True,
        "source_note": "",
        "recording_to": "flights/one.flight",
        "recording_error": None,
        "now_us": 5_250_000,
        "marks": (),
    }
    return SessionStatus(**(values | changes))


class ScriptedPipeline:
    """Stands in for the pipeline: shows what a test sets. A line is taken as one more point of the curve."""

    def __init__(self) -> None:
        self.track: list[Estimate] = []
        self.shown = make_snapshot()

    def take_line(self, line: bytes, arrival_us: int | None) -> Estimate | None:
        self.track.append(make_estimate(len(self.track)))
        return self.track[-1]

    def snapshot(self, *, over: bool = False) -> Snapshot:
        return self.shown


class ScriptedPlayback:
    """A replay that only notes what is asked of it."""

    def __init__(self) -> None:
        self.position_us = 2_000_000
        self.duration_us = 60_000_000
        self.playing = True
        self.speed = 1.0
        self.asked: list[tuple[str, float]] = []

    def play(self) -> None:
        self.playing = True
        self.asked.append(("play", 0))

    def pause(self) -> None:
        self.playing = False
        self.asked.append(("pause", 0))

    def set_speed(self, speed: float) -> None:
        self.speed = speed
        self.asked.append(("speed", speed))

    def seek(self, position_us: int) -> None:
        self.position_us = position_us
        self.asked.append(("seek", position_us))


class Stage:
    """A session over a scripted pipeline, with a clock that a test sets."""

    def __init__(self) -> None:
        self.pipeline = ScriptedPipeline()
        self.now_us = 5_250_000
        self.session = FlightSession(self.pipeline, "loop://", lambda: self.now_us)  # type: ignore[arg-type]
        self.marks: list[str] = []

    def add_points(self, number: int) -> None:
        for _ in range(number):
            self.session.take_line(b"", self.now_us)

    def show(self, **changes: Any) -> None:
        """Show another snapshot and wake the viewers."""
        self.pipeline.shown = make_snapshot(**changes)
        self.session.set_source(is_open=True)


@pytest.fixture
def stage() -> Stage:
    return Stage()


@pytest.fixture
def serve() -> Iterator[Callable[..., tuple[PageServer, str]]]:
    """Start a page server on a free port of this machine; returns it and its address. Stopped with the test."""
    started: list[PageServer] = []

    def start(session: FlightSession, host: str = "127.0.0.1", port: int = 0, **extras: Any) -> tuple[PageServer, str]:
        server = PageServer(session, host, port, **extras)
        address = server.start()
        started.append(server)
        return server, address.rstrip("/")

    yield start
    for server in started:
        server.stop()


class EventReader:
    """Reads server-sent events from a socket, by the rules of the WHATWG HTML standard that the page needs."""

    def __init__(self, address: str, *, last_id: str | None = None) -> None:
        host, _, port = address.removeprefix("http://").partition(":")
        self.socket = socket.create_connection((host, int(port)), timeout=PATIENCE_S)
        resume = f"Last-Event-ID: {last_id}\r\n" if last_id else ""
        self.socket.sendall(f"GET /api/stream HTTP/1.0\r\nHost: {host}:{port}\r\n{resume}\r\n".encode())
        self._file = self.socket.makefile("rb")
        self.status = int(self._file.readline().split()[1])
        self.headers = dict(
            line.decode().strip().lower().split(": ", 1)
            for line in itertools.takewhile(lambda raw: raw.strip(), self._file)
        )

    def next(self) -> dict[str, str]:
        """The next event's fields."""
        fields: dict[str, str] = {}
        for raw in self._file:
            line = raw.decode().rstrip("\n")
            if not line:
                return fields
            name, _, value = line.partition(": ")
            fields[name] = value
        return fields

    def close(self) -> None:
        self._file.close()
        self.socket.close()


@pytest.fixture
def read_events() -> Iterator[Callable[..., EventReader]]:
    opened: list[EventReader] = []

    def read(address: str, *, last_id: str | None = None) -> EventReader:
        reader = EventReader(address, last_id=last_id)
        opened.append(reader)
        return reader

    yield read
    for reader in opened:
        reader.close()


@pytest.fixture
def until() -> Callable[[Callable[[], object]], None]:
    """Wait for a condition; fails the test if it never comes true."""
    never = threading.Event()

    def wait(condition: Callable[[], object]) -> None:
        for _ in range(int(PATIENCE_S / 0.02)):
            if condition():
                return
            never.wait(0.02)
        pytest.fail("it never came true")

    return wait


class Make:
    """Makers of values, each with every field set; keyword arguments replace single values."""

    estimate = staticmethod(make_estimate)
    link = staticmethod(make_link)
    snapshot = staticmethod(make_snapshot)
    deployment = staticmethod(make_deployment)
    status = staticmethod(make_status)
    playback = ScriptedPlayback


@pytest.fixture
def make() -> type[Make]:
    return Make
