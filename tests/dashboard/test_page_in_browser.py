"""The page in real Chromium, over an invented flight through the real pipeline; a flight on a port is elsewhere."""

import json
import re

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from station.flight_state import Estimate, Phase
from station.plan import FlightPlan
from station.prediction import prediction_of

pytestmark = pytest.mark.browser

LAPTOP, DESKTOP, PHONE = (1366, 768), (1920, 1080), (390, 844)
FEET = 1 / 0.3048


def number(text: str | None) -> int:
    assert text is not None
    return int(text.replace(",", ""))


def section(page: Page, name: str):
    return page.get_by_role("region", name=name, exact=True)


def figure(page: Page, name: str | re.Pattern[str]):
    return page.get_by_role("group", name=name)


def points_drawn(page: Page) -> int:
    return page.evaluate("window.station && station.curve.draws.points || 0")


def points_held(page: Page) -> int:
    return page.evaluate("window.station && station.stream ? station.stream.store.count : 0")


@pytest.fixture
def flown(make_flight, serve):
    """An invented flight and the address of its page."""
    flight = make_flight()
    _, address = serve(flight.session, on_mark=flight.mark)
    return flight, address


@pytest.mark.parametrize(
    ("scenario", "seed", "words"),
    [
        ("main-silent", 4, "Look here before you go near"),
        ("behind-the-trees", 8, "Can’t say: too little was observed"),
    ],
)
def test_the_answer_comes_first_after_a_flight_that_was_not_as_planned(
    make_flight, serve, open_page, scenario, seed, words
):
    flight = make_flight(scenario, seed)
    _, address = serve(flight.session)
    flight.feed_rest()
    flight.session.end_of_lines()
    page = open_page(address)
    expect(section(page, "Now").get_by_role("status")).to_contain_text(words)
    expect(section(page, "Now")).to_contain_text("may still be live: keep clear")
    verdicts = [deployment.verdict for deployment in flight.session.snapshot()[1].deployments]
    shown = {"confirmed": "Held the fall", "not_fired": "Not fired", "not_observed": "Not observed"}
    for role, verdict in zip(("Drogue", "Main"), verdicts, strict=True):
        expect(section(page, role).get_by_role("heading", level=3)).to_contain_text(shown[verdict])


@pytest.mark.parametrize("path", ["/", "/watch"])
def test_nothing_sticks_out_sideways_in_any_phase_and_a_laptop_never_scrolls(flown, open_page, fits, path):
    flight, address = flown
    page = open_page(address + path)
    for phase, words in (
        (Phase.WAITING, "On the rail"),
        (Phase.COAST, "Coasting up"),
        (Phase.DESCENT, "Coming down"),
        (Phase.DOWN, "On the ground"),
    ):
        flight.feed_to(phase)
        expect(section(page, "Now").get_by_role("heading", level=2)).to_have_text(words)
        for size in (LAPTOP, DESKTOP, PHONE):
            fits(page, size, unscrolled=path == "/" and size != PHONE)


def test_each_viewer_has_units_of_their_own_and_keeps_them(flown, open_page):
    flight, address = flown
    snapshot = flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    feet = f"{round(snapshot.estimate.altitude_m * FEET):,}"
    metres = f"{round(snapshot.estimate.altitude_m):,}"
    american, other = open_page(address), open_page(address, locale="de-DE")
    expect(figure(american, "Altitude")).to_contain_text(f"{feet}ft")
    expect(figure(other, "Altitude")).to_contain_text(f"{metres}m")
    units = american.locator("#units-button")
    expect(units).to_have_text("ft, mph")
    units.click()
    expect(figure(american, "Going up")).to_contain_text(f"{round(snapshot.estimate.velocity_mps * FEET):,}ft/s")
    units.click()
    expect(figure(american, "Altitude")).to_contain_text(f"{metres}m")
    expect(american.get_by_role("log", name="Events")).to_contain_text(re.compile(r"\d m up, rising at .* m/s"))
    american.reload()
    expect(figure(american, "Altitude")).to_contain_text(f"{metres}m")
    expect(figure(other, "Altitude")).to_contain_text(f"{metres}m")
    units.click()
    expect(figure(american, "Altitude")).to_contain_text(f"{feet}ft")


def test_old_data_look_old_and_say_how_old(flown, open_page):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page = open_page(address)
    heard = page.locator("#heard")
    digits = figure(page, "Altitude").locator(".digits")
    expect(digits).not_to_have_text("–")
    expect(heard).to_be_hidden()
    fresh = digits.evaluate("element => getComputedStyle(element).color")
    flight.now_us += 7_000_000
    expect(heard).to_have_text(re.compile(r"Last heard [789] s ago"))
    assert digits.evaluate("element => getComputedStyle(element).color") != fresh
    expect(page.get_by_role("alert")).to_contain_text("The altimeter is not heard")
    flight.feed_while(lambda s: s.flight_time_s < 9)
    expect(heard).to_be_hidden()
    assert digits.evaluate("element => getComputedStyle(element).color") == fresh


def test_a_server_that_comes_back_is_taken_up_again_and_no_point_is_lost_or_doubled(
    make_flight, serve, open_page, until
):
    flight = make_flight()
    server, address = serve(flight.session)
    port = int(address.rpartition(":")[2])
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page = open_page(address, allow_errors=True)
    until(lambda: points_held(page) == len(flight.session.points(0)))
    server.stop()
    expect(page.get_by_role("alert")).to_contain_text("cut off from the station")
    expect(page.locator("#heard")).to_have_text("The station does not answer: the page shows the last it said.")
    flight.feed_while(lambda s: s.flight_time_s < 12)
    serve(flight.session, port=port)
    until(lambda: points_held(page) == len(flight.session.points(0)))
    held = page.evaluate("station.stream.store.columns[0]")
    assert held == [point.t_ms for point in flight.session.points(0)]
    expect(page.locator("#heard")).to_be_hidden()


def test_another_session_at_the_same_address_replaces_all_that_was_shown(make_flight, serve, open_page, until):
    first, second = make_flight(seed=1), make_flight(seed=2)
    server, address = serve(first.session)
    first.feed_rest()
    page = open_page(address, allow_errors=True)
    expect(section(page, "Now").get_by_role("status")).to_contain_text("Both parachutes held the fall")
    server.stop()
    second.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 3)
    serve(second.session, port=int(address.rpartition(":")[2]))
    until(lambda: points_held(page) == len(second.session.points(0)))
    assert page.evaluate("station.stream.store.columns[0]") == [point.t_ms for point in second.session.points(0)]
    expect(section(page, "Now").get_by_role("heading", level=2)).to_have_text("Coasting up")


def test_the_users_zoom_survives_new_data_until_they_follow_again(flown, open_page, until):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 12)
    page = open_page(address)
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    plot = page.locator("#curve .nsewdrag").first
    box = plot.bounding_box()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.3 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.7 * box["height"], steps=5)
    page.mouse.up()
    follow = page.get_by_role("button", name="Follow the flight")
    expect(follow).to_be_visible()
    ranges = "['xaxis', 'yaxis'].map(axis => document.querySelector('.js-plotly-plot')._fullLayout[axis].range)"
    chosen = page.evaluate(ranges)
    flight.feed_while(lambda s: s.flight_time_s < 40)
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    assert page.evaluate(ranges) == chosen
    page.keyboard.press("f")
    expect(follow).to_be_hidden()
    until(lambda: page.evaluate(ranges)[0] == [-5, 60])


def test_the_curve_is_zoomed_and_moved_by_the_keyboard_too(flown, open_page, until):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 12)
    page = open_page(address)
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    span = "document.querySelector('.js-plotly-plot')._fullLayout.xaxis.range"
    before = page.evaluate(span)
    page.keyboard.press("+")
    middle, half = (before[0] + before[1]) / 2, (before[1] - before[0]) / 4
    until(lambda: page.evaluate(span) == pytest.approx([middle - half, middle + half]))
    page.keyboard.press(",")
    until(lambda: page.evaluate(span) == pytest.approx([middle - 1.5 * half, middle + 0.5 * half]))
    page.keyboard.press(".")
    page.keyboard.press("-")
    until(lambda: page.evaluate(span) == pytest.approx(before))
    page.keyboard.press("f")
    expect(page.get_by_role("button", name="Follow the flight")).to_be_hidden()


def traces_of(page: Page) -> dict[str, dict]:
    return page.evaluate(
        "Object.fromEntries(document.querySelector('.js-plotly-plot').data.map("
        "t => [t.meta, {x: t.x, y: t.y, bars: [t.error_x && t.error_x.array, t.error_y && t.error_y.array]}]))"
    )


def test_what_is_still_to_come_and_the_plan_are_drawn_with_error_bars(make_flight, serve, open_page, until):
    plan = FlightPlan(predicted_apogee_m=600.0, predicted_speed_mps=110.0)
    flight = make_flight(plan=plan)
    _, address = serve(flight.session)
    snapshot = flight.feed_while(lambda s: s.outlook is None or s.flight_time_s < 6)
    page = open_page(address, locale="en-GB")
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    traces, outlook = traces_of(page), snapshot.outlook
    apogee_s = (outlook.apogee_t_ms - snapshot.liftoff_t_ms) / 1000
    assert traces["expected"]["x"] == pytest.approx([apogee_s], abs=0.01)
    assert traces["expected"]["y"] == pytest.approx([outlook.apogee_altitude_m], abs=0.01)
    # Two standard deviations to each side, as the bands have.
    time_bar, height_bar = traces["expected"]["bars"]
    assert time_bar == pytest.approx([2 * outlook.apogee_t_sigma_s], abs=0.02)
    assert height_bar == pytest.approx([2 * outlook.apogee_altitude_sigma_m], abs=0.2)
    ahead = traces["altitude ahead"]
    assert (ahead["x"][0], ahead["y"][0]) == pytest.approx(
        (snapshot.flight_time_s, snapshot.estimate.altitude_m), abs=0.01
    )
    assert (ahead["x"][-1], ahead["y"][-1]) == pytest.approx((apogee_s, outlook.apogee_altitude_m), abs=0.01)
    assert traces["velocity ahead"]["y"][0] == pytest.approx(snapshot.estimate.velocity_mps, abs=0.01)
    assert traces["velocity ahead"]["y"][-1] == pytest.approx(0.0, abs=1e-6)
    assert traces["altitude plan"]["y"] == [600.0, 600.0]
    assert traces["velocity plan"]["y"] == [110.0, 110.0]
    expect(section(page, "Curve")).to_contain_text("plan 600 m")

    snapshot = flight.feed_while(lambda s: s.outlook is None or s.outlook.touchdown_t_ms is None)
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    touchdown_s = (snapshot.outlook.touchdown_t_ms - snapshot.liftoff_t_ms) / 1000
    until(lambda: traces_of(page)["expected"]["y"] == [0])
    traces = traces_of(page)
    assert traces["expected"]["x"] == pytest.approx([touchdown_s], abs=0.01)
    assert (traces["altitude ahead"]["x"][-1], traces["altitude ahead"]["y"][-1]) == pytest.approx(
        (touchdown_s, 0), abs=0.01
    )
    assert traces["velocity ahead"]["x"] == []

    course = np.array([0.0, 100.0, 350.0, 200.0, 0.0])
    flight.session.set_prediction(prediction_of(np.arange(5.0), course, None, file="simulation.csv", columns=""))
    until(lambda: len(traces_of(page)["altitude plan"]["y"]) == 5)
    assert traces_of(page)["altitude plan"]["y"] == course.tolist()
    assert len(traces_of(page)["velocity plan"]["x"]) == 5
    expect(section(page, "Curve")).to_contain_text("plan 350 m")

    flight.feed_rest()
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    until(lambda: traces_of(page)["altitude ahead"]["x"] == [] == traces_of(page)["expected"]["x"])
    expect(figure(page, "Touchdown in")).to_have_count(0)


def test_digits_keep_their_size_and_their_place_when_they_grow_fewer(stage, serve, open_page, until):
    _, address = serve(stage.session)
    page = open_page(address, locale="en-GB")
    digits = page.locator("#altitude")
    boxes = []
    for height_m, text in ((1002.4, "1,002"), (998.0, "998"), (9.0, "9")):
        stage.show(estimate=Estimate(12_000.0, height_m, -20.0, 0.0, 0.4, 0.3, 0.2), highest_m=1500.0)
        expect(digits).to_have_text(text)
        boxes.append(digits.bounding_box())
    assert boxes[0] == boxes[1] == boxes[2]


def test_the_curve_is_drawn_in_the_viewers_units_with_the_events_on_it(flown, open_page, until):
    flight, address = flown
    flight.feed_rest()
    page = open_page(address)
    until(lambda: points_drawn(page) == len(flight.session.points(0)))
    traces = page.evaluate(
        "Object.fromEntries(document.querySelector('.js-plotly-plot').data.map(t => [t.meta, [t.x, t.y]]))"
    )
    snapshot = flight.session.snapshot()[1]
    assert max(traces["altitude"][1]) == pytest.approx(snapshot.highest_m * FEET, abs=0.1)
    fastest_mps = max(point.velocity_mps for point in flight.session.points(0))
    assert max(traces["velocity"][1]) == pytest.approx(fastest_mps * 3600 / 1609.344, abs=0.1)
    # What is told as the highest speed has the coast's heights in it, which the curve had not when it was drawn.
    assert fastest_mps == pytest.approx(snapshot.fastest_mps, rel=0.02)
    assert len(traces["altitude"][0]) < 3000
    assert traces["events"][0] == pytest.approx(
        [(event.t_ms - snapshot.liftoff_t_ms) / 1000 for event in snapshot.events], abs=1e-3
    )
    labels = page.locator(".mark-label")
    expect(labels).to_have_count(6)
    boxes = [labels.nth(index).bounding_box() for index in range(6)]
    for one, other in ((a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :]):
        apart_sideways = one["x"] + one["width"] <= other["x"] or other["x"] + other["width"] <= one["x"]
        apart_upright = one["y"] + one["height"] <= other["y"] or other["y"] + other["height"] <= one["y"]
        assert apart_sideways or apart_upright


def test_a_mark_by_one_key_reaches_the_recorder_and_every_viewers_story(flown, open_page, until):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page, other = open_page(address), open_page(f"{address}/watch")
    expect(section(page, "Now").get_by_role("heading", level=2)).to_have_text("Coasting up")
    page.keyboard.press("m")
    until(lambda: flight.marks == ["operator"])
    for viewer in (page, other):
        expect(viewer.get_by_role("log", name="Events")).to_contain_text(
            re.compile(r"[56]\.\d s Marked by the operator\.")
        )


def test_everything_is_reached_by_the_keyboard_alone(flown, open_page):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page = open_page(address)
    expect(figure(page, "Altitude")).to_contain_text("ft")
    reached = []
    for _ in range(7):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id"))
    wanted = [
        "mark-button",
        "units-button",
        "theme-button",
        "sound-button",
        "voice-button",
        "share-button",
        "help-button",
    ]
    assert reached == wanted
    page.locator("#story").evaluate("list => list.parentElement.focus()")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("u")
    page.keyboard.press("u")
    expect(figure(page, "Altitude")).to_contain_text("m")
    page.keyboard.press("t")
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog", name="Help")
    expect(dialog).to_contain_text("mark this moment in the record")
    dialog.get_by_role("checkbox").uncheck()
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    page.keyboard.press("u")  # single keys are switched off now: WCAG 2.2, 2.1.4
    page.keyboard.press("?")
    expect(dialog).to_be_visible()
    expect(figure(page, "Altitude")).to_contain_text("m")


def test_a_page_for_this_machine_says_how_to_share_it(flown, open_page):
    _, address = flown
    page = open_page(address)
    page.get_by_role("button", name="Share").click()
    expect(page.get_by_role("dialog", name="Share")).to_contain_text("--share")


def test_a_page_on_the_network_shows_its_address_and_qr_code(make_flight, serve, open_page):
    _, address = serve(make_flight().session, host="0.0.0.0")
    page = open_page(address)
    page.get_by_role("button", name="Share").click()
    dialog = page.get_by_role("dialog", name="Share")
    expect(dialog).to_be_visible()
    shared = json.loads(page.evaluate("fetch('/api/share').then(answer => answer.text())"))
    if shared["addresses"]:  # a machine with no network at all has none to show
        expect(dialog).to_contain_text(shared["addresses"][0])
        expect(dialog.get_by_role("img", name="QR code of the address")).to_be_visible()


def test_spectators_see_the_flight_and_can_change_nothing(flown, open_page):
    flight, address = flown
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page = open_page(f"{address}/watch", PHONE)
    expect(figure(page, "Altitude")).to_contain_text("ft")
    sketch = page.get_by_role("img", name="Altitude so far")
    for line in ("flown", "ahead"):
        expect(sketch.locator(f".{line}")).to_have_attribute("d", re.compile("^M.*L"))
    expect(page.get_by_role("button", name="Mark")).to_have_count(0)
    page.keyboard.press("m")
    flight.feed_rest()
    expect(section(page, "Now").get_by_role("status")).to_contain_text("Both parachutes held the fall")
    assert flight.marks == []


def test_the_overlay_is_bare_and_see_through_unless_a_background_is_asked_for(flown, open_page):
    flight, address = flown
    snapshot = flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 6)
    page = open_page(f"{address}/overlay?units=metres", (1280, 720))
    expect(figure(page, "Altitude")).to_contain_text(f"{round(snapshot.estimate.altitude_m)}")
    expect(figure(page, "Altitude")).to_contain_text("m")
    background = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(background) == "rgba(0, 0, 0, 0)"
    expect(page.get_by_role("button")).to_have_count(0)
    solid = open_page(f"{address}/overlay?background=solid", (1280, 720))
    expect(figure(solid, "Altitude")).to_contain_text("ft")
    assert solid.evaluate(background) == "rgb(0, 0, 0)"


@pytest.mark.parametrize("scenario", ["drogue-late", "main-silent", "both-at-once"])
def test_after_landing_every_reason_is_there_to_its_last_word(make_flight, serve, open_page, until, scenario):
    """A laptop of 1366x768: whole, and what its browser's own bars leave."""
    flight = make_flight(scenario)
    _, address = serve(flight.session)
    flight.feed_rest()
    page = open_page(address)
    why = section(page, "Now").get_by_role("list", name="Why")
    expect(why.get_by_role("listitem")).to_have_count(2)
    for height in (768, 640):
        page.set_viewport_size({"width": 1366, "height": height})
        until(lambda height=height: page.evaluate("innerHeight") == height)
        until(lambda: why.evaluate("list => list.scrollHeight <= list.clientHeight"))


def test_an_opening_late_and_fast_is_no_green_tick(make_flight, serve, open_page):
    flight = make_flight("drogue-late")
    _, address = serve(flight.session)
    flight.feed_rest()
    status = section(open_page(address), "Now").get_by_role("status")
    expect(status).to_contain_text("Both parachutes held the fall, but the drogue late and fast")
    expect(status).to_have_class("answer bad")
