"""A log judged for the logbook: its row and its curve. Pure."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from station.after_landing import CheckReport, judge_pipeline
from station.check_report import reckoned
from station.errors import PlanError
from station.flight_log.flight_file import FlightFile
from station.flight_state import EventName, Verdict
from station.logbook.curve import LogbookCurve, logbook_curve
from station.logbook.row import LogbookRow
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.plan_text import parse_plan
from station.records import Role

LANDING_S = 2.5
"""How long before touchdown the rate of descent is measured; and the last `GROUND_S` of it not."""
GROUND_S = 0.4
LEAST_LANDING_S = 0.6
JUST_OPEN_S = 0.6


@dataclass(frozen=True, slots=True)
class JudgedLog:
    """What the index keeps of a log; without a liftoff there is no curve."""

    row: LogbookRow
    curve: LogbookCurve | None


def judge_log(file: FlightFile) -> JudgedLog:
    """Judge a log as `station check` does, by the plan that it carries."""
    pipeline = Pipeline(plan=_plan_of(file))
    arrivals: list[tuple[int, int]] = []
    for line, arrival_us in file.lines:
        before_ms = pipeline.clock.t_ms
        pipeline.take_line(line, arrival_us)
        now_ms = pipeline.clock.t_ms
        if arrival_us is not None and now_ms is not None and now_ms != before_ms:
            arrivals.append((now_ms, arrival_us))
    report = judge_pipeline(pipeline, file=file.name, torn=file.torn, unheard=file.unheard)
    curve = None
    if report.liftoff_ms is not None:
        curve = logbook_curve(pipeline.track, report.liftoff_ms, _touchdown_ms(report))
    return JudgedLog(_row(file, report, pipeline, arrivals), curve)


def _plan_of(file: FlightFile) -> FlightPlan | None:
    if file.header is None or file.header.plan is None:
        return None
    try:
        return parse_plan(file.header.plan, file.name)
    except PlanError:
        return None


def _row(
    file: FlightFile,
    report: CheckReport,
    pipeline: Pipeline,
    arrivals: list[tuple[int, int]],
) -> LogbookRow:
    # Of parachutes nothing can be said while nothing has flown.
    flown = report.deployments if report.liftoff_ms is not None else ()
    verdicts = {deployment.role: deployment.verdict or Verdict.NOT_OBSERVED for deployment in flown}
    summary, unit, header, plan = report.summary, report.snapshot.unit, file.header, report.plan
    return LogbookRow(
        file=file.name.replace("\\", "/").rpartition("/")[2],
        has_liftoff=report.liftoff_ms is not None,
        flown_at=_flown_at(file, report.liftoff_ms, arrivals),
        unit_name=None if unit is None else unit.name,
        plan_rocket=None if plan is None else plan.rocket_name,
        plan_motor=None if plan is None else plan.motor_name,
        total_impulse_ns=None if plan is None else plan.total_impulse_ns,
        # A height that was only reckoned is no mark in a book.
        apogee_m=None if reckoned(report) else summary.apogee_m,
        max_speed_mps=summary.max_speed_mps,
        max_acceleration_mps2=summary.max_acceleration_mps2,
        drogue=verdicts.get(Role.DROGUE),
        main=verdicts.get(Role.MAIN),
        verdict=report.verdict,
        landing_rate_mps=landing_rate_mps(pipeline, report),
        flight_time_s=summary.flight_time_s,
        loss_fraction=report.snapshot.link.loss_fraction,
        unheard=report.unheard,
        joined=None if header is None else header.joined,
    )


def _flown_at(file: FlightFile, liftoff_ms: float | None, arrivals: list[tuple[int, int]]) -> datetime | None:
    opened = None if file.header is None else file.header.opened
    if opened is None or liftoff_ms is None:
        return opened
    after = next((arrival_us for t_ms, arrival_us in arrivals if t_ms >= liftoff_ms), 0)
    return (opened + timedelta(microseconds=after)).astimezone(UTC)


def _touchdown_ms(report: CheckReport) -> float | None:
    return next((event.t_ms for event in report.events if event.name is EventName.TOUCHDOWN), None)


def landing_rate_mps(pipeline: Pipeline, report: CheckReport) -> float | None:
    """How fast it came down in the last two seconds before the ground (m/s, + down), by the change of height; None if
    touchdown or those seconds were not observed.
    """
    touchdown_ms = _touchdown_ms(report)
    if touchdown_ms is None:
        return None
    openings = [d.opened_t_ms for d in report.deployments if d.opened_t_ms is not None]
    start_ms = max([touchdown_ms - 1000.0 * LANDING_S, *(t_ms + 1000.0 * JUST_OPEN_S for t_ms in openings)])
    end_ms = touchdown_ms - 1000.0 * GROUND_S
    fall = [estimate for estimate in pipeline.track if start_ms <= estimate.t_ms <= end_ms]
    if len(fall) < 3:
        return None
    seconds = (fall[-1].t_ms - fall[0].t_ms) / 1000.0
    if seconds < LEAST_LANDING_S:
        return None
    return (fall[0].altitude_m - fall[-1].altitude_m) / seconds
