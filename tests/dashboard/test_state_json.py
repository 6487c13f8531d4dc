import json
import math
from pathlib import Path

import pytest

import dashboard
from dashboard.state_json import answer, row_json, state_json
from station.flight_state import Basis, Event, EventName, FlightVerdict, Outlook, Phase, Verdict
from station.plan import FlightPlan
from station.records import ChannelState, Role


def test_state_is_json_and_says_what_the_snapshot_says(make):
    state = json.loads(json.dumps(state_json("abc", 7, make.snapshot(), make.status())))
    assert state["schema"] == "station-live/1"
    assert (state["session"], state["points"], state["phase"]) == ("abc", 7, "coast")
    assert state["flight_time_s"] == 2.0
    assert state["estimate"]["altitude_m"] == 150.25
    assert state["estimate"]["t_s"] == 2.0
    assert state["link"]["rejected_by_reason"] == {"bad crc": 2}
    assert state["unit"]["channel_2_role"] == "main"
    assert state["recording"] == {"file": "flights/one.flight", "error": None}


def test_times_of_events_and_deployments_count_from_liftoff(make):
    fired = make.deployment(Role.DROGUE, charge=ChannelState.FIRED, fired_t_ms=19_700.0, opened_t_ms=20_500.0)
    apogee = Event(EventName.APOGEE, 19_300.0, 426.1, 0.0, 0.05, Basis.ESTIMATED, 19_420.0)
    state = state_json("s", 0, make.snapshot(events=(apogee,), deployments=(fired,)), make.status())
    assert state["events"][0]["t_s"] == 9.3
    assert state["deployments"][0]["fired_t_s"] == 9.7
    assert state["deployments"][0]["opened_t_s"] == 10.5


def test_what_is_to_come_has_flight_time_and_error_bar(make):
    coasting = Outlook(17_250.0, 0.125, 431.26, 3.04)
    assert state_json("s", 0, make.snapshot(outlook=coasting), make.status())["outlook"] == {
        "apogee": {"t_s": 7.25, "t_sigma_s": 0.12, "altitude_m": 431.26, "altitude_sigma_m": 3},
        "main_height": None,
        "touchdown": None,
    }
    falling = Outlook(
        main_height_t_ms=30_000.0, main_height_t_sigma_s=0.5, touchdown_t_ms=61_500.0, touchdown_t_sigma_s=4.0
    )
    assert state_json("s", 0, make.snapshot(outlook=falling), make.status())["outlook"] == {
        "apogee": None,
        "main_height": {"t_s": 20, "t_sigma_s": 0.5},
        "touchdown": {"t_s": 51.5, "t_sigma_s": 4},
    }
    assert state_json("s", 0, make.snapshot(), make.status())["outlook"] is None


def test_nothing_known_is_null_not_zero(make):
    unknown = make.snapshot(
        phase=Phase.WAITING,
        liftoff_t_ms=None,
        estimate=None,
        highest_m=None,
        fastest_mps=None,
        pad_pressure_pa=None,
        unit=None,
        channels=None,
        events=(),
        deployments=(),
    )
    state = state_json("s", 0, unknown, make.status())
    for name in ("liftoff_t_ms", "flight_time_s", "estimate", "highest_m", "fastest_mps", "unit", "channels", "fix"):
        assert state[name] is None, name
    assert state["air"]["pad_pressure_pa"] is None
    assert state["answer"] is None


def test_a_value_that_is_no_number_is_null(make):
    assert state_json("s", 0, make.snapshot(highest_m=math.nan), make.status())["highest_m"] is None


def test_a_mark_has_its_flight_time_when_it_is_known(make):
    status = make.status(marks=((1, "heard a bang"), (2, "look")))
    marks = state_json("s", 0, make.snapshot(), status, [12_500.0])["marks"]
    assert [mark["t_s"] for mark in marks] == [2.5, None]
    assert marks[0]["text"] == "heard a bang"


def test_replay_position_is_told_only_in_a_replay(make):
    assert state_json("s", 0, make.snapshot(), make.status())["playback"] is None
    told = state_json("s", 0, make.snapshot(), make.status(), playback=make.playback())["playback"]
    assert told == {
        "position_us": 2_000_000,
        "duration_us": 60_000_000,
        "playing": True,
        "speed": 1.0,
        "events": [],
    }
    playback = make.playback()
    playback.find_events()
    told = state_json("s", 0, make.snapshot(), make.status(), playback=playback)["playback"]
    assert told["events"][0] == {"name": "liftoff", "position_us": 1_000_000}


def test_a_row_keeps_the_columns_of_the_estimate(make):
    assert row_json(make.estimate(3)) == [10_060, 1.5, 12.5, -9.81, 0.4, 0.3, 0.2]


C, A, N = FlightVerdict.BOTH_CONFIRMED.value, FlightVerdict.ATTENTION.value, FlightVerdict.NOT_OBSERVED.value


@pytest.mark.parametrize(
    ("drogue", "main", "expected"),
    [
        (Verdict.CONFIRMED, Verdict.CONFIRMED, C),
        (Verdict.CONFIRMED, Verdict.NOT_FIRED, A),
        (Verdict.NOT_OBSERVED, Verdict.NO_EFFECT, A),
        (Verdict.CONFIRMED, Verdict.NOT_OBSERVED, N),
        (Verdict.CONFIRMED, None, N),
    ],
)
def test_answer_after_touchdown_is_confirmed_only_if_every_deployment_is(make, drogue, main, expected):
    down = make.snapshot(
        phase=Phase.DOWN, deployments=(make.deployment(Role.DROGUE, drogue), make.deployment(Role.MAIN, main))
    )
    assert answer(down, over=False) == expected


def test_no_deployment_known_is_no_confirmation(make):
    assert answer(make.snapshot(phase=Phase.DOWN, deployments=()), over=False) == N


def test_there_is_no_answer_in_flight_but_there_is_when_no_more_will_be_heard(make):
    flying = make.snapshot(
        phase=Phase.DESCENT,
        deployments=(make.deployment(Role.DROGUE, Verdict.CONFIRMED), make.deployment(Role.MAIN, Verdict.CONFIRMED)),
    )
    assert answer(flying, over=False) is None
    assert answer(flying, over=True) == C
    assert answer(make.snapshot(liftoff_t_ms=None), over=True) is None


def test_every_part_of_the_state_is_documented(make):
    document = (Path(dashboard.__file__).parent / "LIVE_API.md").read_text(encoding="utf-8")
    outlook = Outlook(17_250.0, 0.1, 431.3, 3.0, 30_000.0, 0.5, 61_500.0, 4.0)
    snapshot = make.snapshot(outlook=outlook)
    state = state_json("s", 0, snapshot, make.status(marks=((1, "x"),)), playback=make.playback())
    names = set(state)
    for part in [*state.values(), *state["outlook"].values()]:
        for one in part if isinstance(part, list) else [part]:
            names |= set(one) if isinstance(one, dict) else set()
    assert [name for name in sorted(names) if f"`{name}`" not in document and name != "bad crc"] == []


def test_the_plan_is_told_if_there_is_one(make):
    assert state_json("s", 0, make.snapshot(), make.status())["plan"] is None
    plan = FlightPlan(rocket_name="Comet", predicted_apogee_m=600.0, main_rate_mps=5.25)
    told = state_json("s", 0, make.snapshot(), make.status(), plan=plan)["plan"]
    assert told["rocket"] == "Comet"
    assert (told["apogee_m"], told["main_rate_mps"], told["speed_mps"]) == (600, 5.2, None)
