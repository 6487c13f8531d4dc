"""What follows from a plan, as people and programs get it."""

import json
import re

from station.plan import FlightPlan
from station.preflight import Finding, judge_plan, left_open, look_ahead
from station.preflight.report import exit_status, preflight_json, preflight_text
from station.rules import DECIDES, WIND

WINDY = FlightPlan(rocket_name="Little Comet", wind_mps=10.0, rocket_mass_kg=2.0, mean_thrust_n=50.0)


def text_of(plan: FlightPlan) -> str:
    ahead = look_ahead(plan)
    return preflight_text("comet.toml", ahead, judge_plan(ahead), left_open(ahead))


def test_the_answer_comes_first_then_what_stands_out() -> None:
    lines = text_of(WINDY).splitlines()
    assert lines[:3] == ["comet.toml", "LOOK HERE: 2 things stand out.", ""]
    assert lines[3].startswith("  ! Mean thrust is 2.5 times the weight: too little")
    assert text_of(FlightPlan(wind_mps=1.0)).splitlines()[1] == "Nothing in this plan stands out."
    assert text_of(FlightPlan()).splitlines()[1].startswith("The plan can be read, but says too little")
    assert "LOOK HERE: one thing stands out." in text_of(FlightPlan(wind_mps=10.0))


def test_values_are_shown_in_both_systems() -> None:
    text = text_of(WINDY)
    assert re.search(r"rocket +name +Little Comet\n +mass +2 kg \(4\.4 lb\)", text)
    assert "10 m/s (22 mph)" in text


def test_every_rule_is_quoted_once_with_its_source_and_referred_to_by_number() -> None:
    text = text_of(WINDY)
    number = re.search(rf"\[(\d)\] {re.escape(WIND.says)}\n +\(published: California Code of Regulations", text)
    assert number is not None
    assert f"is over the limit of 20 mph. [{number[1]}]" in text
    assert text.count(WIND.says) == 1
    assert "(common practice, no source)" in text


def test_it_always_ends_with_who_decides() -> None:
    for plan in (FlightPlan(), WINDY):
        assert " ".join(text_of(plan).splitlines()[-2:]) == DECIDES


def test_what_is_left_open_is_said() -> None:
    assert "  - whether it comes down on the field: size in [field]" in text_of(WINDY)


def test_no_line_is_too_wide_for_a_terminal() -> None:
    assert max(map(len, text_of(WINDY).splitlines())) <= 100


def test_the_status_is_1_for_a_look_and_3_for_nothing_to_say() -> None:
    assert exit_status([]) == 3
    assert exit_status([Finding("wind", "calm")]) == 0
    assert exit_status([Finding("wind", "calm"), Finding("mass", "much", stands_out=True)]) == 1


def test_the_document_for_programs_is_json_in_si() -> None:
    ahead = look_ahead(WINDY)
    document = json.loads(
        json.dumps(preflight_json("comet.toml", ahead, judge_plan(ahead), left_open(ahead)), allow_nan=False)
    )
    assert document["schema"] == "station-plan/1"
    assert document["plan"]["wind_mps"] == 10.0
    assert document["plan"]["recovery"] is None
    assert document["follows"]["thrust_to_weight"] == 2.54929  # 50/(2 x 9.80665)
    assert document["follows"]["forecast"] is None
    (wind,) = (finding for finding in document["findings"] if finding["code"] == "wind")
    assert wind["stands_out"] is True
    assert wind["rules"] == [
        {
            "says": WIND.says,
            "source": "California Code of Regulations, title 19, 1036(c)",
            "standing": "published",
        }
    ]
    assert document["decides"] == DECIDES
