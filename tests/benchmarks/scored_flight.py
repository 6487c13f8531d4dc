"""Fly one virtual flight through the pipeline and score every claim, live and after landing, against the truth."""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from station.after_landing import CheckReport, judge_pipeline
from station.atmosphere import isa_altitude_m, isa_to_true_ratio, pad_density_ratio
from station.flight_state import Event, EventName, Verdict
from station.pipeline import Pipeline
from station.records import Role, SampleRecord
from station.virtual.flight_setup import Outcome
from station.virtual.truth import ParachuteTruth, Truth
from station.virtual.virtual_flight import VirtualFlight
from station.wire import LineFramer, decode_line

COVER_BEFORE_S = 1.0
COVER_AFTER_S = 4.0
COVERED_SHARE = 0.6
LONGEST_HOLE_S = 1.0
SILENCE_S = 0.25
ABOUT_S = 0.3
# A parachute that opens so soon after apogee, where the air is slow, is measured with the drogues.
NEAR_APOGEE_S = 5.0
TRANSONIC_MACH = 0.78
# Parts of the row "live liftoff baro": up to there it may be somebody who lifts the rocket.
REACH_M = 3.0
HEARD_HIGH = "of it, until a sample from over a person's reach (3 m) was heard"
HEARD_HIGH_TWICE = "of it, until a second one was"
# Parts of the row "apogee altitude".
UNSEEN = "of it, what no record shows: the sensor's offset, the wind on the pad"
NOT_UNSEEN = "of it, the rest"
# What really became of a parachute.
OPENED_AND_SEEN = "opened as planned, the data cover it"
OPENED_UNSEEN = "opened as planned, data are missing"
OPENED_ELSEWHERE = "opened early, hidden by the other, or too small"
TANGLED = "came out tangled"
STAYED_IN = "did not open"
LET_GO = "opened as planned, and let go later"
# What lets go so shortly before the next parachute opens, or before the ground, nobody can tell.
LET_GO_SHOWS_S = 2.0


@dataclass(slots=True)
class Score:
    """`errors` by row name: signed errors; `flaws` in words; `verdicts` and `cases` (what really was) by role.

    `hidden`: rows whose moment lay in or next to a silence of the radio. `unseen`: (error, sigma) of what is told all
    the same where too little was heard around it to score it.
    """

    seed: int
    fault: str
    with_force: bool
    errors: dict[str, float] = field(default_factory=dict)
    sigmas: dict[str, tuple[float, float]] = field(default_factory=dict)
    hidden: set[str] = field(default_factory=set)
    unseen: dict[str, tuple[float, float]] = field(default_factory=dict)
    flaws: list[str] = field(default_factory=list)
    verdicts: dict[Role, Verdict] = field(default_factory=dict)
    cases: dict[Role, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Claims:
    """What is said of a flight, live or after landing: events, top speed (m/s), rates under each parachute (m/s)."""

    events: Mapping[EventName, Event]
    max_speed_mps: float | None
    rates_mps: Mapping[Role, float] = field(default_factory=dict)


def feed(flight: VirtualFlight, *, with_temperature: bool = True) -> Pipeline:
    """The flight's lines through a pipeline, as live."""
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c if with_temperature else None)
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    return pipeline


def score(flight: VirtualFlight, fault: str) -> Score:
    """What is said of the flight, live and after landing, against its truth; deterministic."""
    result = Score(flight.seed, fault, flight.setup.accelerometer is not None)
    pipeline = feed(flight)
    report = judge_pipeline(pipeline, file="virtual")
    _false_calls(result, flight, pipeline)
    if flight.truth.liftoff_t_s is not None:
        score_live(result, flight, _live_claims(pipeline))
        score_after(result, flight, _claims_after(report))
        _verdicts(result, flight, report)
    return result


def _false_calls(result: Score, flight: VirtualFlight, pipeline: Pipeline) -> None:
    truth = flight.truth
    events = {e.name: e for e in pipeline.snapshot(over=True).events}
    liftoff = events.get(EventName.LIFTOFF)
    if liftoff is not None:
        if truth.liftoff_t_s is None:
            result.flaws.append("liftoff called on the pad")
        elif liftoff.called_t_ms < truth.t_ms_of(truth.liftoff_t_s) - 300.0:
            result.flaws.append("liftoff called before liftoff")
    apogee = events.get(EventName.APOGEE)
    if apogee is not None and truth.apogee_t_s is not None:
        early_s = (truth.t_ms_of(truth.apogee_t_s) - apogee.called_t_ms) / 1000.0
        if early_s > 0.3:
            result.flaws.append(f"apogee called {early_s:.2f} s before it")
    for name, parachute in ((EventName.DROGUE, truth.drogue), (EventName.MAIN, truth.main)):
        event = events.get(name)
        if event is None or truth.apogee_t_s is None:
            continue
        if event.called_t_ms < truth.t_ms_of(truth.apogee_t_s) - 300.0:
            result.flaws.append(f"{name} called in the climb")
        del parachute


def _covered(flight: VirtualFlight, start_s: float, end_s: float) -> bool:
    """Enough samples were heard in the span, with no long hole."""
    period = flight.setup.altimeter.period_s
    times = _heard_s(flight, start_s, end_s)
    if len(times) < COVERED_SHARE * (end_s - start_s) / period:
        return False
    edges = [start_s, *times, end_s]
    return max(b - a for a, b in pairwise(edges)) < LONGEST_HOLE_S


def _heard_s(flight: VirtualFlight, start_s: float, end_s: float) -> list[float]:
    """When samples were heard between two times."""
    lines = flight.lines
    first = bisect_left(lines, start_s, key=lambda line: line.t_s)
    stop = bisect_right(lines, end_s, key=lambda line: line.t_s)
    return [line.t_s for line in lines[first:stop] if line.data[:5] == b"@SMP,"]


def _note_silence(result: Score, flight: VirtualFlight, row: str, t_s: float) -> None:
    """Note it if a silence of the radio hides the moment: nothing can date it better than that."""
    about_s = ABOUT_S + LONGEST_HOLE_S
    times = _heard_s(flight, t_s - about_s, t_s + about_s)
    if any(b - a > SILENCE_S and a < t_s + ABOUT_S and b > t_s - ABOUT_S for a, b in pairwise(times)):
        result.hidden.add(row)


def _live_claims(pipeline: Pipeline) -> Claims:
    events = pipeline.snapshot(over=True).events
    return Claims({e.name: e for e in events}, pipeline.tracker.fastest_mps)


def _claims_after(report: CheckReport) -> Claims:
    confirmed = (d for d in report.deployments if d.verdict is Verdict.CONFIRMED)
    rates = {d.role: d.rate_after_mps for d in confirmed if d.rate_after_mps is not None}
    return Claims({e.name: e for e in report.events}, report.summary.max_speed_mps, rates)


def score_live(result: Score, flight: VirtualFlight, claims: Claims) -> None:
    """When each event was called, against when it happened; what was known of speed and height at that time."""
    truth, tag = flight.truth, "force" if result.with_force else "baro"
    events = claims.events

    def called(name: EventName, t_s: float | None, row: str) -> None:
        event = events.get(name)
        if t_s is not None and _covered(flight, t_s - 0.5, t_s + 1.5):
            if event is None:
                result.flaws.append(f"{name} not called")
            else:
                result.errors[f"live {row}"] = (event.called_t_ms - truth.t_ms_of(t_s)) / 1000.0
                _note_silence(result, flight, f"live {row}", t_s)

    called(EventName.LIFTOFF, truth.liftoff_t_s, f"liftoff {tag}")
    if "live liftoff baro" in result.errors:
        result.errors[HEARD_HIGH], result.errors[HEARD_HIGH_TWICE] = _heard_high_s(flight)
    slow = (truth.max_mach or 0.0) < TRANSONIC_MACH
    if slow or result.with_force:
        called(EventName.BURNOUT, truth.burnout_t_s, f"burnout {tag}")
        fastest = claims.max_speed_mps
        at_s = truth.burnout_t_s or 0.0
        if fastest is not None and truth.max_velocity_mps and _covered(flight, at_s - 1.0, at_s + 1.5):
            result.errors[f"live speed {tag}"] = 100.0 * (fastest / truth.max_velocity_mps - 1.0)
            _note_silence(result, flight, f"live speed {tag}", at_s)
    called(EventName.APOGEE, truth.apogee_t_s, "apogee")
    apogee = events.get(EventName.APOGEE)
    if apogee is not None and truth.apogee_m and _covered(flight, truth.apogee_t_s - 1.0, truth.apogee_t_s + 1.0):
        result.errors["live apogee altitude"] = 100.0 * (apogee.altitude_m / truth.apogee_m - 1.0)
    called(EventName.TOUCHDOWN, truth.touchdown_t_s, "touchdown")
    for name, parachute in ((EventName.DROGUE, truth.drogue), (EventName.MAIN, truth.main)):
        role = Role.DROGUE if name is EventName.DROGUE else Role.MAIN
        if parachute.full_t_s is not None and as_planned(flight, role):
            called(name, parachute.full_t_s, _row_of(flight, name))


def _unseen_m(flight: VirtualFlight, apogee_m: float) -> float:
    """How far off a height of the flight's own pressures is, told without noise and with the day's temperature known.

    The sensor's offset is in every reading, and the mean wind over the ports lowers those on the pad: no record shows
    either.
    """
    day, barometer = flight.setup.day, flight.setup.barometer
    wind_mps2 = day.ground_wind_mps**2 + day.gust_mps**2
    sucked_pa = 0.5 * day.pad_density_kgm3 * wind_mps2 * barometer.port_wind_coefficient
    pad_pa = day.pad_pressure_pa + barometer.offset_pa - sucked_pa
    top_pa = float(day.pressure_pa(np.array([apogee_m]))[0]) + barometer.offset_pa
    height_m = (isa_altitude_m(top_pa) - isa_altitude_m(pad_pa)) * isa_to_true_ratio(pad_pa, day.pad_temperature_c)
    return height_m - apogee_m


def _heard_high_s(flight: VirtualFlight) -> tuple[float, float]:
    """How long after liftoff the first two samples were taken, of those heard, from over a person's reach."""
    truth = flight.truth
    assert truth.liftoff_t_s is not None
    reached_s = float(truth.t_s[int(np.argmax(truth.altitude_m >= REACH_M))])
    reached_ms = truth.t_ms_of(reached_s)
    framer = LineFramer()
    records = (decode_line(line) for sent in flight.lines if sent.t_s >= reached_s for line in framer.feed(sent.data))
    # T_MS wraps at 2^32.
    since_ms = (
        (record.t_ms - reached_ms + 2.0**31) % 2.0**32 - 2.0**31
        for record in records
        if isinstance(record, SampleRecord)
    )
    high_s = (since / 1000.0 + reached_s - truth.liftoff_t_s for since in since_ms if since >= 0.0)
    return next(high_s, np.inf), next(high_s, np.inf)


def score_after(result: Score, flight: VirtualFlight, claims: Claims) -> None:
    """Times, heights, speeds and rates of the whole record, against the truth."""
    truth, tag = flight.truth, "force" if result.with_force else "baro"
    events = claims.events

    def time_error(name: EventName, t_s: float | None, row: str) -> None:
        event = events.get(name)
        if event is None or t_s is None:
            return
        error = (event.t_ms - truth.t_ms_of(t_s)) / 1000.0
        if not _covered(flight, t_s - 1.0, t_s + 1.0):
            result.unseen[row] = (error, event.sigma_s)
            return
        result.errors[row] = error
        result.sigmas[row] = (error, event.sigma_s)
        _note_silence(result, flight, row, t_s)

    time_error(EventName.LIFTOFF, truth.liftoff_t_s, f"liftoff {tag}")
    slow = (truth.max_mach or 0.0) < TRANSONIC_MACH
    if slow or result.with_force:
        time_error(EventName.BURNOUT, truth.burnout_t_s, f"burnout {tag}")
        speed = claims.max_speed_mps
        at_s = truth.burnout_t_s or 0.0
        if speed and truth.max_velocity_mps and _covered(flight, at_s - 1.0, at_s + 1.5):
            result.errors[f"speed {tag}"] = 100.0 * (speed / truth.max_velocity_mps - 1.0)
            _note_silence(result, flight, f"speed {tag}", at_s)
    time_error(EventName.APOGEE, truth.apogee_t_s, "apogee")
    apogee = events.get(EventName.APOGEE)
    if apogee is not None and truth.apogee_m and _covered(flight, truth.apogee_t_s - 1.0, truth.apogee_t_s + 1.0):
        allowed = 0.001 * truth.apogee_m + 0.3
        unseen_m = _unseen_m(flight, truth.apogee_m)
        result.errors["apogee altitude"] = (apogee.altitude_m - truth.apogee_m) / allowed
        result.errors[UNSEEN] = unseen_m / allowed
        result.errors[NOT_UNSEEN] = (apogee.altitude_m - truth.apogee_m - unseen_m) / allowed
    if apogee is not None and truth.apogee_m and apogee.altitude_sigma_m is not None:
        result.unseen["apogee altitude"] = (apogee.altitude_m - truth.apogee_m, apogee.altitude_sigma_m)
    time_error(EventName.TOUCHDOWN, truth.touchdown_t_s, "touchdown")
    if as_planned(flight, Role.DROGUE):
        _hold(result, flight, events.get(EventName.DROGUE), truth.drogue, "drogue")
    if as_planned(flight, Role.MAIN):
        _hold(result, flight, events.get(EventName.MAIN), truth.main, _row_of(flight, EventName.MAIN))
    for role, parachute in ((Role.DROGUE, truth.drogue), (Role.MAIN, truth.main)):
        rate = claims.rates_mps.get(role)
        if rate is None or parachute.rate_mps is None or parachute.settled_t_s is None:
            continue
        if parachute.rate_from_m is not None and parachute.rate_to_m is not None:
            fall_s = (parachute.rate_from_m - parachute.rate_to_m) / parachute.rate_mps
            if fall_s > 2.0 and _covered(flight, parachute.settled_t_s, parachute.settled_t_s + fall_s):
                result.errors[f"rate {role}"] = 100.0 * (rate / parachute.rate_mps - 1.0)


def _row_of(flight: VirtualFlight, name: EventName) -> str:
    """A main that is the only parachute opens at apogee, and is as hard to date as a drogue."""
    apogee_s, main_s = flight.truth.apogee_t_s, flight.truth.main.full_t_s
    near = apogee_s is not None and main_s is not None and main_s < apogee_s + NEAR_APOGEE_S
    return "drogue" if name is EventName.DROGUE or near else "main"


def _hold(result: Score, flight: VirtualFlight, event: Event | None, truth: ParachuteTruth, row: str) -> None:
    if event is None or truth.full_t_s is None or not truth.opened:
        return
    error = (event.t_ms - flight.truth.t_ms_of(truth.full_t_s)) / 1000.0
    if not _covered(flight, truth.full_t_s - 1.0, truth.full_t_s + 2.0):
        result.unseen[row] = (error, event.sigma_s)
        return
    result.errors[row] = error
    result.sigmas[row] = (error, event.sigma_s)
    _note_silence(result, flight, row, truth.full_t_s)


def _verdicts(result: Score, flight: VirtualFlight, report: CheckReport) -> None:
    truth = flight.truth
    for deployment in report.deployments:
        parachute = truth.drogue if deployment.role is Role.DROGUE else truth.main
        verdict = deployment.verdict or Verdict.NOT_OBSERVED
        case = _case(flight, deployment.role, parachute)
        result.verdicts[deployment.role] = verdict
        result.cases[deployment.role] = case
        if verdict is Verdict.CONFIRMED and case in (STAYED_IN, TANGLED):
            result.flaws.append(f"{deployment.role} confirmed but it {case}")
        if verdict is not Verdict.CONFIRMED and case == OPENED_AND_SEEN:
            result.flaws.append(f"{deployment.role} opened but {verdict}: {' '.join(deployment.reasons)}")


def _case(flight: VirtualFlight, role: Role, parachute: ParachuteTruth) -> str:
    if not parachute.opened:
        return STAYED_IN
    outcome = flight.setup.faults.drogue if role is Role.DROGUE else flight.setup.faults.main
    if outcome is Outcome.TANGLED:
        return TANGLED
    if parachute.let_go_t_s is not None and _falls_s(flight.truth, role, parachute.let_go_t_s) > LET_GO_SHOWS_S:
        return LET_GO
    if parachute.took_hold_t_s is None or not as_planned(flight, role):
        return OPENED_ELSEWHERE
    start = parachute.took_hold_t_s - COVER_BEFORE_S
    seen = _covered(flight, start, parachute.took_hold_t_s + COVER_AFTER_S) and _climb_covered(flight)
    return OPENED_AND_SEEN if seen else OPENED_UNSEEN


def _falls_s(truth: Truth, role: Role, let_go_t_s: float) -> float:
    """How long it falls without the parachute that let go; a drogue is not missed once the main holds."""
    assert truth.touchdown_t_s is not None
    if role is Role.DROGUE and truth.main.took_hold_t_s is not None:
        return truth.main.took_hold_t_s - let_go_t_s
    return truth.touchdown_t_s - let_go_t_s


def _climb_covered(flight: VirtualFlight) -> bool:
    truth = flight.truth
    return (
        truth.liftoff_t_s is not None
        and truth.apogee_t_s is not None
        and _covered(flight, truth.liftoff_t_s - 3.0, truth.liftoff_t_s + 1.5)
        and _covered(flight, truth.apogee_t_s - 2.0, truth.apogee_t_s + 2.0)
    )


def as_planned(flight: VirtualFlight, role: Role) -> bool:
    """The parachute came out at its place and filled, so that `confirmed` is what should be said."""
    faults = flight.setup.faults
    truth = flight.truth
    if role is Role.DROGUE and (faults.both_at_once or faults.main.value == "with drogue"):
        return False  # the main hides it
    if role is Role.DROGUE:
        parachute, outcome = truth.drogue, faults.drogue
    else:
        parachute, outcome = truth.main, faults.main
    if outcome.value != "works" or (faults.both_at_once and role is Role.MAIN):
        return False
    if faults.drogue_shift_s < 0.0 and role is Role.DROGUE:
        return False
    fired, apogee = parachute.fired_t_s, truth.apogee_t_s
    if fired is not None and apogee is not None and fired < apogee - 0.5:
        return False
    rate = parachute.rate_mps
    return rate is not None and rate * pad_density_ratio(parachute.rate_to_m or 0.0) ** 0.5 < (
        31.0 if role is Role.DROGUE else 9.5
    )
