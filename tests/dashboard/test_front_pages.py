"""The start page, the logbook, the plan and the first lesson in Chromium, with real logs and real page servers."""

import json
import re
import shutil
from dataclasses import replace
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from dashboard.command import Pages
from dashboard.front_server import FrontServer
from station.command.front_desk import FrontDesk
from station.flight_log.entries import log_text
from station.flight_log.flight_file import parse_flight
from station.logbook.book import Logbook
from station.ports import PortDescription
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

pytestmark = pytest.mark.browser

SIZES = [(1366, 768), (1920, 1080), (390, 844)]
PLACES = ["", "logbook", "plan", "learn"]
FLIGHTS = [("main-silent", "Thistle", "F40-7"), ("nominal-dual", "Little Comet", "H90-9"), ("ballistic", "Ant", "G80")]


@pytest.fixture(scope="module")
def judged_folder(tmp_path_factory):
    """Three flights a month apart, the newest first, and a file that is none; judged already."""
    folder = tmp_path_factory.mktemp("flights")
    for number, (scenario, rocket, motor) in enumerate(FLIGHTS):
        file = parse_flight(flight_log(fly(SCENARIOS[scenario], 1)), scenario)
        plan = f'[rocket]\nname = "{rocket}"\n[motor]\nname = "{motor}"\n'
        header = replace(file.header, opened=file.header.opened - timedelta(days=30 * number), plan=plan)
        (folder / f"{scenario}.flight").write_bytes(log_text(header, file.entries))
    (folder / "noise.flight").write_bytes(b"noise")
    book = Logbook(folder)
    book.refresh(book.pending())
    return folder


@pytest.fixture
def address(judged_folder, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(judged_folder, tmp_path / "flights")
    desk = FrontDesk(Pages(), tmp_path / "flights", lambda: None)
    server = FrontServer(desk, "127.0.0.1", 0)
    yield server.start()
    desk.close_all()
    server.stop()


def cells(page, column):
    """The texts of one column of the flights that are shown."""
    return page.locator(f"#rows tr:visible td:nth-child({column})").all_inner_texts()


@pytest.fixture
def wandering_page(browser):
    """A page that may go on to the pages of other ports of this machine, as a replay's."""
    context = browser.new_context(viewport={"width": 1366, "height": 768}, locale="en-US")
    yield context.new_page()
    context.close()


def test_flights_are_listed_and_one_is_replayed_and_closed_by_click(address, wandering_page):
    page = wandering_page
    page.goto(address)
    flights = page.get_by_role("region", name="Latest flights").get_by_role("listitem")
    expect(flights).to_have_count(3)
    expect(flights.first).to_contain_text("Thistle")
    expect(flights.first).to_contain_text("Look here")
    page.get_by_role("button", name="Replay Thistle, 2031-05-04").click()
    expect(page.locator("#phase")).to_have_text("On the rail")
    assert page.url != address
    page.goto(address)
    opened = page.get_by_role("region", name="Open now")
    expect(opened).to_contain_text("Replay of main-silent.flight")
    opened.get_by_role("button", name="Close").click()
    expect(opened).to_be_hidden()


def test_the_page_after_landing_is_opened_by_click(address, open_page):
    page = open_page(address)
    page.get_by_role("button", name="After landing: Thistle").click()
    expect(page).to_have_title("Thistle: after landing")


def test_a_page_to_share_is_saved_by_click(address, open_page):
    page = open_page(f"{address}logbook")
    page.get_by_role("button", name="Open Thistle, 2031-05-04", exact=True).click()
    with page.expect_download() as saving:
        page.get_by_role("link", name="Save a page to share").click()
    assert saving.value.suggested_filename == "main-silent.html"
    assert "<title>Thistle: a rocket flight</title>" in saving.value.path().read_text(encoding="utf-8")


def test_without_a_port_it_says_what_to_do_and_with_one_it_can_be_chosen(address, open_page, monkeypatch):
    ports = []
    monkeypatch.setattr(FrontDesk, "ports", lambda self: ports)
    page = open_page(address, allow_errors=True)
    expect(page.get_by_text("No serial port is plugged in")).to_be_visible()
    expect(page.get_by_role("button", name="Listen and record")).to_be_disabled()
    ports.append(PortDescription("/dev/ttyNONE", "Field receiver", (0x1234, 1, "")))
    expect(page.get_by_role("radio", name="/dev/ttyNONE Field receiver")).to_be_checked()
    page.get_by_role("button", name="Listen and record").click()
    expect(page.locator("#said")).to_contain_text("/dev/ttyNONE")


def test_the_table_is_sorted_and_searched(address, open_page):
    page = open_page(f"{address}logbook")
    expect(page.locator("#count")).to_have_text("3 flights")
    assert cells(page, 3) == ["Thistle", "Little Comet", "Ant"]
    page.get_by_role("button", name="Rocket").click()
    assert cells(page, 3) == ["Ant", "Little Comet", "Thistle"]
    expect(page.get_by_role("table", name="Flights").get_by_role("columnheader", name="Rocket")).to_have_attribute(
        "aria-sort", "ascending"
    )
    page.get_by_role("button", name="Rocket").press("Enter")
    assert cells(page, 3) == ["Thistle", "Little Comet", "Ant"]
    page.get_by_role("searchbox", name="Search").fill("comet H90")
    expect(page.locator("#count")).to_have_text("1 of 3 flights")
    assert cells(page, 3) == ["Little Comet"]
    expect(page.get_by_text("noise.flight: ")).to_be_visible()


def test_curves_are_laid_over_each_other_and_read_at_a_moment(address, open_page):
    page = open_page(f"{address}logbook", locale="en-GB")
    for rocket in ("Thistle", "Little Comet"):
        page.get_by_role("checkbox", name=f"Draw the curve of {rocket}").check()
    expect(page.locator("#chart .curve-line")).to_have_count(2)
    expect(page.get_by_role("img", name="Altitude over time of Thistle")).to_be_visible()
    # Both have been down for long at the end of the longer one; at 9.4 s both are at their top, some 425 m up.
    moment = page.get_by_role("slider", name="Moment")
    moment.fill("9.4")
    for value in page.locator("#key .value").all_inner_texts():
        assert 415 <= int(value.removesuffix(" m")) <= 435
    page.get_by_role("button", name="Vertical speed").click()
    expect(page.get_by_role("img", name="Vertical speed over time of Thistle")).to_be_visible()
    page.get_by_role("button", name="Remove the curve of Thistle").click()
    expect(page.locator("#chart .curve-line")).to_have_count(1)
    expect(page.get_by_role("checkbox", name="Draw the curve of Thistle")).not_to_be_checked()


def test_what_the_owner_writes_is_kept_and_shown(address, open_page, tmp_path):
    page = open_page(f"{address}logbook")
    page.get_by_role("button", name="Open Thistle, 2031-05-04", exact=True).click()
    box = page.get_by_role("dialog", name="Thistle, 2031-05-04")
    box.get_by_label("Remarks").fill("Windy.\nFin cracked.")
    box.get_by_label("Rocket").fill("Thistle Two")
    box.get_by_role("button", name="Save").click()
    expect(page.locator("#rows")).to_contain_text("Windy. / Fin cracked.")
    expect(page.locator("#rows")).to_contain_text("Thistle Two")
    kept = json.loads((tmp_path / "flights/main-silent.note.json").read_text(encoding="utf-8"))
    assert kept == {"rocket": "Thistle Two", "remarks": "Windy.\nFin cracked."}


def test_a_plan_is_answered_judged_and_written(address, open_page, tmp_path):
    page = open_page(f"{address}plan")
    page.get_by_label("What is the rocket called?").fill("Little Comet")
    page.get_by_label("What is its total impulse?").fill("200")
    expect(page.locator("#said")).to_have_text("One answer cannot be read.")
    expect(page.get_by_label("What is its total impulse?")).to_have_attribute("aria-invalid", "true")
    page.get_by_label("What is its total impulse?").fill("200 N s")
    expect(page.locator("#follows")).to_contain_text("class H")
    page.get_by_label("Name of the plan").fill("comet")
    page.get_by_role("button", name="Write the plan").click()
    expect(page.locator("#said")).to_contain_text("Written: comet.toml")
    assert (tmp_path / "comet.toml").exists()
    page.get_by_role("link", name="Start").click()
    expect(page.get_by_label("Flight plan").get_by_role("option", name="comet.toml")).to_be_attached()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing(address, open_page, theme):
    page = open_page(address, color_scheme=theme)
    for place in PLACES:
        page.goto(f"{address}{place}")
        if place == "logbook":
            page.get_by_role("checkbox", name="Draw the curve of Thistle").check()
            expect(page.locator("#chart .curve-line")).to_have_count(1)
        expect(page.locator("#units-button")).to_have_text("ft, mph")
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
    page.goto(f"{address}logbook")
    page.get_by_role("button", name="Open Thistle, 2031-05-04", exact=True).click()
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_nothing_sticks_out_of_the_window(address, open_page, size):
    page = open_page(address, size)
    for place in PLACES:
        page.goto(f"{address}{place}")
        if place == "logbook":
            page.get_by_role("checkbox", name="Draw the curve of Thistle").check()
            expect(page.locator("#chart .curve-line")).to_have_count(1)
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_on_a_phone_no_table_of_the_logbook_is_moved_sideways(address, open_page):
    page = open_page(f"{address}logbook", (390, 844), locale="en-US")
    comet = page.locator("#by-rocket tbody tr").filter(has_text="Little Comet")
    # Every column's name stands at its figure, for the head is away.
    expect(page.locator("#by-rocket thead")).to_be_hidden()
    for column in ("Flights", "All held the fall", "Impulse", "In the air", "Highest", "Fastest", "Longest", "Softest"):
        cell = comet.locator(f'td[data-column="{column}"]')
        expect(cell).to_be_visible()
        assert cell.evaluate("cell => getComputedStyle(cell, '::before').content") == f'"{column}"'
    expect(comet.locator('[data-column="Highest"]')).to_have_text(re.compile(r"1,39\d ft"))
    wide = (
        "[document.documentElement, ...document.body.querySelectorAll('*')]"
        ".filter(e => !e.matches('.only-heard') && e.clientWidth && e.scrollWidth > e.clientWidth)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert page.evaluate(wide) == []
    for where in (comet.get_by_role("button").first, page.get_by_role("button", name="Open Thistle").first):
        box = where.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 390


def test_units_are_the_viewer_s_own(address, open_page):
    page = open_page(f"{address}logbook", locale="en-GB")
    expect(page.locator("#rows")).to_contain_text(" m/s")
    while page.locator("#units-button").inner_text() != "ft, mph":
        page.locator("#units-button").click()
    expect(page.locator("#rows")).to_contain_text("mph")
    expect(page.locator("#by-rocket")).to_contain_text(" ft")
