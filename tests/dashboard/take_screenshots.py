"""Pictures of the page for README, taken anew: `python tests/dashboard/take_screenshots.py`.

An invented flight runs through the real pipeline, is held at its moments, and each view is photographed by Chromium.
With a folder as argument every view is photographed there at every moment, in both themes and three sizes, to look at
before a change of the page is handed on: `python tests/dashboard/take_screenshots.py FOLDER`.
"""

import itertools
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright
from small_png import README_FOLDER, save_small

from dashboard.server import PageServer
from station.flight_state import EventName, Phase, Snapshot
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.session import FlightSession
from station.virtual import SCENARIOS, fly

SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
PATIENCE_S = 120.0
TOLD = "() => window.station && station.stream && station.stream.state && station.stream.age() !== null"
DRAWN = "() => station.curve.draws.points === station.stream.store.count"
LAPTOP, DESKTOP, PHONE, SMALL = (1366, 768), (1920, 1080), (390, 844), (1200, 675)
PLAN = FlightPlan(predicted_apogee_m=440.0, predicted_speed_mps=101.0)


def seconds_after(snapshot: Snapshot, name: EventName) -> float:
    """How long ago an event was, by the newest sample; negative if it has not been."""
    event = next((event for event in snapshot.events if event.name is name), None)
    return -1.0 if event is None or snapshot.estimate is None else (snapshot.estimate.t_ms - event.t_ms) / 1000.0


# The moments, in order, each with what it waits for.
MOMENTS: dict[str, Callable[[Snapshot], bool]] = {
    "waiting": lambda s: s.link.last_heard_us is not None and s.link.last_heard_us > 6_000_000,
    "thrust": lambda s: s.phase is Phase.THRUST and seconds_after(s, EventName.LIFTOFF) > 0.8,
    "coast": lambda s: s.phase is Phase.COAST and seconds_after(s, EventName.LIFTOFF) > 4.5,
    "drogue": lambda s: seconds_after(s, EventName.DROGUE) > 7.0,
    "main": lambda s: seconds_after(s, EventName.MAIN) > 5.0,
    "down": lambda s: False,
}


@dataclass(frozen=True)
class Shot:
    """One view at one moment."""

    moment: str
    path: str
    theme: str
    size: tuple[int, int]
    file: str


README_SHOTS = (
    Shot("coast", "", "light", SMALL, "coast.png"),
    Shot("drogue", "", "dark", SMALL, "descent-dark.png"),
    Shot("down", "watch", "light", PHONE, "spectator-down.png"),
    Shot("coast", "watch", "light", PHONE, "spectator.png"),
    Shot("coast", "overlay?background=solid", "light", (1200, 150), "overlay.png"),
)


def every_shot() -> Iterator[Shot]:
    """All views, moments, themes and sizes that there are."""
    for moment, theme, (name, size) in itertools.product(
        MOMENTS, ("light", "dark"), (("laptop", LAPTOP), ("desktop", DESKTOP), ("phone", PHONE))
    ):
        for view, path in (("operator", ""), ("watch", "watch")):
            yield Shot(moment, path, theme, size, f"{view}-{moment}-{theme}-{name}.png")
    for moment, background in itertools.product(MOMENTS, ("clear", "solid")):
        yield Shot(moment, f"overlay?background={background}", "light", LAPTOP, f"overlay-{moment}-{background}.png")


class HeldFlight:
    """An invented flight that goes on only when asked; its clock stands where its newest line came."""

    def __init__(self, scenario: str) -> None:
        self._lines = list(fly(SCENARIOS[scenario], 1).heard())
        self._fed = 0
        self._now_us = 0
        self.session = FlightSession(Pipeline(plan=PLAN), "/dev/ttyUSB0", lambda: self._now_us)
        self.session.set_source(is_open=True)
        self.session.set_recording("flights/2026-05-02_141207.flight")

    def go_to(self, moment: str) -> None:
        while self._fed < len(self._lines) and not MOMENTS[moment](self.session.snapshot()[1]):
            for line, at_us in self._lines[self._fed : self._fed + 5]:
                self._now_us = at_us
                self.session.take_line(line, at_us)
            self._fed += 5
        if self._fed >= len(self._lines):
            self.session.end_of_lines()


def open_page(browser: Browser, address: str, shot: Shot) -> Page:
    context = browser.new_context(
        viewport={"width": shot.size[0], "height": shot.size[1]}, color_scheme=shot.theme, locale="en-US"
    )
    context.set_default_timeout(1000 * PATIENCE_S)
    page = context.new_page()
    page.goto(address + shot.path)
    return page


def photograph(page: Page, shot: Shot, folder: Path) -> None:
    """Once the page shows all that the session has."""
    page.bring_to_front()
    page.wait_for_function(TOLD)
    if not shot.path:
        page.wait_for_function(DRAWN)
    page.wait_for_timeout(1500)
    phone_page = shot.size == PHONE and not shot.path
    page.screenshot(path=folder / shot.file, full_page=phone_page, omit_background=True)


def take(shots: list[Shot], folder: Path) -> None:
    """Each moment in turn, all its pictures."""
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        sys.exit("no Chromium on this machine (Debian: apt install chromium)")
    folder.mkdir(parents=True, exist_ok=True)
    flight = HeldFlight("nominal-dual")
    server = PageServer(flight.session, "127.0.0.1", 0, on_mark=lambda _text: None)
    address = server.start()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=SWITCHES)
        for moment in MOMENTS:
            flight.go_to(moment)
            for shot in (shot for shot in shots if shot.moment == moment):
                page = open_page(browser, address, shot)
                photograph(page, shot, folder)
                page.context.close()
        browser.close()
    server.stop()


def main() -> None:
    if len(sys.argv) > 1:
        take(list(every_shot()), Path(sys.argv[1]))
        return
    take(list(README_SHOTS), README_FOLDER)
    for shot in README_SHOTS:
        save_small((README_FOLDER / shot.file).read_bytes(), README_FOLDER / shot.file)


if __name__ == "__main__":
    main()
