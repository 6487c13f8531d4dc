"""A whole flight through a real pseudo-terminal, read from every panel of the page by role and name, at three sizes."""

import os
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from station.flight_log import EntryKind, FlightLogWriter, LogHeader, read_flight_file
from station.flight_state import EventName, Snapshot
from station.live import LiveFlight
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.serial_link import SerialLink
from station.session import FlightSession
from station.virtual import SCENARIOS, fly_setup
from station.virtual_port import PseudoTerminal

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals"),
]

SIZES = [(1366, 768), (1920, 1080), (390, 844)]
FEET = 1 / 0.3048
MPH = 3600 / 1609.344
PATIENCE_S = 30.0
BATCH = 5


class FlightOnAPort:
    """An invented altimeter at one end of a pseudo-terminal, the station's own reader and recorder at the other.

    The recorder's clock follows the altimeter's, and stands still while a test looks.
    """

    def __init__(self, folder: Path) -> None:
        setup = SCENARIOS["nominal-dual"].setup(1)
        radio = replace(setup.radio, loss_fraction=0.0, corrupt_fraction=0.0)
        self._lines = fly_setup(replace(setup, radio=radio), 1).lines
        self._now_us = 0
        self._sent = 0
        self._waits = threading.Event()
        self._port = PseudoTerminal()
        link = SerialLink(self._port.port_name)
        link.open()
        self.session = FlightSession(Pipeline(plan=FlightPlan(predicted_apogee_m=450.0)), link.name, self._clock_us)
        self.writer = FlightLogWriter(folder, LogHeader(None, link.name, "test", "test"))
        self._live = LiveFlight(link, self.writer, self.session, self._clock_us)
        self._reader = threading.Thread(target=self._live.run_forever, args=(threading.Event(),))
        self._reader.start()
        assert self._port.wait_for_reader(self._waits.wait)

    def _clock_us(self) -> int:
        return self._now_us

    def mark(self, text: str) -> None:
        self._live.mark(text)

    def send_while(self, condition: Callable[[Snapshot], bool]) -> Snapshot:
        """Send lines as long as the condition holds of what the station has made of all those sent, or to the end."""
        while condition(self.heard()) and self._sent < len(self._lines):
            for line in self._lines[self._sent : self._sent + BATCH]:
                self._now_us = int(1e6 * line.t_s)
                assert self._port.send(line.data, PATIENCE_S)
            self._sent = min(self._sent + BATCH, len(self._lines))
        return self.heard()

    def heard(self) -> Snapshot:
        """The snapshot once every line sent has been taken."""
        lines = sum(line.data.count(b"\n") for line in self._lines[: self._sent])
        for _ in range(int(PATIENCE_S / 0.002)):
            snapshot = self.session.snapshot()[1]
            if snapshot.link.lines == lines:
                return snapshot
            self._waits.wait(0.002)
        raise AssertionError(f"{snapshot.link.lines} of {lines} lines were heard")

    def end(self) -> None:
        """Close the recorder and the station's side of the port."""
        self._live.stop()
        self._reader.join(timeout=PATIENCE_S)

    def close(self) -> None:
        self.end()
        self._port.close()


@pytest.fixture
def flight(tmp_path: Path) -> Iterator[FlightOnAPort]:
    on_a_port = FlightOnAPort(tmp_path)
    yield on_a_port
    on_a_port.close()


def region(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name, exact=True)


def figure(page: Page, name: str) -> Locator:
    return page.get_by_role("group", name=name, exact=True).locator(".number")


def phase(page: Page) -> Locator:
    return region(page, "Now").get_by_role("heading", level=2)


def feet(metres: float | None) -> str:
    assert metres is not None
    return f"{round(metres * FEET):,}"


def had(name: EventName) -> Callable[[Snapshot], bool]:
    return lambda snapshot: any(event.name is name for event in snapshot.events)


def event_of(snapshot: Snapshot, name: EventName) -> Any:
    return next(event for event in snapshot.events if event.name is name)


def test_a_whole_flight_is_read_from_every_panel_by_role_and_name(flight: FlightOnAPort, serve, open_page, until):
    _, address = serve(flight.session, on_mark=flight.mark)
    pages = [open_page(address, size) for size in SIZES]
    for page in pages:
        expect(phase(page)).to_have_text("On the rail")
        expect(region(page, "Now")).to_contain_text("Nothing heard from the altimeter yet")
        expect(page.get_by_role("heading", level=1)).to_have_text("Ground station")

    snapshot = flight.send_while(
        lambda s: s.channels is None or s.pad_pressure_pa is None or len(s.deployments) < 2 or s.link.signal_dbm is None
    )
    assert snapshot.unit is not None
    for page in pages:
        expect(page.get_by_role("heading", level=1)).to_have_text(snapshot.unit.name)
        readiness = page.get_by_role("list", name="What is known before the flight")
        for what, told in (
            ("Battery", r"\d\.\d\d V"),
            ("Drogue charge", "ready, igniter connected"),
            ("Main charge", "ready, igniter connected"),
            ("Height zero", "taken at the pad"),
            ("Record", "being written"),
        ):
            expect(readiness.get_by_role("listitem").filter(has_text=what)).to_have_text(re.compile(f"{what}{told}$"))
        expect(region(page, "Now")).to_contain_text("the range safety officer decides")
        link = region(page, "Link")
        expect(link).to_contain_text("Last heardnow")
        expect(link).to_contain_text("Lost on the way0 (0.0 %)")
        expect(link).to_contain_text("Rejected0")
        expect(link).to_contain_text(re.compile(r"Signal−\d+ dBm"))
        expect(link).to_contain_text("Channel 1drogue ready")
        expect(link.get_by_role("img", name=re.compile("The last minute of the link: [1-9]"))).to_be_visible()
        expect(page.get_by_role("banner")).to_contain_text(f"Recording {flight.writer.path.name}")

    flight.send_while(lambda s: s.phase.value != "thrust")
    for page in pages:
        expect(phase(page)).to_have_text("Motor burning")
        expect(page.get_by_role("log", name="Events").get_by_role("listitem")).to_have_text(["0.0 s Liftoff."])

    snapshot = flight.send_while(lambda s: s.outlook is None or s.flight_time_s < 5.0)
    assert snapshot.estimate is not None
    assert snapshot.outlook is not None
    assert snapshot.outlook.apogee_altitude_m is not None
    for page in pages:
        expect(phase(page)).to_have_text("Coasting up")
        expect(page.get_by_label("Flight clock")).to_contain_text(re.compile(r"T\+00:05\.\d"))
        expect(figure(page, "Altitude")).to_have_text(f"{feet(snapshot.estimate.altitude_m)}ft")
        speed = round(snapshot.estimate.velocity_mps * MPH)
        expect(figure(page, "Going up")).to_have_text(f"▲{speed:,}mph")
        expect(figure(page, "Highest so far")).to_have_text(f"{feet(snapshot.highest_m)}ft")
        expect(figure(page, "Apogee in")).to_have_text(re.compile(r"\ds ± [\d.]+"))
        expect(figure(page, "Apogee expected")).to_have_text(
            re.compile(rf"{feet(snapshot.outlook.apogee_altitude_m)}ft ± \d+")
        )

    snapshot = flight.send_while(lambda s: not had(EventName.DROGUE)(s) or s.outlook is None)
    for page in pages:
        expect(phase(page)).to_have_text("Under the drogue")
        expect(figure(page, "Coming down")).to_have_text(re.compile(r"▼\d+mph"))
        expect(figure(page, "Touchdown in")).to_have_text(re.compile(r"\d+s ± [\d.]+"))
        expect(figure(page, "Main’s height in")).to_have_text(re.compile(r"\d+s ± [\d.]+"))
        drogue = region(page, "Drogue").get_by_role("listitem")
        expect(drogue.nth(0)).to_contain_text("Chargereported fired")
        expect(drogue.nth(1)).to_have_text(re.compile(r"Fired\d+\.\d s, [\d,]+ ft up, \d+(\.\d)? mph (up|down)$"))
        expect(drogue.nth(2)).to_contain_text(re.compile(r"Held the fallfrom \d+\.\d s"))
        expect(region(page, "Main").get_by_role("listitem").nth(1)).to_contain_text("Firednot yet")

    flight.send_while(lambda s: not had(EventName.MAIN)(s))
    for page in pages:
        expect(phase(page)).to_have_text("Under the main")
    pages[0].get_by_role("button", name="Mark", exact=True).click()
    for page in pages:
        expect(page.get_by_role("log", name="Events")).to_contain_text("Marked by the operator.")

    snapshot = flight.send_while(lambda _: True)
    apogee, touchdown = event_of(snapshot, EventName.APOGEE), event_of(snapshot, EventName.TOUCHDOWN)
    assert snapshot.liftoff_t_ms is not None
    for page in pages:
        expect(phase(page)).to_have_text("On the ground")
        now = region(page, "Now")
        expect(now.get_by_role("status")).to_contain_text("Both parachutes held the fall")
        expect(now).to_contain_text(f"Apogee{feet(snapshot.highest_m)} ft")
        expect(now).to_contain_text(f"In the air{(touchdown.t_ms - snapshot.liftoff_t_ms) / 1000:.1f} s")
        expect(now).to_contain_text("may still be live: keep clear")
        expect(now.get_by_role("list", name="Why").get_by_role("listitem")).to_have_count(2)
        for role in ("Drogue", "Main"):
            expect(region(page, role).get_by_role("heading", level=3)).to_contain_text("Held the fall")
        story = page.get_by_role("log", name="Events").get_by_role("listitem")
        expect(story).to_have_count(7)
        apogee_s = (apogee.t_ms - snapshot.liftoff_t_ms) / 1000
        expect(story.nth(2)).to_have_text(f"{apogee_s:.1f} s Apogee: {feet(apogee.altitude_m)} ft, the highest point.")
        expect(region(page, "Link")).to_contain_text("Channel 2main fired")
        until(lambda page=page: page.evaluate("station.curve.draws.points") == len(flight.session.points(0)))
        expect(region(page, "Curve")).to_contain_text("Altitude, ft")
        expect(region(page, "Curve")).to_contain_text(f"plan {feet(450.0)} ft")

    flight.end()
    recorded = read_flight_file(flight.writer.path)
    assert [entry.text for entry in recorded.entries if entry.kind is EntryKind.MARK] == ["operator"]
    assert len(recorded.lines) == snapshot.link.lines
