"""Real invented flights as rows, against their truth."""

from dataclasses import replace

import pytest

from station.after_landing import judge_lines
from station.flight_log.flight_file import FlightFile, parse_flight
from station.flight_state import FlightVerdict, Verdict
from station.logbook.judged_log import JudgedLog, judge_log
from station.virtual import SCENARIOS, VirtualFlight, fly
from station.virtual.saved_flight import OPENED, bare_capture, flight_log

PLAN = """
[rocket]
name = "Little Comet"
[motor]
name = "H-1"
total_impulse = "170 N s"
"""


def judged(scenario: str, seed: int = 1) -> tuple[VirtualFlight, FlightFile, JudgedLog]:
    flight = fly(SCENARIOS[scenario], seed)
    file = parse_flight(flight_log(flight), f"flights/{scenario}.flight")
    return flight, file, judge_log(file)


def test_a_row_says_what_the_check_says_and_where_it_is_from() -> None:
    _, file, found = judged("main-silent")
    report = judge_lines(file.lines, file=file.name)
    row = found.row
    assert row.file == "main-silent.flight"
    assert row.unit_name == "SWIFT-2"
    assert (row.apogee_m, row.max_speed_mps) == (report.summary.apogee_m, report.summary.max_speed_mps)
    assert row.flight_time_s == report.summary.flight_time_s
    assert (row.drogue, row.main, row.verdict) == (Verdict.CONFIRMED, Verdict.NOT_FIRED, FlightVerdict.ATTENTION)
    assert (row.plan_rocket, row.plan_motor, row.total_impulse_ns, row.joined, row.unheard) == (None,) * 5
    assert row.has_liftoff


@pytest.mark.parametrize("scenario", ["main-silent", "nominal-dual", "late-ejection"])
def test_the_landing_speed_is_how_fast_it_really_came_down_at_the_end(scenario: str) -> None:
    flight, _, found = judged(scenario)
    assert found.row.landing_rate_mps == pytest.approx(flight.truth.touchdown_rate_mps, rel=0.05)


def test_liftoff_is_placed_on_the_calendar_by_the_arrival_of_its_line() -> None:
    flight, _, found = judged("nominal-dual")
    assert found.row.flown_at is not None
    assert (found.row.flown_at - OPENED).total_seconds() == pytest.approx(flight.truth.liftoff_t_s, abs=0.3)


def test_rocket_motor_and_impulse_come_from_the_plan_that_the_log_carries() -> None:
    _, file, _ = judged("nominal-dual")
    assert file.header is not None
    row = judge_log(replace(file, header=replace(file.header, plan=PLAN))).row
    assert (row.plan_rocket, row.plan_motor, row.total_impulse_ns) == ("Little Comet", "H-1", 170.0)
    broken = judge_log(replace(file, header=replace(file.header, plan="[rocket"))).row
    assert broken.plan_rocket is None
    assert broken.apogee_m == pytest.approx(row.apogee_m, abs=0.01)


def test_a_capture_has_no_day_and_a_wait_on_the_pad_no_curve() -> None:
    flight, _, _ = judged("nominal-dual")
    capture = judge_log(parse_flight(bare_capture(flight), "capture.txt"))
    assert capture.row.flown_at is None
    assert capture.curve is not None
    _, _, waiting = judged("pad-gusts")
    assert not waiting.row.has_liftoff
    assert waiting.curve is None
    assert waiting.row.flown_at == OPENED


def test_an_impact_without_a_touchdown_heard_has_no_landing_speed() -> None:
    assert judged("ballistic")[2].row.landing_rate_mps is None
