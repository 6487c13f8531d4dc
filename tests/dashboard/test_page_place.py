"""Where the rocket is, on the page in real Chromium: the words, the plan of the ground, its age."""

import re
from math import atan2, cos, degrees, hypot, radians, sin

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from station.flight_state import Phase
from station.plan import FlightPlan
from station.whereabouts import DriftWedge, FixQuality, PadPlace, Place, PlaceKind, Whereabouts

pytestmark = pytest.mark.browser

LAPTOP, DESKTOP, PHONE = (1366, 768), (1920, 1080), (390, 844)
FEET = 1 / 0.3048
WORDS = {Phase.COAST: "Coasting up", Phase.DESCENT: "Coming down", Phase.DOWN: "On the ground"}


def where(page: Page):
    return page.get_by_role("region", name="Where the rocket is", exact=True)


def drawn(page: Page, name: str) -> dict[str, float]:
    """Centre and radius (px) of a circle of the plan."""
    return page.locator(f"#plan-view circle.{name}").first.evaluate(
        "c => ({x: +c.getAttribute('cx'), y: +c.getAttribute('cy'), r: +c.getAttribute('r')})"
    )


def pad_spot(page: Page) -> tuple[float, float]:
    """The rings' centre (px), which is the pad."""
    ring = drawn(page, "ring")
    return ring["x"], ring["y"]


def ring_px_per_foot(page: Page) -> float:
    """From the innermost ring and the distance written on it."""
    label = page.locator("#plan-view text.ring-label").first.text_content()
    assert label is not None
    return drawn(page, "ring")["r"] / float(label.removesuffix(" ft").replace(",", ""))


@pytest.fixture
def flown(make_flight, serve):
    flight = make_flight("satellite-fixes", 24)
    _, address = serve(flight.session, on_mark=flight.mark)
    return flight, address


@pytest.mark.parametrize("path", ["/", "/watch"])
def test_the_panel_comes_with_the_descent_and_says_where_the_rocket_lies(flown, open_page, path):
    flight, address = flown
    page = open_page(address + path, PHONE if path == "/watch" else LAPTOP)
    flight.feed_while(lambda s: s.whereabouts.pad is None or s.whereabouts.pad.fixes < 8)
    readiness = page.get_by_role("list", name="What is known before the flight")
    expect(readiness).to_contain_text(re.compile(r"Satellites\s*\d+, pad within \d\d ft"))
    expect(where(page)).to_be_hidden()
    flight.feed_to(Phase.COAST)
    expect(page.locator("#phase")).to_have_text("Coasting up")
    expect(where(page)).to_be_hidden()
    flight.feed_to(Phase.DESCENT)
    expect(where(page)).to_be_visible()
    snapshot = flight.feed_rest()
    place = snapshot.whereabouts.place
    expect(where(page).get_by_role("heading")).to_have_text("Where it lies")
    # The true flight of this sample landed 274.6 m (901 ft) from the pad, at 223.9 degrees.
    expect(where(page)).to_contain_text(f"{round(place.range_m * FEET)} ft")
    expect(where(page)).to_contain_text("south-west 223°")
    expect(where(page)).to_contain_text(f"Rocket {place.latitude_deg:.6f}, {place.longitude_deg:.6f}")
    expect(where(page)).to_contain_text(re.compile(r"give or take 3\d ft · good, 9 satellites · fix \d\.\d s old"))
    plan = where(page).get_by_role("img")
    expect(plan).to_have_accessible_name(
        re.compile(r"Plan of the ground, north up\. Where it lies: 90\d ft, south-west")
    )


def test_the_plan_is_true_to_bearing_and_distance_with_north_up(flown, open_page):
    flight, address = flown
    page = open_page(address)
    place = flight.feed_rest().whereabouts.place
    expect(where(page).get_by_role("heading")).to_have_text("Where it lies")
    expect(page.locator("#plan-view text.rocket-label")).to_have_text("Rocket")
    pad_x, pad_y = pad_spot(page)
    rocket = drawn(page, "rocket-spot")
    east, north = rocket["x"] - pad_x, pad_y - rocket["y"]
    assert degrees(atan2(east, north)) % 360 == pytest.approx(place.bearing_deg, abs=0.5)
    assert hypot(east, north) / ring_px_per_foot(page) == pytest.approx(place.range_m * FEET, rel=0.005)
    # The ring of the error is two standard deviations, if that can be seen.
    error = drawn(page, "rocket-error")["r"] / ring_px_per_foot(page)
    assert error >= 2 * place.sigma_m * FEET * 0.99
    way = page.locator("#plan-view path.way").get_attribute("d")
    assert way.count("L") > 60
    last_x, last_y = map(float, way.rsplit("L", 1)[1].split())
    assert hypot(last_x - rocket["x"], last_y - rocket["y"]) < 10


def test_each_viewer_sees_it_in_their_own_units(flown, open_page):
    flight, address = flown
    place = flight.feed_rest().whereabouts.place
    page = open_page(address, locale="de-DE")
    expect(where(page)).to_contain_text(f"{round(place.range_m)} m")
    expect(page.locator("#plan-view text.ring-label").first).to_have_text(re.compile(r"^\d+ m$"))
    page.get_by_role("button", name="m, m/s").click()
    expect(where(page)).to_contain_text(f"{round(place.range_m * FEET)} ft")
    expect(page.locator("#plan-view text.ring-label").first).to_have_text(re.compile(r"^[\d,]+ ft$"))


def test_an_old_fix_looks_old_says_how_old_and_where_it_was_drifting_to(flown, open_page):
    flight, address = flown
    snapshot = flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 35)
    page = open_page(address)
    expect(where(page).get_by_role("heading")).to_have_text("Where it is")
    digits = page.locator("#where-range")
    fresh = digits.evaluate("element => getComputedStyle(element).color")
    flight.now_us += 14_000_000
    expect(where(page).get_by_role("heading")).to_have_text(re.compile(r"Last seen 1\d s ago"))
    assert digits.evaluate("element => getComputedStyle(element).color") != fresh
    expect(page.locator("#plan-view text.rocket-label")).to_have_text("Last seen")
    onward = snapshot.whereabouts.place.onward
    expect(where(page)).to_contain_text(
        f"Reckoned, if it drifts on so: down {round(round(onward.further_m, 1) * FEET)} ft further"
    )
    expect(where(page)).to_contain_text(f"Reckoned {onward.latitude_deg:.6f}")
    pad_x, pad_y = pad_spot(page)
    spot = drawn(page, "onward-spot")
    assert hypot(spot["x"] - pad_x, spot["y"] - pad_y) / ring_px_per_foot(page) == pytest.approx(
        onward.range_m * FEET, rel=0.005
    )


def test_when_the_record_ends_in_the_air_the_place_is_told_by_the_flights_clock(make_flight, serve, open_page):
    flight = make_flight("satellite-fixes", 24)
    flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 35)
    flight.session.end_of_lines()
    _, address = serve(flight.session)
    page = open_page(address)
    expect(where(page).get_by_role("heading")).to_have_text(re.compile(r"Last seen 3[45]\.\d s after liftoff"))


def test_without_fixes_the_plans_wind_is_a_wedge_and_no_spot(make_flight, serve, open_page):
    flight = make_flight("nominal-dual", 1, FlightPlan(wind_mps=3.5, wind_from_deg=230.0))
    drift = flight.feed_rest().whereabouts.drift
    _, address = serve(flight.session)
    page = open_page(address)
    expect(where(page).get_by_role("heading")).to_have_text("Where to look first")
    span = f"{round(drift.least_m * FEET)} to {round(drift.most_m * FEET)} ft"
    expect(where(page)).to_contain_text(span)
    expect(where(page)).to_contain_text("north-east")
    expect(where(page)).to_contain_text("from 020° to 080°")
    expect(where(page)).to_contain_text("No satellite fix. The plan's wind, 7.8 mph from the south-west")
    assert page.locator("#plan-view circle.rocket-spot").count() == 0
    pad_x, pad_y = pad_spot(page)
    path = page.locator("#plan-view path.wedge").get_attribute("d")
    x, y = map(float, re.match(r"M(\S+) (\S+)A", path).groups())
    foot = ring_px_per_foot(page)
    corner = (drift.most_m * FEET * sin(radians(20)), drift.most_m * FEET * cos(radians(20)))
    assert ((x - pad_x) / foot, (pad_y - y) / foot) == pytest.approx(corner, rel=0.01)


def test_a_wind_without_a_direction_is_two_rings(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(address)
    drift = DriftWedge(60.0, 250.0, None, None, 4.0, None, 40.0, heard_down=True)
    stage.show(phase=Phase.DESCENT, whereabouts=Whereabouts(drift=drift))
    expect(where(page)).to_contain_text("down the wind")
    expect(page.locator("#plan-view circle.wedge-edge")).to_have_count(2)


def test_without_fixes_and_wind_the_panel_stays_away(make_flight, serve, open_page):
    flight = make_flight("nominal-dual", 1)
    flight.feed_rest()
    _, address = serve(flight.session)
    page = open_page(address)
    expect(page.locator("#phase")).to_have_text("On the ground")
    expect(where(page)).to_be_hidden()


def test_a_place_without_the_pad_has_coordinates_and_no_distance(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(address)
    place = Place(
        PlaceKind.LANDED, 11_000.0, 1.0, 37.5, -41.25, 3.5, None, FixQuality.FAIR, 8, 0.0, None, None, None, None, None
    )
    stage.show(phase=Phase.DOWN, whereabouts=Whereabouts(place=place, points=((0.0, 0.0), (30.0, 40.0))))
    expect(where(page)).to_contain_text("the pad's place was not heard")
    expect(where(page)).to_contain_text("Rocket 37.500000, -41.250000")
    expect(where(page)).to_contain_text("satellites not told")
    expect(page.locator("#plan-view circle.rocket-spot")).to_have_count(1)
    assert page.locator("#plan-view circle.ring").count() == 0


def test_next_to_the_pad_no_direction_is_told(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(address)
    pad = PadPlace(37.5, -41.25, 3.5, 20)
    place = Place(
        PlaceKind.LANDED, 11_000.0, 1.0, 37.5, -41.25, 3.5, 9, FixQuality.GOOD, 8, 0.0, 4.0, 12.0, 4.9, None, None
    )
    stage.show(phase=Phase.DOWN, whereabouts=Whereabouts(pad=pad, place=place, points=((0.0, 0.0), (4.0, 1.0))))
    expect(where(page)).to_contain_text("13 ft")
    expect(where(page)).to_contain_text("too near the pad for a direction")


def test_a_receiver_that_has_no_fix_yet_is_said_so_before_the_flight(stage, serve, open_page):
    _, address = serve(stage.session)
    page = open_page(address)
    stage.show(phase=Phase.WAITING, liftoff_t_ms=None, whereabouts=Whereabouts(refused=(("no position", 4),)))
    readiness = page.get_by_role("list", name="What is known before the flight")
    expect(readiness).to_contain_text(re.compile(r"Satellites\s*no fix yet"))


def test_with_the_panel_nothing_sticks_out_and_a_laptop_never_scrolls(flown, open_page, fits, until):
    flight, address = flown
    station, watch = open_page(address), open_page(f"{address}/watch", PHONE)
    views = [(station, LAPTOP), (station, DESKTOP), (station, PHONE), (watch, PHONE)]
    for phase, words in WORDS.items():
        flight.feed_to(phase)
        for page, size in views:
            expect(page.locator("#phase")).to_have_text(words)
            if phase is not Phase.COAST:
                expect(where(page)).to_be_visible()
            fits(page, size, unscrolled=size != PHONE)
            if phase is not Phase.COAST:
                plan = page.locator("#plan-view")
                until(lambda plan=plan: min(plan.bounding_box()[side] for side in ("width", "height")) > 150)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_with_the_panel(flown, open_page, theme):
    flight, address = flown
    for path in ("/", "/watch"):
        page = open_page(address + path, color_scheme=theme)
        flight.feed_while(lambda s: s.flight_time_s is None or s.flight_time_s < 35)
        expect(where(page)).to_be_visible()
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
