"""The check after landing: a saved flight in, what can be said of it out.

Pure but for nothing: the file has been read already. The flight goes through the same pipeline as live; what
the whole record shows better than a glance at its latest moment is then refined (`station/refining.py`), and the same
evidence code gives the verdicts. The JSON form is the contract `station-check/1` that other programs rely on.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from station.alerts import hard_landing
from station.ascent_review import review_ascent
from station.deployment_evidence import judge_deployments, opening_events
from station.flight_state import Alert, Deployment, Event, EventName, FlightVerdict, Snapshot, Verdict
from station.flown_curve import FlownCurve, flown_curve
from station.late_opening import UNSEEN_S
from station.next_time import NextTime, next_time
from station.openings import with_openings
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.prediction import Prediction
from station.refined_flight import RefinedFlight
from station.refining import refine_flight
from station.stretch import Stretch

SCHEMA = "station-check/1"
EXIT_STATUS = {
    FlightVerdict.BOTH_CONFIRMED: 0,
    FlightVerdict.ATTENTION: 1,
    FlightVerdict.NOT_OBSERVED: 3,
}
_HELD = {Verdict.CONFIRMED, Verdict.TOO_FAST, Verdict.EARLY}
_BAD = {Verdict.TOO_FAST, Verdict.NO_EFFECT, Verdict.EARLY, Verdict.NOT_FIRED}


@dataclass(frozen=True, slots=True)
class FlightSummary:
    """The flight in figures, SI; None where it could not be had. Rates are descent rates, + down."""

    apogee_m: float | None
    apogee_isa_m: float | None
    max_speed_mps: float | None
    max_acceleration_mps2: float | None
    mean_thrust_acceleration_mps2: float | None
    burn_time_s: float | None
    coast_time_s: float | None
    drogue_rate_mps: float | None
    main_rate_mps: float | None
    flight_time_s: float | None


@dataclass(frozen=True, slots=True)
class CheckReport:
    """Everything that the check says of one file.

    `unheard`: how many of the lines were only read out of the altimeter after landing; None if nobody compared.
    `stretches` is the descent, part after part.
    """

    file: str
    snapshot: Snapshot
    liftoff_ms: float | None
    events: tuple[Event, ...]
    summary: FlightSummary
    deployments: tuple[Deployment, ...]
    alerts: tuple[Alert, ...]
    verdict: FlightVerdict
    torn: bool
    plan: FlightPlan | None
    unheard: int | None = None
    next_time: NextTime = field(default_factory=NextTime)
    stretches: tuple[Stretch, ...] = ()


def judge_lines(
    lines: Iterable[tuple[bytes, int | None]],
    *,
    file: str,
    torn: bool = False,
    unheard: int | None = None,
    air_temperature_c: float | None = None,
    plan: FlightPlan | None = None,
    prediction: Prediction | None = None,
) -> CheckReport:
    """Judge received lines, each with its arrival time in microseconds if it has one."""
    pipeline = Pipeline(air_temperature_c=air_temperature_c, plan=plan)
    for line, arrival_us in lines:
        pipeline.take_line(line, arrival_us)
    return judge_pipeline(pipeline, file=file, torn=torn, unheard=unheard, prediction=prediction)


def judge_pipeline(
    pipeline: Pipeline,
    *,
    file: str,
    torn: bool = False,
    unheard: int | None = None,
    prediction: Prediction | None = None,
) -> CheckReport:
    """Judge a pipeline that has taken all its lines."""
    snapshot = pipeline.snapshot(over=True)
    curve = _flown(pipeline)
    review = review_ascent(pipeline, refine_flight(pipeline, curve), curve)
    refined = review.refined
    by_name = {event.name: event for event in refined.events}
    deployments = with_openings(
        judge_deployments(pipeline.facts(over=True, refined=refined)),
        by_motor=pipeline.by_motor,
        liftoff=by_name.get(EventName.LIFTOFF),
        apogee=by_name.get(EventName.APOGEE),
        coasting=review.coasting,
        opening=review.opening,
    )
    fired_ms = [deployment.fired_t_ms for deployment in deployments if deployment.fired_t_ms is not None]
    review = replace(review, refined=refined.observed(fired_ms))
    refined = review.refined
    events = tuple(sorted([*refined.events, *opening_events(deployments)], key=lambda event: event.t_ms))
    return CheckReport(
        file=file,
        snapshot=snapshot,
        liftoff_ms=_time(events, EventName.LIFTOFF),
        events=events,
        summary=_summary(pipeline, events, refined, deployments),
        deployments=deployments,
        alerts=(
            *pipeline.alerts(deployments, over=True, apogee=by_name.get(EventName.APOGEE)),
            *hard_landing(refined.stretches, pipeline.tracker.track, by_name.get(EventName.TOUCHDOWN)),
        ),
        verdict=flight_verdict(deployments),
        torn=torn,
        plan=pipeline.plan,
        unheard=unheard,
        next_time=next_time(pipeline, review, deployments, snapshot.whereabouts, prediction),
        stretches=refined.stretches,
    )


def flight_verdict(deployments: Iterable[Deployment]) -> FlightVerdict:
    """The flight's verdict: attention outweighs not observed, which outweighs confirmed."""
    verdicts = {deployment.verdict for deployment in deployments}
    if verdicts & _BAD:
        return FlightVerdict.ATTENTION
    if verdicts == {Verdict.CONFIRMED}:
        return FlightVerdict.BOTH_CONFIRMED
    return FlightVerdict.NOT_OBSERVED


def exit_status(report: CheckReport) -> int:
    """0 every planned deployment confirmed, 1 attention, 3 too little data to say."""
    return EXIT_STATUS[report.verdict]


def _flown(pipeline: Pipeline) -> FlownCurve | None:
    tracker = pipeline.tracker
    if not tracker.events or tracker.motion is None:
        return None
    return flown_curve(
        tracker.flown, tracker.track, tracker.events[0].t_ms, pipeline.pad.noise_pa, tracker.motion.pad_kelvin
    )


def _time(events: Iterable[Event], name: EventName) -> float | None:
    return next((event.t_ms for event in events if event.name is name), None)


def _span_s(first: Event | None, last: Event | None) -> float | None:
    """From one moment to the other, None where a silence hid one of them."""
    if first is None or last is None or max(first.sigma_s, last.sigma_s) > UNSEEN_S:
        return None
    return (last.t_ms - first.t_ms) / 1000.0


def _summary(
    pipeline: Pipeline,
    events: tuple[Event, ...],
    refined: RefinedFlight,
    deployments: tuple[Deployment, ...],
) -> FlightSummary:
    by_name = {event.name: event for event in events}
    liftoff, burnout = by_name.get(EventName.LIFTOFF), by_name.get(EventName.BURNOUT)
    apogee, touchdown = by_name.get(EventName.APOGEE), by_name.get(EventName.TOUCHDOWN)
    burn_s = _span_s(liftoff, burnout)
    mean = burnout.velocity_mps / burn_s if burnout and burn_s else None
    # Only where that parachute held: what the rocket fell at without it is no rate under it.
    rates = {each.role.value: each.rate_after_mps for each in deployments if each.verdict in _HELD}
    return FlightSummary(
        apogee_m=apogee.altitude_m if apogee else None,
        apogee_isa_m=apogee.altitude_m / pipeline.pad.ratio if apogee else None,
        max_speed_mps=refined.max_speed_mps,
        max_acceleration_mps2=refined.max_acceleration_mps2,
        mean_thrust_acceleration_mps2=mean,
        burn_time_s=burn_s,
        coast_time_s=_span_s(burnout, apogee),
        drogue_rate_mps=rates.get("drogue"),
        main_rate_mps=rates.get("main"),
        flight_time_s=_span_s(liftoff, touchdown),
    )
