"""A small flight whose every value is known, and page servers around it."""

import itertools
import os
import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from dashboard.server import PageServer
from station.flight_log import FlightFile
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
    TakenBack,
    Unit,
    Verdict,
)
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.records import ChannelState, Role
from station.session import FlightSession, SessionStatus
from station.virtual import SCENARIOS, fly

PATIENCE_S = 30.0
"""How long a server or a page may take to answer before a test fails: no result depends on it."""

LINES_PER_LOOK, LINES_PER_LOOK_IN_PASSING = 5, 25
"""How often a flight that is fed is looked at: as a page does, some ten times a second, and where nothing is waited
for less often. A look costs many times what a line does."""

expect.set_options(timeout=1000 * PATIENCE_S)


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
        self.taken_back: list[TakenBack] = []
        self.shown = make_snapshot()
        self.plan: FlightPlan | None = None

    def take_line(self, line: bytes, arrival_us: int | None) -> Estimate | None:
        self.track.append(make_estimate(len(self.track)))
        return self.track[-1]

    def snapshot(self, *, over: bool = False) -> Snapshot:
        return self.shown


class ScriptedPlayback:
    """A replay that only notes what is asked of it."""

    def __init__(self) -> None:
        self.saved = FlightFile("one.flight", None, (), torn=False, damaged=0)
        self.position_us = 2_000_000
        self.duration_us = 60_000_000
        self.playing = True
        self.speed = 1.0
        self.events: tuple[tuple[EventName, int], ...] = ()
        self.asked: list[tuple[str, float]] = []

    def find_events(self) -> None:
        self.events = ((EventName.LIFTOFF, 1_000_000), (EventName.APOGEE, 9_000_000))

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


# -- a real flight through the real pipeline ------------------------------------------------------------------------


@cache
def _flown(scenario: str, seed: int) -> tuple[tuple[int, bytes], ...]:
    """The lines of an invented flight with their arrival times in us; most tests are of the same few flights."""
    return tuple((arrival_us, line) for line, arrival_us in fly(SCENARIOS[scenario], seed).heard())


class Flight:
    """An invented flight, fed into a session as far as a test says; the session's clock stands where it was fed to."""

    def __init__(self, scenario: str = "nominal-dual", seed: int = 1, plan: FlightPlan | None = None) -> None:
        self.lines = list(_flown(scenario, seed))
        self.fed = 0
        self.now_us = 0
        self.session = FlightSession(Pipeline(plan=plan), f"invented {scenario}", lambda: self.now_us)
        self.session.set_source(is_open=True)
        self.session.set_recording("flights/one.flight")
        self.marks: list[str] = []

    def mark(self, text: str) -> None:
        """What the command line does with an operator's mark."""
        self.marks.append(text)
        self.session.mark(self.now_us, text)

    def feed_while(self, condition: Callable[[Snapshot], bool], every: int = LINES_PER_LOOK) -> Snapshot:
        """Feed lines as long as the condition holds; the snapshot at which it did not, or the last.

        Looked at after every so many lines, as a page does.
        """
        while self.fed < len(self.lines):
            for arrival_us, line in self.lines[self.fed : self.fed + every]:
                self.now_us = arrival_us
                self.session.take_line(line, arrival_us)
                self.fed += 1
            snapshot = self.session.snapshot()[1]
            if not condition(snapshot):
                return snapshot
        return self.session.snapshot()[1]

    def feed_to(self, phase: Phase) -> Snapshot:
        """Feed until the flight is in this phase, or the lines end."""
        return self.feed_while(lambda snapshot: snapshot.phase is not phase)

    def feed_rest(self) -> Snapshot:
        return self.feed_while(lambda _snapshot: True, LINES_PER_LOOK_IN_PASSING)


@pytest.fixture
def make_flight() -> type[Flight]:
    return Flight


# -- a browser -------------------------------------------------------------------------------------------------------

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
# Each context has a window of its own, which nobody sees; the lists that its address bar would unfold cost more than a
# page of ours. This switch takes the place of the driver's own, so the driver's features stand here too.
CHROMIUM_WITHOUT = (
    "WebUIOmniboxPopup",
    "WebUIOmniboxAimPopup",
    "AimEnabled",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "TcpPortRandomizationWin",
    "ThirdPartyStoragePartitioning",
)
CHROMIUM_SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    f"--disable-features={','.join(CHROMIUM_WITHOUT)}",
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """This machine's own Chromium. Without one: in CI a failure, elsewhere a loud skip."""
    program = next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    if program is None:
        reason = "no Chromium on this machine: the browser tests did not run (Debian: apt install chromium)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=list(CHROMIUM_SWITCHES))
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open a page as one more viewer. When the test ends, no page may have complained in its console, and none may
    have asked another host for anything; `allow_errors` excuses the network errors of a test that cuts the line."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def open_one(
        address: str, size: tuple[int, int] = (1366, 768), *, allow_errors: bool = False, **choices: Any
    ) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, **({"locale": "en-US", "color_scheme": "light"} | choices)
        )
        context.set_default_timeout(1000 * PATIENCE_S)
        contexts.append(context)
        page = context.new_page()
        own_host = address.removeprefix("http://").partition("/")[0]
        if not allow_errors:
            page.on("console", lambda message: complaints.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: _note_foreign(request.url, own_host, complaints))
        page.goto(address)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def fits(until: Callable[[Callable[[], object]], None]) -> Callable[..., None]:
    """Make a page's window this large; once it is laid out again, nothing may stick out sideways, nor, if told so,
    below."""

    def fit(page: Page, size: tuple[int, int], *, unscrolled: bool = False) -> None:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        root = "document.documentElement"

        def is_enough() -> bool:
            window, width, height = page.evaluate(f"[innerWidth, {root}.scrollWidth, {root}.scrollHeight]")
            return window == size[0] and width <= size[0] and (height <= size[1] or not unscrolled)

        until(is_enough)

    return fit


def _note_foreign(url: str, own_host: str, complaints: list[str]) -> None:
    parts = urlsplit(url)
    if parts.scheme not in ("data", "blob") and parts.netloc != own_host:
        complaints.append(f"asked another host: {url}")
