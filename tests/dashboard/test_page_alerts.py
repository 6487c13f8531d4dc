"""What needs somebody to act, in real Chromium: seen full width, said once, sounded; and what is spoken."""

import ast
import inspect
import re
from dataclasses import replace
from math import inf

import pytest
from playwright.sync_api import expect

from station import alerts
from station.flight_state import Alert, Basis, Estimate, Event, EventName, Phase

pytestmark = pytest.mark.browser

FEET, MPH = 1 / 0.3048, 3600 / 1609.344

# Every alert that the station can raise, and whether it cannot wait.
OF_THE_STATION = {
    "fast_descent": (Phase.DESCENT, True),
    "charge_not_fired": (Phase.DOWN, True),
    "charge_unknown": (Phase.DOWN, True),
    "late_opening": (Phase.DESCENT, False),
    "hard_landing": (Phase.DOWN, False),
    "altimeter_restarted": (Phase.COAST, False),
    "battery_low": (Phase.WAITING, False),
    "bay_warmed": (Phase.WAITING, False),
    "liftoff_taken_back": (Phase.WAITING, False),
}


@pytest.fixture
def shown(stage, serve):
    _, address = serve(stage.session)
    return address


def test_no_alert_of_the_station_is_missing_here():
    source = inspect.getsource(alerts)
    raised = {
        call.args[0].value
        for call in ast.walk(ast.parse(source))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Alert"
    }
    assert raised == set(OF_THE_STATION)


def test_each_alert_stands_full_width_is_announced_and_goes_when_it_is_over(stage, shown, open_page):
    page = open_page(shown)
    for code, (phase, is_urgent) in OF_THE_STATION.items():
        text = f"This is {code}: at 62 m/s, 300 m up. Do this."
        stage.show(phase=phase, alerts=(Alert(code, text),))
        bar = page.locator(f"[data-code={code}]")
        in_feet = f"This is {code}: at {62 * MPH:.0f} mph, {300 * FEET:.0f} ft up. Do this."
        expect(bar).to_contain_text(in_feet)
        assert bar.bounding_box()["width"] == 1366
        assert ("urgent" in bar.get_attribute("class")) == is_urgent
        expect(page.get_by_role("alert")).to_have_text(in_feet)
        stage.show(phase=phase)
        expect(bar).to_have_count(0)


def test_a_rocket_that_falls_fast_and_a_charge_still_live_are_alerts_of_a_real_flight(make_flight, serve, open_page):
    flight = make_flight("ballistic")
    _, address = serve(flight.session)
    page = open_page(address)
    flight.feed_while(lambda s: not any(alert.code == "fast_descent" for alert in s.alerts))
    expect(page.locator("[data-code=fast_descent]")).to_have_text(
        re.compile(r"Coming in fast: \d+ mph, [\d,]+ ft up\. Heads up!")
    )
    other = make_flight("main-silent", 4)
    other.feed_rest()
    _, address = serve(other.session)
    page = open_page(address)
    expect(page.locator("[data-code=charge_not_fired]")).to_have_text(
        re.compile(r"main charge \(channel 2\) .* may still be live\. Keep clear")
    )


def test_a_recorder_that_does_not_write_is_an_alert(stage, shown, open_page):
    page = open_page(shown)
    stage.session.set_recording(None, "flights/one.flight: the disk is full")
    bar = page.locator("[data-code=not_recording]")
    expect(bar).to_contain_text("The flight is not being recorded: flights/one.flight: the disk is full")
    stage.session.set_recording("flights/two.flight")
    expect(bar).to_have_count(0)


@pytest.mark.parametrize(
    ("phase", "code", "words"),
    [
        (Phase.WAITING, "link_silent", "is it switched on"),
        (Phase.COAST, "link_silent", "Keep eyes on the rocket"),
        (Phase.DOWN, "link_ended", "this is the last that it said"),
    ],
)
def test_a_silent_altimeter_is_an_alert_that_says_what_to_do(stage, shown, open_page, phase, code, words):
    page = open_page(shown)
    stage.show(phase=phase)
    stage.now_us += 4_000_000
    expect(page.locator(f"[data-code={code}]")).to_contain_text(words)


def test_more_alerts_than_there_is_room_for_are_counted(stage, shown, open_page):
    page = open_page(shown)
    stage.show(alerts=tuple(Alert(f"code_{n}", f"Number {n}.") for n in range(5)))
    expect(page.get_by_role("region", name="Alerts").locator(".alert")).to_have_text(
        ["▲Number 0.", "▲Number 1.", "▲Number 2.", "and 2 more"]
    )


def test_three_long_alerts_leave_the_laptop_page_unscrolled(stage, shown, open_page):
    page = open_page(shown)
    stage.show(alerts=tuple(Alert(f"charge_{n}", "Keep clear of it. " * 14) for n in range(3)))
    expect(page.locator("[data-code=charge_2]")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollHeight") <= 768
    expect(page.get_by_role("group", name="Altitude").locator(".digits")).to_be_in_viewport(ratio=1)


def test_an_alert_is_sounded_once_and_an_urgent_one_again(stage, shown, open_page, until):
    page = open_page(shown)
    count = "window.station && station.sound ? station.sound.beeps.count : 0"
    stage.show(phase=Phase.WAITING, alerts=(Alert("battery_low", "The battery is low."),))
    until(lambda: page.evaluate(count) == 1)
    stage.show(phase=Phase.DESCENT, alerts=(Alert("fast_descent", "Coming in fast."),))
    until(lambda: page.evaluate(count) >= 3)


def test_sound_waits_for_a_touch_and_can_be_switched_off(shown, open_page):
    page = open_page(shown)
    button = page.locator("#sound-button")
    expect(button).to_have_text("Sound: tap")
    page.locator("#unit-name").click()
    expect(button).to_have_text("Sound on")
    expect(button).to_have_attribute("aria-pressed", "true")
    button.click()
    expect(button).to_have_text("Sound off")
    expect(button).to_have_attribute("aria-pressed", "false")


def fly_to(stage, height_m: float, *, phase: Phase = Phase.COAST, events: tuple[Event, ...] = ()) -> None:
    estimate = Estimate(20_000.0, height_m, 50.0, -10.0, 0.4, 0.3, 0.2)
    stage.show(phase=phase, estimate=estimate, events=events)


def called(name: EventName, height_m: float = 0.0) -> Event:
    return Event(name, 19_500.0, height_m, 0.0, 0.1, Basis.ESTIMATED, 19_900.0)


def test_events_and_heights_are_called_in_the_viewers_units_and_each_once(stage, shown, open_page, until):
    stage.show(phase=Phase.WAITING, estimate=None, events=())
    page = open_page(shown, locale="en-GB")
    until(lambda: page.evaluate("!!(window.station && station.stream && station.stream.state)"))
    liftoff = (called(EventName.LIFTOFF),)
    for height_m in (10.0, 60.0, 160.0, 260.0):
        fly_to(stage, height_m, events=liftoff)
        until(lambda h=height_m: page.evaluate("(station.stream.state.estimate || {}).altitude_m") == h)
    fly_to(stage, 260.0, phase=Phase.DESCENT, events=(*liftoff, called(EventName.APOGEE, 287.0)))
    calls = "station.voice.calls"
    until(lambda: page.evaluate(calls)[-1:] == ["Apogee, 287 metres"])
    assert page.evaluate(calls) == ["Liftoff", "100", "200", "Apogee, 287 metres"]


def test_what_a_silence_hid_is_not_called_as_if_it_had_been_observed(stage, shown, open_page, until):
    stage.show(phase=Phase.WAITING, estimate=None, events=())
    page = open_page(shown, locale="en-GB")
    until(lambda: page.evaluate("!!(window.station && station.stream && station.stream.state)"))
    hidden = (
        replace(called(EventName.BURNOUT, 200.0), altitude_sigma_m=inf),
        replace(called(EventName.APOGEE, 287.0), altitude_sigma_m=4.0),
    )
    fly_to(stage, 260.0, phase=Phase.DESCENT, events=hidden)
    calls = "station.voice.calls"
    until(lambda: len(page.evaluate(calls)) == 2)
    assert page.evaluate(calls) == ["Past burnout, which was not observed", "Apogee, about 287 metres"]


def test_no_voice_leaves_the_device(shown, open_page):
    page = open_page(shown)
    page.locator("#voice-button").click()
    # Headless Chromium has no voice of its own; one of the network must not be taken instead.
    local = page.evaluate("speechSynthesis.getVoices().some(voice => voice.localService)")
    expect(page.locator("#voice-button")).to_have_text("Voice on" if local else "No voice here")
