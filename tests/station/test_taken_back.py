"""A liftoff called on the pad is taken back, and the flight after it is told as if nothing had been called."""

import itertools
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from station.after_landing import CheckReport, judge_lines
from station.check_report import report_json
from station.flight_log import EntryKind, FlightFile, FlightLogWriter, LogEntry, LogHeader, read_flight_file
from station.flight_state import EventName, FlightVerdict, Phase
from station.liftoff import LiftoffDetector
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.replay import Playback
from station.session import FlightSession

Line = tuple[bytes, int | None]
CODE = "liftoff_taken_back"


def fed(lines: Iterable[Line], pipeline: Pipeline | None = None) -> Pipeline:
    pipeline = pipeline or Pipeline()
    for line, arrival_us in lines:
        pipeline.take_line(line, arrival_us)
    return pipeline


def up_to(lines: Iterable[Line], t_s: float) -> list[Line]:
    return [(line, at_us) for line, at_us in lines if at_us is None or at_us <= 1e6 * t_s]


@pytest.fixture(scope="module")
def judged(false_start: Any) -> CheckReport:
    return judge_lines(false_start.lines, file="false start")


@pytest.fixture(scope="module")
def judged_calm(false_start: Any) -> CheckReport:
    return judge_lines(false_start.calm, file="calm")


@pytest.fixture
def deaf_while_it_swells(monkeypatch: pytest.MonkeyPatch, false_start: Any) -> None:
    """The same wait with nothing called in the gust: the detector only hears until it is over."""
    take = LiftoffDetector.take
    first_ms = false_start.flight.truth.first_t_ms

    def deaf(self: LiftoffDetector, sample: Any, noise_m: float, gust_m: float, swell_m: float, surge_m: float) -> Any:
        if sample.t_ms < first_ms + 1000.0 * false_start.taken_back_by_s:
            return self.hear(sample)
        return take(self, sample, noise_m, gust_m, swell_m, surge_m)

    monkeypatch.setattr(LiftoffDetector, "take", deaf)


def test_a_gust_like_a_climb_is_called_and_taken_back(false_start: Any) -> None:
    first = up_to(false_start.lines, false_start.called_by_s)
    called = fed(first)
    assert called.tracker.phase is not Phase.WAITING
    assert called.taken_back == ()
    fed(up_to(false_start.lines, false_start.taken_back_by_s)[len(first) :], called)
    assert len(called.taken_back) == 1
    tracker, snapshot = called.tracker, called.snapshot()
    assert (tracker.events, tracker.track, tracker.flown, tracker.stretches()) == ([], [], [], [])
    assert snapshot.phase is Phase.WAITING
    assert snapshot.liftoff_t_ms is None
    assert snapshot.highest_m is None
    assert snapshot.fastest_mps is None
    assert snapshot.estimate is not None
    assert abs(snapshot.estimate.altitude_m) < 2.0


def test_it_is_told_once_until_the_next_liftoff_and_after_the_flight(false_start: Any) -> None:
    pipeline = Pipeline()
    told: list[tuple[Phase, bool]] = []
    for line, arrival_us in false_start.lines:
        pipeline.take_line(line, arrival_us)
        if pipeline.tracker.last_sample_ms is not None and len(told) < 10:
            codes = [alert.code for alert in pipeline.alerts((), over=False)]
            assert codes.count(CODE) <= 1
            now = pipeline.tracker.phase, CODE in codes
            if not told or told[-1] != now:
                told.append(now)
    assert [phase for phase, is_told in told if is_told] == [Phase.WAITING]
    assert told[0] == (Phase.WAITING, False)
    text = next(alert.text for alert in pipeline.snapshot(over=True).alerts if alert.code == CODE)
    assert re.fullmatch(
        r"A liftoff that was called is taken back: in the [56] s after it no height over 1[345] m was seen, and the "
        r"pressure is the pad's again\. Wind, a door or a hand can do that\.",
        text,
    )


@pytest.mark.usefixtures("deaf_while_it_swells")
def test_the_flight_after_it_is_the_same_to_the_last_bit_as_if_it_had_never_been_called(
    false_start: Any, judged: CheckReport
) -> None:
    plain = judge_lines(false_start.lines, file="false start")
    assert all(alert.code != CODE for alert in plain.alerts)
    assert (judged.events, judged.summary, judged.deployments) == (plain.events, plain.summary, plain.deployments)
    assert judged.stretches == plain.stretches


def test_the_flight_after_it_is_judged_as_on_a_calm_day(judged: CheckReport, judged_calm: CheckReport) -> None:
    assert judged.verdict is judged_calm.verdict is FlightVerdict.BOTH_CONFIRMED
    assert [event.name for event in judged.events] == [event.name for event in judged_calm.events]
    for event, calm in zip(judged.events, judged_calm.events, strict=True):
        assert event.t_ms == pytest.approx(calm.t_ms, abs=100.0)
        assert event.altitude_m == pytest.approx(calm.altitude_m, abs=1.5)
    assert judged.summary.max_speed_mps == pytest.approx(judged_calm.summary.max_speed_mps, rel=0.02)


def test_the_check_tells_it_and_keeps_its_form(judged: CheckReport, judged_calm: CheckReport) -> None:
    told, calm = report_json(judged), report_json(judged_calm)
    assert told.keys() == calm.keys()
    assert [alert["code"] for alert in told["alerts"]] == [CODE]
    assert calm["alerts"] == []
    assert [event["name"] for event in told["events"]] == list(EventName)
    assert told["verdict"] == calm["verdict"]


def test_what_looks_at_the_flight_point_by_point_begins_anew(false_start: Any) -> None:
    """Asked all the while, the outlook and the drift are those of somebody who asks after the false start only."""
    plan = replace(FlightPlan(), wind_mps=4.0, wind_from_deg=270.0)
    asked, fresh = Pipeline(plan=plan), Pipeline(plan=plan)
    phases = set()
    for n, (line, arrival_us) in enumerate(false_start.lines):
        asked.take_line(line, arrival_us)
        fresh.take_line(line, arrival_us)
        if n % 10 == 0:
            snapshot = asked.snapshot()
            phases.add(snapshot.phase)
            if arrival_us / 1e6 > false_start.liftoff_s:
                assert fresh.snapshot() == snapshot
    assert phases == set(Phase)
    assert asked.snapshot(over=True) == fresh.snapshot(over=True)
    assert asked.snapshot(over=True).whereabouts.drift is not None


def test_after_a_restart_of_the_altimeter_the_called_liftoff_stays(false_start: Any) -> None:
    """The lines from two seconds after the gust on, sent again from a clock that begins at 0."""
    cut_s = false_start.swell_s + 2.0
    before = up_to(false_start.lines, cut_s)
    pipeline = fed(before)
    again = [(line, round(1e6 * cut_s) + (at_us or 0)) for line, at_us in up_to(false_start.calm, 12.0)]
    fed(again, pipeline)
    assert pipeline.clock.restarts == 1
    assert pipeline.taken_back == ()
    assert pipeline.tracker.liftoff_ms is not None


def test_viewers_get_a_new_session_whose_points_begin_at_the_flight(false_start: Any) -> None:
    session = FlightSession(Pipeline(), "test", lambda: 0)
    ids = [session.session_id]
    session.mark(1, "armed")
    for line, arrival_us in false_start.lines:
        session.take_line(line, arrival_us)
        if session.session_id != ids[-1]:
            ids.append(session.session_id)
            assert session.points(0) == []
    assert len(ids) == 2
    _, snapshot, status = session.snapshot()
    assert status.marks == ((1, "armed"),)
    assert snapshot.liftoff_t_ms is not None
    assert session.points(0)[0].t_ms > snapshot.liftoff_t_ms - 3000.0


@pytest.fixture
def saved(false_start: Any, tmp_path: Path) -> FlightFile:
    writer = FlightLogWriter(tmp_path, LogHeader(None, "test", "station", "monotonic"))
    for line, arrival_us in false_start.lines:
        writer.append(LogEntry(EntryKind.LINE, arrival_us, line))
    writer.close()
    return read_flight_file(writer.path)


def test_replayed_it_is_what_it_was_live(false_start: Any, saved: FlightFile) -> None:
    live = fed(false_start.lines)
    made: list[Pipeline] = []

    def make() -> Pipeline:
        made.append(Pipeline())
        return made[-1]

    seconds = itertools.count(0.0, 1.0)
    playback = Playback(saved, make, clock_s=lambda: next(seconds))
    playback.play()
    while playback.step() is not None:
        pass
    assert made[0].snapshot(over=True) == live.snapshot(over=True)
    assert made[0].track == live.track
    assert made[0].taken_back == live.taken_back != ()


def test_the_replays_bar_shows_the_events_of_the_flight_alone(saved: FlightFile, false_start: Any) -> None:
    playback = Playback(saved, Pipeline)
    playback.find_events()
    assert [name for name, _ in playback.events] == list(EventName)
    assert playback.events[0][1] / 1e6 == pytest.approx(false_start.liftoff_s, abs=1.0)
