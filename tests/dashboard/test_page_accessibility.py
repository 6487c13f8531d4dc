"""The page under axe-core, the open test engine for WCAG, in every phase, view and theme."""

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


def test_who_wants_less_motion_gets_none(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(f"{address}/watch", reduced_motion="reduce")
    moving = (
        "[...document.querySelectorAll('*')].filter(e => getComputedStyle(e).animationName !== 'none'"
        " || parseFloat(getComputedStyle(e).transitionDuration) > 0).length"
    )
    assert page.evaluate(moving) == 0
