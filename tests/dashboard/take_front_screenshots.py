"""Pictures of start page and logbook for README, taken anew: `python tests/dashboard/take_front_screenshots.py`.

A season of invented flights is judged, and both pages are photographed by Chromium.
"""

import os
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import expect, sync_playwright
from small_png import README_FOLDER, save_small

from dashboard.command import Pages
from dashboard.front_server import FrontServer
from station.command.front_desk import FrontDesk
from station.flight_log.entries import log_text
from station.flight_log.flight_file import parse_flight
from station.logbook.book import Logbook
from station.logbook.notes import change_note
from station.ports import PortDescription
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

START_SIZE, LOGBOOK_SIZE = (1366, 580), (1366, 820)
PATIENCE_MS = 120_000
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
SEASON = (
    ("nominal-dual", "Little Comet", "H90-9", "Calm and clear. New shock cord."),
    ("past-mach-1", "Big Heron", "K300", "First time past Mach 1!"),
    ("main-silent", "Thistle", "H110", "Igniter of the main was dud. Fin cracked."),
    ("late-ejection", "Ant", "F40-7", "Delay much too long: 4 s off next time."),
    ("tangled-drogue", "Thistle", "H110", ""),
    ("drogue-late", "Little Comet", "H90-9", ""),
    ("behind-the-trees", "Little Comet", "H90-9", "Lost it behind the trees."),
    ("main-stays-in", "Thistle", "H110", "Main packed too tight."),
)
RECEIVER = PortDescription("/dev/ttyUSB0", "Field receiver", (0x1234, 1, ""))


def write_season(folder: Path) -> None:
    """The flights as logs, two weeks apart, each with its plan and the owner's remark."""
    for number, (scenario, rocket, motor, remarks) in enumerate(SEASON):
        file = parse_flight(flight_log(fly(SCENARIOS[scenario], number + 1)), scenario)
        assert file.header is not None
        assert file.header.opened is not None
        opened = file.header.opened - timedelta(days=14 * number, minutes=37 * number)
        plan = f'[rocket]\nname = "{rocket}"\n[motor]\nname = "{motor}"\n'
        log = folder / f"{opened:%Y-%m-%d_%H-%M-%SZ}_dev-ttyUSB0.flight"
        log.write_bytes(log_text(replace(file.header, opened=opened, plan=plan), file.entries))
        if remarks:
            change_note(log, {"remarks": remarks})
    book = Logbook(folder)
    book.refresh(book.pending())


def main() -> None:
    """Take both."""
    program = shutil.which("chromium") or shutil.which("google-chrome")
    with TemporaryDirectory() as name, sync_playwright() as playwright:
        os.chdir(name)
        folder = Path("flights")
        folder.mkdir()
        write_season(folder)
        desk = FrontDesk(Pages(), folder, lambda: None)
        desk.ports = lambda: [RECEIVER]  # type: ignore[method-assign]
        server = FrontServer(desk, "127.0.0.1", 0)
        address = server.start()
        browser = playwright.chromium.launch(executable_path=program, args=SWITCHES)
        page = browser.new_page(locale="en-US")
        page.set_viewport_size({"width": START_SIZE[0], "height": START_SIZE[1]})
        page.set_default_timeout(PATIENCE_MS)
        page.goto(address)
        expect(page.get_by_role("radio")).to_be_checked()
        # Where it really lies is of no interest, and another place each time.
        page.evaluate("document.getElementById('folder').textContent = '/home/flyer/flights'")
        save_small(page.screenshot(), README_FOLDER / "start.png")
        page.set_viewport_size({"width": LOGBOOK_SIZE[0], "height": LOGBOOK_SIZE[1]})
        page.goto(f"{address}logbook")
        for rocket in ("Little Comet", "Thistle"):
            page.get_by_role("checkbox", name=f"Draw the curve of {rocket}").first.check()
        expect(page.locator("#chart .curve-line")).to_have_count(2)
        page.evaluate("document.getElementById('folder').textContent = '/home/flyer/flights'")
        page.mouse.move(5, 5)
        save_small(page.screenshot(), README_FOLDER / "logbook.png")
        browser.close()
        server.stop()
        os.chdir(README_FOLDER)


if __name__ == "__main__":
    main()
