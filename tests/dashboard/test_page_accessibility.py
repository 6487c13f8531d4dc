"""The page under axe-core, the open test engine for WCAG, in every phase, view and theme; and contrast of our own."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from station.flight_state import Phase

pytestmark = pytest.mark.browser

WORDS = {
    Phase.WAITING: "On the rail",
    Phase.COAST: "Coasting up",
    Phase.DESCENT: "Coming down",
    Phase.DOWN: "On the ground",
}


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("path", ["/", "/watch"])
def test_axe_finds_nothing_in_any_phase(make_flight, serve, open_page, path, theme):
    flight = make_flight("main-silent", 4)
    _, address = serve(flight.session, on_mark=flight.mark)
    page = open_page(address + path, color_scheme=theme)
    for phase, words in WORDS.items():
        flight.feed_to(phase)
        expect(page.locator("#phase")).to_have_text(words)
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()


def test_axe_finds_nothing_in_replay_controls_and_dialogs(make_flight, serve, open_page, make):
    flight = make_flight()
    flight.feed_rest()
    _, address = serve(flight.session, playback=make.playback())
    page = open_page(address)
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.keyboard.press("?")
    expect(page.get_by_role("dialog")).to_be_visible()
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


def contrast(page, ink: str, paper: str) -> float:
    """Contrast of two of the theme's colours by WCAG 2.2's definition of relative luminance."""
    luminances = []
    for name in (ink, paper):
        text = page.evaluate(f"getComputedStyle(document.documentElement).getPropertyValue('--{name}').trim()")
        found = re.fullmatch("#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})", text)
        assert found, text
        channels = [int(part, 16) / 255 for part in found.groups()]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        luminances.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    high, low = max(luminances), min(luminances)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_stands_out_seven_to_one_and_marks_three_to_one(stage, serve, open_page, theme):
    _, address = serve(stage.session)
    page = open_page(f"{address}/watch", color_scheme=theme)
    for ink, paper, least in (
        ("ink", "paper", 7),
        ("soft", "paper", 7),
        ("faint", "paper", 4.5),  # old data, in large type: greyed on purpose
        ("caution-ink", "caution-paper", 7),
        ("urgent-ink", "urgent-paper", 5),
        ("good", "paper", 3),
        ("bad", "paper", 3),
        ("done", "paper", 3),
        ("altitude", "paper", 3),
        ("velocity", "paper", 3),
        ("acceleration", "paper", 3),
        ("focus", "paper", 3),
    ):
        assert contrast(page, ink, paper) >= least, (ink, paper)


def test_who_wants_less_motion_gets_none(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(f"{address}/watch", reduced_motion="reduce")
    moving = (
        "[...document.querySelectorAll('*')].filter(e => getComputedStyle(e).animationName !== 'none'"
        " || parseFloat(getComputedStyle(e).transitionDuration) > 0).length"
    )
    assert page.evaluate(moving) == 0
