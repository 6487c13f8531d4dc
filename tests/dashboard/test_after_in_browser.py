"""The page after landing in a real browser: on screens, on paper, under axe, and from the live page."""

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from dashboard.app import ASSETS
from station.flight_log import EntryKind, FlightFile, LogEntry, read_flight_file
from station.plan import FlightPlan
from station.renditions.after_page import after_page
from station.renditions.page_parts import after_style
from station.whole_flight import whole_flight

pytestmark = pytest.mark.browser

SAMPLES = Path(__file__).resolve().parents[2] / "replay_samples"
SIZES = {"phone": (390, 844), "laptop": (1366, 768), "big": (1920, 1080)}
LONG_PLAN = FlightPlan(
    rocket_name="The Very Long Name of a Little Comet, the Second of Its Kind",
    rocket_mass_kg=1.497,
    motor_name="H-1 of the longest kind there is",
    total_impulse_ns=200.0,
    propellant_mass_kg=0.09,
    rail_length_m=2.4,
    wind_mps=4.0,
    wind_from_deg=270.0,
)


@pytest.fixture(scope="module")
def file_of(tmp_path_factory):
    made = {}

    def page(name: str, plan: FlightPlan | None = None) -> str:
        if name not in made:
            flight = whole_flight(read_flight_file(SAMPLES / name).lines, file=name, plan=plan)
            made[name] = tmp_path_factory.mktemp("after") / "page.html"
            made[name].write_text(after_page(flight, after_style()), encoding="utf-8")
        return made[name].as_uri()

    return page


@pytest.fixture
def open_file(browser):
    """Open a file; no page may complain in its console, nor ask for anything but itself."""
    contexts, complaints = [], []

    def open_one(address, size=SIZES["laptop"], **choices):
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, offline=True, **choices)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: complaints.append(request.url) if request.url != address else None)
        page.goto(address)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert [text for text in complaints if text != "data:,"] == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_fits_and_axe_finds_nothing(file_of, open_file, theme, size):
    page = open_file(file_of("main-silent.flight", LONG_PLAN), SIZES[size], color_scheme=theme)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.locator("summary").first.click()
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["main-silent.flight", "main-at-apogee.flight", "ballistic.flight"])
def test_it_prints_on_one_page(file_of, open_file, name, paper):
    """Counted by the PDF's page objects (ISO 32000-1, 7.7.3.3)."""
    page = open_file(file_of(name, LONG_PLAN))
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format=paper))) == 1
    page.emulate_media(media="print")
    expect(page.get_by_text("This record certifies nothing.")).to_be_visible()
    expect(page.get_by_text("What to change next time")).to_be_hidden()


def test_without_scripts_all_is_there_but_the_print_button(file_of, open_file):
    page = open_file(file_of("main-silent.flight", LONG_PLAN), java_script_enabled=False)
    expect(page.get_by_role("heading", name="Keep clear")).to_be_visible()
    expect(page.get_by_role("button", name="Print the flight record")).to_be_hidden()


def test_the_live_page_leads_there_and_back(make_flight, make, serve, open_page):
    flight = make_flight("main-silent", 4)
    flight.feed_rest()
    playback = make.playback()
    entries = tuple(LogEntry(EntryKind.LINE, at_us, line) for at_us, line in flight.lines)
    playback.saved = FlightFile("one.flight", None, entries, torn=False, damaged=0)
    _, address = serve(flight.session, playback=playback)
    page = open_page(address)
    with page.expect_popup() as opened:
        page.get_by_role("link", name="The whole answer").click()
    after = opened.value
    expect(after.get_by_role("heading", name="Keep clear")).to_be_visible()
    expect(after.get_by_role("link", name="Live page")).to_have_attribute("href", "/")


def test_its_colours_are_the_live_page_s():
    def tokens(css: str, selector: str) -> dict[str, str]:
        block = re.search(re.escape(selector) + r"\s*\{(.*?)\}", css, re.DOTALL)
        assert block is not None, selector
        return dict(re.findall(r"(--[a-z-]+):\s*(#[0-9a-f]{6})", block[1]))

    live = (Path(ASSETS) / "page.css").read_text(encoding="utf-8")
    light, dark = after_style().split("@media screen and (prefers-color-scheme: dark)", 1)
    for own, theme in ((tokens(light, ":root"), ":root"), (tokens(dark, ":root"), ':root[data-theme="dark"]')):
        assert len(own) >= 8
        assert own == {name: tokens(live, theme).get(name) for name in own}
