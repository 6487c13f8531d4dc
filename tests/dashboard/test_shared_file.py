"""The shared file in real Chromium with the network off: played, dragged, changed; and the live page's look and words.

It is here for the browser and for the live page that it must agree with; the file itself is of `station`.
"""

import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from dashboard.app import ASSETS
from station.flight_log import read_flight_file
from station.plan import FlightPlan
from station.renditions.page_parts import page_script, page_style
from station.renditions.png import png_bytes
from station.renditions.share_page import PageParts, share_page
from station.renditions.still import still
from station.renditions.units import METRES
from station.renditions.words import CHARGES, PHASES, SIGNS, VERDICTS
from station.whole_flight import whole_flight

pytestmark = pytest.mark.browser

SAMPLES = Path(__file__).resolve().parents[2] / "replay_samples"
SIZES = {"phone": (390, 844), "laptop": (1366, 768)}
Open = Callable[..., Page]


@cache
def shared_text(name: str, rocket: str | None) -> str:
    plan = None if rocket is None else FlightPlan(rocket_name=rocket)
    flight = whole_flight(read_flight_file(SAMPLES / name).lines, file=name, plan=plan)
    return share_page(flight, PageParts(page_script(), page_style(), png_bytes(still(flight, METRES))))


@pytest.fixture
def shared(tmp_path: Path) -> Callable[..., Path]:
    """Write the file that `station share` writes of a sample."""

    def write(name: str = "nominal-dual.flight", rocket: str | None = None) -> Path:
        path = tmp_path / "shared.html"
        path.write_text(shared_text(name, rocket), encoding="utf-8")
        return path

    return write


@pytest.fixture
def open_file(browser: Browser) -> Iterator[Open]:
    """Open a file with the network off. It may ask for nothing but itself, and may not complain."""
    contexts, troubles = [], []

    def open_one(path: Path, size: str = "laptop", **choices: object) -> Page:
        width, height = SIZES[size]
        settings = {"locale": "en-GB", "has_touch": size == "phone", "color_scheme": "light"} | choices
        context = browser.new_context(viewport={"width": width, "height": height}, **settings)
        context.set_offline(True)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: troubles.append(message.text))
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("dialog", lambda dialog: troubles.append(dialog.message))
        page.on(
            "request",
            lambda request: (
                None
                if request.url == path.as_uri() or request.url.startswith("data:")
                else troubles.append(request.url)
            ),
        )
        page.goto(path.as_uri())
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert troubles == []


def text_of(page: Page, identifier: str) -> str:
    return page.locator(f"#{identifier}").inner_text()


def figure(page: Page, identifier: str) -> float:
    return float(text_of(page, identifier).replace(",", ""))


@pytest.mark.parametrize("size", SIZES)
def test_it_plays_to_the_end_without_a_network(shared, open_file: Open, size: str) -> None:
    page = open_file(shared(), size)
    expect(page.locator("#phase")).to_have_text("On the rail")
    page.get_by_label("Play speed").select_option("16")
    page.get_by_role("button", name="Play", exact=True).click()
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    for phase in ("Under the drogue", "Under the main", "On the ground"):
        expect(page.locator("#phase")).to_have_text(phase)
    expect(page.get_by_role("button", name="Play again")).to_be_visible()
    assert figure(page, "height") == 0
    # In the true flight touchdown comes 47.8 s after liftoff (replay_samples/expected.json); 5 s more are shown.
    minutes, seconds = text_of(page, "clock").removeprefix("T+").split(":")
    assert 60.0 * int(minutes) + float(seconds) == pytest.approx(52.8, abs=0.5)
    page.get_by_role("button", name="Play again").click()
    expect(page.get_by_role("button", name="Pause")).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_wider_than_the_screen_and_the_player_is_at_the_top(shared, open_file: Open, size: str) -> None:
    page = open_file(shared("main-silent.flight"), size)
    page.get_by_role("button", name="Drogue").click()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    box = page.get_by_role("button", name="Play", exact=True).bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= SIZES[size][1]
    assert box["height"] >= 24  # WCAG 2.2, 2.5.8: targets of at least 24 by 24 pixels


def test_events_slider_and_keys_lead_to_a_moment(shared, open_file: Open) -> None:
    page = open_file(shared())
    page.get_by_role("button", name="Apogee").click()
    expect(page.locator("#height")).to_have_text("426")
    slider = page.get_by_role("slider", name="Moment of the flight")
    slider.fill("20")
    expect(page.locator("#phase")).to_have_text("Under the drogue")
    expect(page.locator("#speed-label")).to_contain_text("Coming down")
    assert re.match(
        r"T\+00:(20\.0|19\.9), Under the drogue, 2\d\d m, 1\d\.\d m/s", slider.get_attribute("aria-valuetext") or ""
    )
    page.locator("h1").click()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#clock")).to_have_text(re.compile(r"T\+00:(21\.0|20\.9)"))
    page.keyboard.press("Home")
    expect(page.locator("#phase")).to_have_text("On the rail")
    page.keyboard.press(" ")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()


def test_the_curve_can_be_dragged(shared, open_file: Open) -> None:
    page = open_file(shared())
    box = page.locator("#sky").bounding_box()
    assert box is not None
    y = box["y"] + 0.4 * box["height"]
    page.mouse.move(box["x"] + 0.3 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], y, steps=5)
    at = text_of(page, "clock")
    page.mouse.up()
    page.mouse.move(box["x"] + 0.9 * box["width"], y)
    assert at.startswith("T+00:")
    assert text_of(page, "clock") == at != "T−00:01.9"


def test_a_finger_moves_in_time_and_scrolls_the_page(shared, open_file: Open) -> None:
    page = open_file(shared(), "phone")
    box = page.locator("#sky").bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + 0.6 * box["width"], box["y"] + 0.3 * box["height"])
    assert text_of(page, "clock").startswith("T+00:")
    assert page.locator("#sky").evaluate("sky => getComputedStyle(sky).touchAction") == "pan-y"


def test_units_change_in_every_figure_and_sentence(shared, open_file: Open) -> None:
    page = open_file(shared())
    page.get_by_role("button", name="Apogee").click()
    shown = page.locator("body").inner_text()
    assert " ft" not in shown.replace("ft, mph", "")
    page.get_by_role("button", name="ft, mph").click()
    shown = page.locator("body").inner_text()
    assert figure(page, "height") == pytest.approx(426.1 / 0.3048, abs=2)
    assert "The motor burned out 293 ft up, rising at 221 mph." in shown
    assert not re.search(r"\d m\b|m/s", shown.replace("m, m/s", ""))


def test_a_reader_in_america_begins_in_feet(shared, open_file: Open) -> None:
    page = open_file(shared(), locale="en-US")
    assert page.locator("html").get_attribute("data-units") == "feet"


def test_a_hostile_name_is_only_a_name(shared, open_file: Open) -> None:
    name = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    page = open_file(shared(rocket=name))
    expect(page.locator("h1")).to_have_text(name)
    assert page.evaluate("document.scripts.length") == 2


# What an inbox's preview must show of the flight whose main was never fired.
TOLD_WITHOUT_SCRIPTS = (
    "Thistle",
    "A parachute did not do what it should",
    "Opened in a browser, the flight plays here.",
    "Liftoff.",
    "The motor burned out 84 m up, rising at 96 m/s.",
    "Apogee: 427 m, the highest point.",
    "The drogue held the fall from 421 m up.",
    "Touchdown.",
    "Fastest on the way up",
    "427 m",
    "33.6 s",
    "Drogue · channel 1",
    "Held the fall",
    "Main · channel 2",
    "Not fired",
    "The main charge (channel 2) was not reported fired and may still be live. Keep clear;",
    "treat every charge not reported fired as live",
)


def without_style(path: Path) -> Path:
    """The file as a preview leaves it that keeps no style."""
    bare = path.with_name("bare.html")
    bare.write_text(re.sub(r"<style>.*?</style>", "", path.read_text(encoding="utf-8"), flags=re.DOTALL), "utf-8")
    return bare


@pytest.mark.parametrize("styled", [True, False], ids=["styled", "no style"])
@pytest.mark.parametrize("size", SIZES)
def test_a_preview_without_scripts_tells_and_pictures_the_flight(
    shared, open_file: Open, size: str, styled: bool
) -> None:
    path = shared("main-silent.flight", "Thistle")
    page = open_file(path if styled else without_style(path), size, java_script_enabled=False)
    for words in TOLD_WITHOUT_SCRIPTS:
        expect(page.get_by_text(words).filter(visible=True).first).to_be_visible()
    expect(page.locator("#player")).to_be_hidden()
    shown = page.locator("body").inner_text()
    assert not re.search(r"\d ft|\d mph", shown)
    assert styled or "! Held the fall: no, down at" in shown
    assert not re.search(r"\d s[A-Z]|[.\w]✓|[✓●!]\w", shown), "words run together"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    picture = page.get_by_role("img", name="Thistle flew up to 427 m (1,400 ft), reached")
    assert picture.evaluate("img => [img.complete, img.naturalWidth, img.naturalHeight]") == [True, 1200, 630]
    box = picture.bounding_box()
    assert box is not None
    assert box["y"] < 0.5 * SIZES[size][1]
    assert box["width"] > 0.85 * SIZES[size][0]
    assert box["width"] / box["height"] == pytest.approx(1200 / 630, rel=0.01)


def test_with_scripts_the_player_stands_in_the_still_s_place(shared, open_file: Open) -> None:
    page = open_file(shared())
    expect(page.locator("#player")).to_be_visible()
    expect(page.locator("#still")).to_be_hidden()
    expect(page.get_by_text("Opened in a browser")).to_be_hidden()
    page.emulate_media(media="print")
    expect(page.locator("#still img")).to_be_visible()
    expect(page.get_by_text("Opened in a browser")).to_be_hidden()


def test_where_nothing_was_heard_the_page_says_so(shared, open_file: Open, tmp_path: Path) -> None:
    lines = read_flight_file(SAMPLES / "nominal-dual.flight").lines
    flight = whole_flight(lines, file="x")
    hole = [(line, at) for line, at in lines if not 24_000_000 < (at or 0) < 29_000_000]
    cut = whole_flight(hole, file="x")
    assert cut.end_s == flight.end_s
    path = tmp_path / "hole.html"
    path.write_text(share_page(cut, PageParts(page_script(), page_style(), b"")), encoding="utf-8")
    page = open_file(path)
    page.get_by_role("slider", name="Moment of the flight").fill("17")
    expect(page.locator("#phase")).to_have_text("Nothing heard")
    expect(page.locator("#height")).to_have_text("–")


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_axe_finds_nothing(shared, open_file: Open, theme: str, size: str) -> None:
    page = open_file(shared("main-silent.flight"), size, color_scheme=theme)
    page.get_by_role("button", name="Drogue").click()
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


def test_who_wants_less_motion_sees_no_flicker(shared, open_file: Open) -> None:
    """The flame alone moves by itself: with reduced motion two moments of the burn look alike but for the place."""
    page = open_file(shared(), reduced_motion="reduce")
    assert page.evaluate("matchMedia('(prefers-reduced-motion: reduce)').matches")
    moving = (
        "[...document.querySelectorAll('*')].filter(e => getComputedStyle(e).animationName !== 'none'"
        " || parseFloat(getComputedStyle(e).transitionDuration) > 0).length"
    )
    assert page.evaluate(moving) == 0


# -- one product with the live page -----------------------------------------------------------------------------------


def tokens(css: str, selector: str) -> dict[str, str]:
    block = re.search(re.escape(selector) + r"\s*\{(.*?)\}", css, re.DOTALL)
    assert block is not None, selector
    return dict(re.findall(r"(--[a-z-]+):\s*(#[0-9a-f]{6})", block[1]))


def test_its_colours_are_the_live_page_s() -> None:
    live = (Path(ASSETS) / "page.css").read_text(encoding="utf-8")
    own_light, own_dark = page_style().split("@media (prefers-color-scheme: dark)", 1)
    for own, theme in ((tokens(own_light, ":root"), ":root"), (tokens(own_dark, ":root"), ':root[data-theme="dark"]')):
        theirs = tokens(live, theme)
        assert len(own) >= 8
        assert own == {name: theirs.get(name) for name in own}


def test_its_words_are_the_live_page_s(browser: Browser) -> None:
    page = browser.new_page()
    page.evaluate((Path(ASSETS) / "words.js").read_text(encoding="utf-8"))
    words = page.evaluate(
        "({VERDICTS: station.words.VERDICTS, CHARGES: station.words.CHARGES, SIGNS: station.words.SIGNS})"
    )
    for own, theirs in ((VERDICTS, words["VERDICTS"]), (CHARGES, words["CHARGES"])):
        assert {key.value: list(value) for key, value in own.items()} == {
            key: [value["kind"], value["text"]] for key, value in theirs.items()
        }
    assert words["SIGNS"] == SIGNS
    for phase, text in PHASES.items():
        state = {"source": {"ended": False}, "phase": phase.value, "deployments": []}
        assert page.evaluate("state => station.words.phase(state)", state) == text
    page.close()
