"""A liftoff that is taken back, in real Chromium: what it had begun to show is gone, the flight after it is shown."""

import re

import pytest
from playwright.sync_api import expect

from station.flight_state import Phase

pytestmark = pytest.mark.browser

STORE = "station.stream.store"
STORY = "window.station && station.stream.state ? station.stream.state.events.map((event) => event.name) : null"
BAR = "[data-code=liftoff_taken_back]"
BARS = "[...document.querySelectorAll('[data-code]')].map((bar) => bar.dataset.code)"


@pytest.fixture
def blown_on(make_flight, false_start):
    """Makes a flight with a gust on the pad, fed up to the liftoff that it makes the station call."""

    def make():
        flight = make_flight()
        flight.lines = [(at_us, line) for line, at_us in false_start.lines]
        flight.feed_to(Phase.THRUST)
        return flight

    return make


@pytest.fixture
def started(blown_on, serve, false_start):
    """A flight fed up to where its falsely called liftoff is still shown, and the address of its page."""
    flight = blown_on()
    flight.feed_while(lambda _: flight.now_us < 1e6 * (false_start.swell_s + 3.0))
    _, address = serve(flight.session)
    return flight, address


def held(page) -> list[float]:
    return page.evaluate(f"{STORE}.columns[0]")


def test_the_curve_and_its_events_are_gone_and_it_is_said_once(started, blown_on, open_page, until):
    flight, address = started
    page = open_page(address)
    until(lambda: page.evaluate("window.station && station.curve.draws.points || 0") > 0)
    assert "liftoff" in page.evaluate(STORY)
    # What else sounds before it, of a flight that seems to have landed, is heard out first.
    ahead = blown_on()
    ahead.feed_while(lambda snapshot: snapshot.phase is not Phase.WAITING, every=1)
    flight.feed_while(lambda _: flight.fed < ahead.fed - 1, every=1)
    until(lambda: page.evaluate(f"{STORE}.count") == len(flight.session.points(0)))
    until(lambda: page.evaluate(BARS) == [alert.code for alert in flight.session.snapshot()[1].alerts])
    before = page.evaluate("station.sound.beeps.count")
    flight.feed_to(Phase.WAITING)
    expect(page.locator(BAR)).to_contain_text(
        re.compile(r"A liftoff that was called is taken back: .* no height over \d+ ft")
    )
    expect(page.get_by_role("alert")).to_contain_text("is taken back")
    expect(page.locator("#phase")).to_have_text("On the rail")
    until(lambda: page.evaluate(STORY) == [])
    assert held(page) == []
    until(lambda: page.evaluate("station.curve.draws.points") == 0)
    assert page.evaluate("station.voice.calls")[-1] == "Liftoff taken back"
    assert page.evaluate("station.sound.beeps.count") == before + 1


def test_the_flight_after_it_is_shown_whole_to_who_was_there_and_to_who_came_late(started, open_page, until):
    flight, address = started
    page = open_page(address)
    until(lambda: page.evaluate(STORY))
    flight.feed_to(Phase.WAITING)
    late = open_page(address)
    until(lambda: late.evaluate(STORY) == [])
    expect(late.locator(BAR)).to_have_count(1)
    until(lambda: page.evaluate(STORY) == [])
    # What is over for some seconds is called no more: a busy machine must not get the whole flight at once.
    flight.feed_to(Phase.THRUST)
    until(lambda: page.evaluate("station.voice.calls").count("Liftoff") == 1)
    flight.feed_rest()
    track = flight.session.points(0)
    for viewer in (page, late):
        expect(viewer.locator("#phase")).to_have_text("On the ground")
        expect(viewer.locator(BAR)).to_have_count(0)
        until(lambda v=viewer: v.evaluate(f"{STORE}.count") == len(track))
        times = held(viewer)
        assert times[0] == pytest.approx(track[0].t_ms, abs=0.1)
        assert times == sorted(times)
        assert viewer.evaluate(STORY)[0] == "liftoff"
    assert page.evaluate("station.voice.calls").count("Liftoff") == 1
