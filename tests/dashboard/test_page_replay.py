"""A saved flight replayed on the page, against the same flight shown live."""

import re
import threading

import pytest
from playwright.sync_api import Page, expect

from station.flight_log import read_flight_file
from station.pipeline import Pipeline
from station.replay import Playback
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

pytestmark = pytest.mark.browser

PANELS = [
    "#phase",
    "#clock",
    "#altitude",
    "#speed",
    "#highest",
    "#parachutes",
    "#story",
    "#answer",
    "#alerts",
    "#ahead-1",
]


@pytest.fixture
def replayed(tmp_path, serve):
    """A saved flight being replayed, paused at its beginning, and the address of its page."""
    path = tmp_path / "one.flight"
    path.write_bytes(flight_log(fly(SCENARIOS["nominal-dual"], 1)))
    playback = Playback(read_flight_file(path), Pipeline)
    stop = threading.Event()
    pacer = threading.Thread(target=playback.run_forever, args=(stop,))
    pacer.start()
    _, address = serve(playback.session, playback=playback)
    yield playback, address
    stop.set()
    pacer.join()


def read(page: Page) -> list[str]:
    # Dash builds the page a moment after it has loaded.
    page.wait_for_function("names => names.every(name => document.querySelector(name) !== null)", arg=PANELS)
    return page.evaluate("names => names.map(name => document.querySelector(name).textContent)", PANELS)


def test_controls_play_pause_and_change_the_speed(replayed, open_page, until):
    playback, address = replayed
    page = open_page(address)
    page.get_by_role("button", name="Play").click()
    until(lambda: playback.playing)
    page.get_by_role("combobox", name="Speed").select_option("16")
    until(lambda: playback.speed == 16.0)
    page.get_by_role("button", name="Pause").click()
    until(lambda: not playback.playing)
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    expect(page.get_by_role("button", name="Mark")).to_have_count(0)


def test_the_controls_wait_until_the_station_has_said_where_the_replay_stands(replayed, open_page, until):
    playback, address = replayed
    page = open_page(address)
    held = []
    page.route("**/api/stream*", lambda route: held.append(route))
    page.reload()
    play = page.get_by_role("button", name="Play")
    for control in (play, page.get_by_role("combobox", name="Speed"), page.get_by_role("slider")):
        expect(control).to_be_disabled()
    page.keyboard.press(" ")
    held[0].continue_()
    page.unroute("**/api/stream*")
    play.click()  # waits until it can be pressed, as a person does
    until(lambda: playback.playing)


def test_the_bar_and_the_keys_move_along_the_flight(replayed, open_page, until):
    playback, address = replayed
    page = open_page(address)
    bar = page.get_by_role("slider", name="Position in the record")
    expect(bar).to_have_attribute("max", str(playback.duration_us))
    bar.fill("20000000")
    until(lambda: playback.position_us == 20_000_000)
    page.locator("#story").evaluate("list => list.parentElement.focus()")
    page.keyboard.press("ArrowRight")
    until(lambda: playback.position_us == 25_000_000)
    page.keyboard.press("ArrowLeft")
    until(lambda: playback.position_us == 20_000_000)
    page.keyboard.press(" ")
    until(lambda: playback.playing)


def test_every_event_of_the_record_can_be_jumped_to_from_the_beginning(replayed, open_page, until):
    playback, address = replayed
    page = open_page(address)
    assert playback.position_us == 0
    page.get_by_role("button", name="Apogee").click()
    until(lambda: playback.position_us > 0)
    expect(page.locator("#phase")).to_have_text("Coasting up")
    expect(page.locator("#clock")).to_have_text(re.compile(r"T\+00:0[89]\.\d"))
    page.get_by_role("button", name="Touchdown").click()
    expect(page.locator("#phase")).to_have_text(re.compile("Under the main|On the ground"))
    page.get_by_role("button", name="Liftoff").click()
    expect(page.locator("#phase")).to_have_text("On the rail")
    buttons = page.locator("#jumps").get_by_role("button")
    expect(buttons).to_have_text(["Liftoff", "Burnout", "Apogee", "Drogue", "Main", "Touchdown"])


def live_until(playback: Playback, position_us: int, make_flight: type) -> object:
    """The flight of the replay's record as it stood live at this position."""
    live = make_flight()
    live.lines = [(entry.arrival_us, entry.data) for entry in playback._entries if entry.data]
    while live.fed < len(live.lines) and live.lines[live.fed][0] - live.lines[0][0] <= position_us:
        live.now_us, line = live.lines[live.fed]
        live.session.take_line(line, live.now_us)
        live.fed += 1
    return live


def test_at_every_position_the_page_shows_what_it_showed_live(replayed, make_flight, serve, open_page, until):
    playback, address = replayed
    replay_page = open_page(address)
    held = "window.station && station.stream ? station.stream.store.columns : 0"
    # The link's figures on the page count real seconds too: here what they are made of.
    told = "['link', 'last_minute', 'outlook', 'events', 'deployments'].map(part => station.stream.state[part])"

    def check(position_us: int) -> None:
        live = live_until(playback, position_us, make_flight)
        server, live_address = serve(live.session)
        live_page = open_page(live_address, allow_errors=True)
        playback.seek(position_us)
        until(lambda: playback.session.snapshot()[1] == live.session.snapshot()[1])
        until(lambda: read(replay_page) == read(live_page))
        until(lambda: replay_page.evaluate(held) == live_page.evaluate(held))
        until(lambda: replay_page.evaluate(told) == live_page.evaluate(told))
        live_page.close()
        server.stop()

    # Forward, back and forward again: a jump back begins the replay's session anew.
    for position_us in (16_000_000, 22_000_000, 45_000_000, 20_000_000, 62_000_000):
        check(position_us)


def test_a_held_replay_is_no_lost_link(replayed, open_page, until):
    playback, address = replayed
    playback.seek(30_000_000)
    page = open_page(address)
    expect(page.locator("#phase")).to_have_text("Under the drogue")
    age = page.evaluate("station.stream.age()")
    began = page.evaluate("performance.now()")
    until(lambda: page.evaluate("performance.now()") > began + 2500)
    assert page.evaluate("station.stream.age()") <= age + 100
    expect(page.locator("#heard")).to_be_hidden()


def test_a_spectator_sees_the_replay_without_controls(replayed, open_page, monkeypatch):
    _, address = replayed
    monkeypatch.setattr("dashboard.app.is_operator", lambda *_: False)
    page = open_page(address)
    expect(page.locator("#replay")).to_contain_text("A saved flight, replayed")
    expect(page.get_by_role("slider")).to_have_count(0)
