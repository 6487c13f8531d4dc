"""The check's answer in the contract `station-check/1`, to the letter, and in words."""

import json
import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from station.after_landing import CheckReport, judge_lines
from station.check_report import headline, report_json, report_text
from station.flight_state import FlightVerdict
from station.plan import FlightPlan, Recovery
from station.sentences_in_feet import with_feet
from station.virtual import SCENARIOS, fly

# The contract, key by key in its order, with the JSON types that each may have.
NUMBER, TEXT, WHOLE, NULL = (int, float), (str,), (int,), (type(None),)
NUMBER_OR_NULL, TEXT_OR_NULL, WHOLE_OR_NULL = NUMBER + NULL, TEXT + NULL, WHOLE + NULL
TOP = {
    "schema": TEXT,
    "source": (dict,),
    "liftoff_ms": NUMBER_OR_NULL,
    "events": (list,),
    "summary": (dict,),
    "deployments": (list,),
    "alerts": (list,),
    "verdict": TEXT,
    "pad_place": (dict, type(None)),
    "place": (dict, type(None)),
    "drift": (dict, type(None)),
    "fixes_refused": (dict,),
    "plan": (dict, type(None)),
    "not_judged": (list,),
    "next_time": (list,),
    "prediction": (dict, type(None)),
}
SOURCE = {
    "file": TEXT,
    "unit": TEXT_OR_NULL,
    "lines": WHOLE,
    "rejected": WHOLE,
    "lost": WHOLE,
    "loss_fraction": NUMBER,
    "restarts": WHOLE,
}
EVENT = {"name": TEXT, "t_s": NUMBER, "altitude_m": NUMBER, "sigma_s": NUMBER, "basis": TEXT}
SUMMARY = dict.fromkeys(
    (
        "apogee_m",
        "apogee_isa_m",
        "max_speed_mps",
        "max_acceleration_mps2",
        "mean_thrust_acceleration_mps2",
        "burn_time_s",
        "coast_time_s",
        "drogue_rate_mps",
        "main_rate_mps",
        "flight_time_s",
    ),
    NUMBER_OR_NULL,
)
DEPLOYMENT = {
    "role": TEXT,
    "channel": WHOLE_OR_NULL,
    "verdict": TEXT,
    "fired_t_s": NUMBER_OR_NULL,
    "opened_t_s": NUMBER_OR_NULL,
    "altitude_m": NUMBER_OR_NULL,
    "speed_mps": NUMBER_OR_NULL,
    "rate_before_mps": NUMBER_OR_NULL,
    "rate_after_mps": NUMBER_OR_NULL,
    "reasons": (list,),
}
ALERT = {"code": TEXT, "text": TEXT}
EVENT_NAMES = {"liftoff", "burnout", "apogee", "drogue", "main", "touchdown"}
VERDICTS = {"confirmed", "too_fast", "no_effect", "early", "not_fired", "not_observed"}


@cache
def report(name: str, seed: int = 1) -> CheckReport:
    return judge_lines(fly(SCENARIOS[name], seed).heard(), file=f"flights/{name}.flight")


def document(found: CheckReport) -> dict[str, Any]:
    """As another program reads it: one line of strict JSON (no NaN, no infinity), parsed again."""
    text = json.dumps(report_json(found), allow_nan=False)
    assert "\n" not in text
    parsed = json.loads(text)
    assert isinstance(parsed, dict)
    return parsed


def holds(part: dict[str, Any], contract: dict[str, tuple[type, ...]]) -> None:
    assert list(part) == list(contract)
    for key, value in part.items():
        assert isinstance(value, contract[key]), (key, value)
        assert not isinstance(value, bool), key


ALL = sorted(set(SCENARIOS) - {"pad-front", "pad-sun"})


@pytest.mark.parametrize("name", ALL)
def test_the_contract_holds_for_every_kind_of_flight(name: str) -> None:
    found = document(report(name))
    holds(found, TOP)
    assert found["schema"] == "station-check/1"
    assert found["verdict"] in {"both_confirmed", "attention", "not_observed"}
    holds(found["source"], SOURCE)
    holds(found["summary"], SUMMARY)
    for event in found["events"]:
        holds(event, EVENT)
        assert event["name"] in EVENT_NAMES
        assert event["basis"] in {"estimated", "reported"}
        assert event["sigma_s"] > 0.0
    for deployment in found["deployments"]:
        holds(deployment, DEPLOYMENT)
        assert deployment["role"] in {"drogue", "main"}
        assert deployment["channel"] in {1, 2, None}
        assert deployment["verdict"] in VERDICTS
        assert deployment["reasons"]
        assert all(isinstance(reason, str) for reason in deployment["reasons"])
    for alert in found["alerts"]:
        holds(alert, ALERT)
        assert re.fullmatch(r"[a-z]+(_[a-z]+)*", alert["code"])


@pytest.mark.parametrize("name", ALL)
def test_events_count_from_liftoff_in_order(name: str) -> None:
    events = document(report(name))["events"]
    times = [event["t_s"] for event in events]
    assert times == sorted(times)
    assert len({event["name"] for event in events}) == len(events)
    if events:
        assert (events[0]["name"], events[0]["t_s"]) == ("liftoff", 0.0)


@pytest.mark.parametrize("name", ALL)
def test_a_parachute_is_an_event_if_and_only_if_it_was_seen_to_take_hold(name: str) -> None:
    found = document(report(name))
    at = {event["name"]: event["t_s"] for event in found["events"]}
    for deployment in found["deployments"]:
        assert at.get(deployment["role"]) == deployment["opened_t_s"]
        if deployment["verdict"] == "confirmed":
            assert deployment["opened_t_s"] is not None


def test_the_good_flight_in_figures() -> None:
    found = document(report("nominal-dual"))
    assert found["source"]["unit"] == "SWIFT-2"
    assert found["source"]["file"] == "flights/nominal-dual.flight"
    assert found["source"]["restarts"] == 0
    assert 0.0 < found["source"]["loss_fraction"] < 0.1
    assert found["verdict"] == "both_confirmed"
    summary = found["summary"]
    assert 400.0 < summary["apogee_isa_m"] < summary["apogee_m"] < 450.0
    assert summary["burn_time_s"] + summary["coast_time_s"] == pytest.approx(found["events"][2]["t_s"], abs=0.002)
    drogue, main = found["deployments"]
    assert (drogue["channel"], main["channel"]) == (1, 2)
    assert drogue["fired_t_s"] < drogue["opened_t_s"] < main["fired_t_s"] < main["opened_t_s"]
    assert main["rate_before_mps"] == pytest.approx(drogue["rate_after_mps"], rel=0.02)
    assert main["rate_after_mps"] == summary["main_rate_mps"]
    assert main["altitude_m"] < 125.0
    assert main["speed_mps"] == pytest.approx(18.0, abs=2.0)


def test_what_could_not_be_had_is_null_and_there() -> None:
    found = document(report("pad-lifted"))
    assert found["liftoff_ms"] is None
    assert found["events"] == []
    assert set(found["summary"].values()) == {None}
    for deployment in found["deployments"]:
        assert deployment["verdict"] == "not_observed"
        assert {deployment[key] for key in ("fired_t_s", "opened_t_s", "altitude_m", "rate_after_mps")} == {None}
    cut = document(report("behind-the-trees"))
    assert cut["summary"]["main_rate_mps"] is None
    assert cut["summary"]["flight_time_s"] is None
    assert cut["deployments"][1]["opened_t_s"] is None


def test_a_parachute_by_motor_ejection_has_no_channel() -> None:
    found = document(report("late-ejection"))
    (main,) = found["deployments"]
    assert (main["role"], main["channel"], main["fired_t_s"]) == ("main", None, None)
    assert found["summary"]["drogue_rate_mps"] is None


def test_a_charge_that_fired_without_effect_keeps_its_place() -> None:
    main = document(report("main-stays-in"))["deployments"][1]
    assert main["verdict"] == "no_effect"
    assert main["opened_t_s"] is None
    assert main["fired_t_s"] > 20.0
    assert main["altitude_m"] == pytest.approx(120.0, abs=8.0)
    assert main["speed_mps"] == pytest.approx(18.4, abs=1.5)


def test_liftoff_is_told_on_the_altimeters_own_clock() -> None:
    flight = fly(SCENARIOS["nominal-dual"], 1)
    assert flight.truth.liftoff_t_s is not None
    found = document(report("nominal-dual"))
    assert found["liftoff_ms"] == pytest.approx(flight.truth.t_ms_of(flight.truth.liftoff_t_s), abs=60.0)


def test_a_file_that_says_nothing_is_a_document_too() -> None:
    found = document(judge_lines([], file="empty"))
    holds(found, TOP)
    assert found["source"]["unit"] is None
    assert (found["source"]["lines"], found["source"]["loss_fraction"]) == (0, 0.0)
    assert found["verdict"] == "not_observed"


# -- in words ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "headline"),
    [
        ("nominal-dual", "Every parachute held the fall"),
        ("main-stays-in", "LOOK HERE: a parachute did not do what it should."),
        ("drogue-late", "LOOK HERE: every parachute opened, but the drogue late and fast."),
        ("late-ejection", "LOOK HERE: the parachute opened, but late and fast."),
        ("behind-the-trees", "CANNOT SAY"),
        ("pad-gusts", "CANNOT SAY"),
    ],
)
def test_the_answer_comes_first(name: str, headline: str) -> None:
    lines = report_text(report(name)).splitlines()
    assert lines[0] == f"flights/{name}.flight"
    assert headline in lines[1]


def test_of_a_plan_it_speaks_only_where_there_is_one() -> None:
    with_plan = judge_lines([], file="x", plan=FlightPlan(recovery=Recovery.DUAL))
    attention = replace(with_plan, verdict=FlightVerdict.ATTENTION)
    assert headline(attention) == "LOOK HERE: a parachute did not do what was planned."
    assert headline(replace(attention, plan=None)) == "LOOK HERE: a parachute did not do what it should."


@pytest.mark.parametrize(("name", "hard"), [("main-silent", True), ("nominal-dual", False), ("ballistic", False)])
def test_a_hard_landing_is_an_alert_where_the_landing_was_seen(name: str, hard: bool) -> None:
    """Nothing is heard of the ballistic flight once it is down, so nothing is said of its landing."""
    assert ("hard_landing" in {alert.code for alert in report(name).alerts}) is hard


def test_a_rate_in_a_reason_is_given_in_feet_a_second_too() -> None:
    found = re.search(r"held at (\d+\.\d) m/s \((\d+) ft/s\)", report_text(report("nominal-dual")))
    assert found is not None
    assert float(found[2]) == pytest.approx(float(found[1]) / 0.3048, abs=0.5)


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("nominal-dual", "Both charges were reported fired: no other charge is known to be aboard."),
        ("late-ejection", "This altimeter reports no charges of its own."),
        ("main-silent", None),
        ("behind-the-trees", None),
    ],
)
def test_the_last_words_say_what_is_known_of_the_charges(name: str, known: str | None) -> None:
    last = report_text(report(name)).splitlines()[-1]
    if known is None:
        assert last.startswith("Before you walk up")
        assert "may still be live" in report_text(report(name))
    else:
        assert last.startswith(known)


@pytest.mark.parametrize("name", ALL)
def test_the_text_keeps_to_its_words(name: str) -> None:
    text = report_text(report(name))
    assert not re.search(r"\bsafe(ly)?\b", text, re.IGNORECASE)
    assert "treat every charge not reported fired as live" in text
    assert "None" not in text
    assert "nan" not in text
    for deployment in report(name).deployments:
        for reason in deployment.reasons:
            assert with_feet(reason) in text
    for alert in report(name).alerts:
        assert with_feet(alert.text) in text


def test_both_altitudes_are_told_apart_and_in_both_units() -> None:
    found = report("nominal-dual")
    text = report_text(found)
    assert found.summary.apogee_m is not None
    assert found.summary.apogee_isa_m is not None
    assert f"{found.summary.apogee_m:.1f} m ({found.summary.apogee_m / 0.3048:.0f} ft) above the pad" in text
    assert "what altimeters report" in text
    assert f"{found.summary.apogee_isa_m:.1f} m" in text
    assert "by the altimeter's own sensor" in text
    mps = found.summary.max_speed_mps
    assert mps is not None
    assert f"{mps:.0f} m/s ({mps / 0.44704:.0f} mph)" in text


def test_the_figures_of_a_flight_without_any_are_left_out() -> None:
    text = report_text(report("pad-lifted"))
    for word in ("Highest", "Fastest", "Burn", "Under the", "In the air"):
        assert word not in text
    assert " lines; lost: " in text


def test_a_torn_file_says_so() -> None:
    torn = judge_lines([], file="x", torn=True)
    assert "ends in the middle of a line" in report_text(torn)
    assert "ends in the middle of a line" not in report_text(report("nominal-dual"))


def test_restarts_are_told() -> None:
    assert "altimeter restarts 1" in report_text(report("restart-in-flight"))


def test_without_a_plan_it_says_what_it_cannot_judge() -> None:
    found = judge_lines([], file="x")
    assert "No flight plan, so not judged: which parachutes were meant" in report_text(found)
    assert document(found)["plan"] is None
    assert "the motor's delay" in document(found)["not_judged"]


def test_the_plan_that_it_was_judged_by_is_in_the_document() -> None:
    plan = FlightPlan(rocket_name="Little Comet", recovery=Recovery.DUAL, main_rate_mps=5.5)
    found = judge_lines([], file="x", plan=plan)
    assert "The plan does not say all, so not judged: whether it came down" in report_text(found)
    written = document(found)["plan"]
    assert (written["rocket_name"], written["recovery"], written["main_rate_mps"]) == (
        "Little Comet",
        "dual deployment",
        5.5,
    )
    assert written["wind_mps"] is None
