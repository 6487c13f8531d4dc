"""The check's answer in words for people, and in the JSON contract `station-check/1` for programs. Pure."""

from station.advice import Topic
from station.after_landing import SCHEMA, CheckReport
from station.flight_state import Deployment, Event, EventName, FlightVerdict, Verdict
from station.next_time_text import advice_json, next_time_lines, prediction_json
from station.place_json import whereabouts_json
from station.place_words import whereabouts_text
from station.plan import FlightPlan
from station.plan_gaps import not_judged, not_judged_sentence
from station.records import Role
from station.sentences_in_feet import with_feet

_HEADLINE = {
    FlightVerdict.BOTH_CONFIRMED: "Every parachute held the fall: the descent shows it.",
    FlightVerdict.ATTENTION: "LOOK HERE: a parachute did not do what it should.",
    FlightVerdict.NOT_OBSERVED: "CANNOT SAY: too little was observed to judge every parachute.",
}
_HEADLINE_WITH_A_PLAN = {
    FlightVerdict.BOTH_CONFIRMED: "Every planned parachute held the fall: the descent shows it.",
    FlightVerdict.ATTENTION: "LOOK HERE: a parachute did not do what was planned.",
}
LATE = "late and fast"
LATE_OPENING = "late_opening"
"""The alert that says so."""
_RATE_TOPICS = {Role.DROGUE: Topic.DROGUE_RATE, Role.MAIN: Topic.MAIN_RATE}
VERDICT_WORDS = {
    Verdict.CONFIRMED: "held the fall, confirmed by the descent",
    Verdict.TOO_FAST: "did not hold the fall enough: the rocket came down too fast",
    Verdict.NO_EFFECT: "did not hold the fall: no effect seen in the descent",
    Verdict.EARLY: "out early",
    Verdict.NOT_FIRED: "did not fire",
    Verdict.NOT_OBSERVED: "not observed",
}
_CHARGES_REPORTED_FIRED = "Both charges were reported fired: no other charge is known to be aboard. "
_CHARGE_REPORTED_FIRED = "Its charge was reported fired: no other charge is known to be aboard. "
_NO_CHANNELS = "This altimeter reports no charges of its own. "
CAUTION = (
    "Before you walk up: treat every charge not reported fired as live. The range safety officer, your "
    "organisation's safety code, the makers' instructions and local law decide."
)


def report_json(report: CheckReport) -> dict[str, object]:
    """The contract's document; times in seconds from liftoff, null for what could not be had."""
    start = report.liftoff_ms
    link = report.snapshot.link
    summary = report.summary
    return {
        "schema": SCHEMA,
        "source": {
            "file": report.file,
            "unit": report.snapshot.unit.name if report.snapshot.unit else None,
            "lines": link.lines,
            "rejected": link.rejected,
            "lost": link.lost,
            "loss_fraction": round(link.loss_fraction, 6),
            "restarts": link.restarts,
            **({} if report.unheard is None else {"unheard": report.unheard}),
        },
        "liftoff_ms": _rounded(start, 1),
        "events": [_event_json(event, start) for event in report.events] if start is not None else [],
        "summary": {name: _rounded(getattr(summary, name)) for name in summary.__dataclass_fields__},
        "deployments": [_deployment_json(deployment, start) for deployment in report.deployments],
        "alerts": [{"code": alert.code, "text": alert.text} for alert in report.alerts],
        "verdict": report.verdict.value,
        **whereabouts_json(report.snapshot.whereabouts, start),
        "plan": None if report.plan is None else _plan_json(report.plan),
        "not_judged": list(not_judged(report.plan)),
        "next_time": [advice_json(piece) for piece in report.next_time.advice],
        "prediction": prediction_json(report.next_time.differences, report.next_time.prediction),
    }


def report_text(report: CheckReport) -> str:
    """A short verdict for people: the answer first, then why, then the flight in figures."""
    lines = [f"{report.file}", headline(report), ""]
    for deployment in report.deployments:
        lines += _deployment_lines(report, deployment)
    lines += [f"  ! {with_feet(alert.text)}" for alert in report.alerts]
    lines += ["", *_figures(report)]
    lines += [f"  {line}" for line in whereabouts_text(report.snapshot)]
    lacking = not_judged_sentence(report.plan)
    if lacking is not None:
        lines.append(f"  {lacking}")
    advice = next_time_lines(report.next_time.advice)
    lines += ["", *advice] if advice else []
    lines += ["", approach(report)]
    return "\n".join(lines)


def headline(report: CheckReport) -> str:
    """The whole flight in a sentence."""
    alone = len(report.deployments) == 1
    if any(opened_late(report, deployment) for deployment in report.deployments):
        who = "The parachute opened, but" if alone else "Every parachute opened, but the drogue"
        return f"LOOK HERE: {who[0].lower()}{who[1:]} {LATE}."
    if report.verdict is FlightVerdict.BOTH_CONFIRMED and alone:
        return "The parachute held the fall: the descent shows it."
    if report.plan is not None and report.verdict in _HEADLINE_WITH_A_PLAN:
        return _HEADLINE_WITH_A_PLAN[report.verdict]
    return _HEADLINE[report.verdict]


def opened_late(report: CheckReport, deployment: Deployment) -> bool:
    """It held the fall, but late and fast: good as evidence, and still something to look at."""
    for_the_top = deployment.role is Role.DROGUE or len(report.deployments) == 1
    told = report.verdict is FlightVerdict.BOTH_CONFIRMED and any(each.code == LATE_OPENING for each in report.alerts)
    return told and for_the_top


def verdict_words(report: CheckReport, deployment: Deployment) -> str:
    """What the evidence says of one parachute."""
    words = VERDICT_WORDS[deployment.verdict or Verdict.NOT_OBSERVED]
    return f"{words}, but {LATE}" if opened_late(report, deployment) else words


def reckoned(report: CheckReport) -> str:
    """What to add to the height of the highest point where a silence hid it; else nothing."""
    for event in report.events:
        if event.name is EventName.APOGEE and event.altitude_sigma_m is not None:
            return f"; not observed: reckoned from the climb before it, within {2.0 * event.altitude_sigma_m:.0f} m"
    return ""


def rate_under(report: CheckReport, role: Role) -> float | None:
    """How fast it came down under this parachute, m/s: at the pad's air density where a steady hold was seen.

    That is the figure of the reasons and of the advice; else the mean that the verdict goes by.
    """
    held = next((piece.value for piece in report.next_time.advice if piece.topic is _RATE_TOPICS[role]), None)
    if held is not None:
        return held
    return report.summary.drogue_rate_mps if role is Role.DROGUE else report.summary.main_rate_mps


def approach(report: CheckReport) -> str:
    """What to mind before walking up, by what is known of the charges."""
    if all(deployment.channel is None for deployment in report.deployments):
        known = _NO_CHANNELS if report.snapshot.unit is not None else ""
    elif all(deployment.fired_t_ms is not None for deployment in report.deployments):
        known = _CHARGE_REPORTED_FIRED if len(report.deployments) == 1 else _CHARGES_REPORTED_FIRED
    else:
        known = ""
    return known + CAUTION


def _plan_json(plan: FlightPlan) -> dict[str, object]:
    """The plan's values in SI, null where it does not say."""
    values = {name: getattr(plan, name) for name in plan.__dataclass_fields__}
    return {name: _rounded(value, 6) if isinstance(value, float) else value for name, value in values.items()}


def _event_json(event: Event, start_ms: float) -> dict[str, object]:
    return {
        "name": event.name.value,
        "t_s": _rounded((event.t_ms - start_ms) / 1000.0),
        "altitude_m": _rounded(event.altitude_m),
        "sigma_s": _rounded(event.sigma_s),
        "basis": event.basis.value,
    }


def _deployment_json(deployment: Deployment, start_ms: float | None) -> dict[str, object]:
    opened_m = deployment.opened_altitude_m
    speed = deployment.rate_before_mps
    if deployment.opened_velocity_mps is not None:
        speed = abs(deployment.opened_velocity_mps)
    if deployment.fired_velocity_mps is not None:
        speed = abs(deployment.fired_velocity_mps)
    return {
        "role": deployment.role.value,
        "channel": deployment.channel,
        "verdict": (deployment.verdict or Verdict.NOT_OBSERVED).value,
        "fired_t_s": _since(deployment.fired_t_ms, start_ms),
        "opened_t_s": _since(deployment.opened_t_ms, start_ms),
        "altitude_m": _rounded(opened_m if opened_m is not None else deployment.fired_altitude_m),
        "speed_mps": _rounded(speed),
        "rate_before_mps": _rounded(deployment.rate_before_mps),
        "rate_after_mps": _rounded(deployment.rate_after_mps),
        "reasons": list(deployment.reasons),
    }


def _deployment_lines(report: CheckReport, deployment: Deployment) -> list[str]:
    place = f", channel {deployment.channel}" if deployment.channel is not None else ""
    lines = [f"  {deployment.role.value.capitalize()}{place}: {verdict_words(report, deployment)}."]
    lines += [f"      {with_feet(reason)}" for reason in deployment.reasons]
    return lines


def _figures(report: CheckReport) -> list[str]:
    s = report.summary
    link = report.snapshot.link
    temperature = report.snapshot.air_temperature_c
    rows = []
    if s.apogee_m is not None and s.apogee_isa_m is not None:
        source = "given" if report.snapshot.temperature_is_given else "by the altimeter's own sensor"
        at = "" if temperature is None else f" at {temperature:.0f} degC, {source}"
        rows.append(
            f"  Highest: {_height(s.apogee_m)} above the pad, corrected for the air{at} "
            f"(standard atmosphere, what altimeters report: {_height(s.apogee_isa_m)}){reckoned(report)}"
        )
    if s.max_speed_mps is not None:
        rows.append(f"  Fastest: {s.max_speed_mps:.0f} m/s ({s.max_speed_mps / 0.44704:.0f} mph) upwards")
    if s.burn_time_s is not None and s.coast_time_s is not None:
        rows.append(f"  Burn {s.burn_time_s:.2f} s, coast to apogee {s.coast_time_s:.2f} s")
    for deployment in report.deployments:
        under = rate_under(report, deployment.role)
        if under is not None:
            rows.append(f"  Under the {deployment.role.value}: {_rate(under)}")
    if s.flight_time_s is not None:
        rows.append(f"  In the air: {s.flight_time_s:.1f} s")
    restarts = f", altimeter restarts {link.restarts}" if link.restarts else ""
    if report.unheard is None:
        rows.append(
            f"  Heard: {link.good} lines; lost: {link.lost}, of them spoilt on the way: {link.rejected} "
            f"({100.0 * link.loss_fraction:.1f} %){restarts}"
        )
    else:
        share = 100.0 * report.unheard / link.good if link.good else 0.0
        rows.append(
            f"  With what was read out of the altimeter: {link.good} lines, of which the radio had missed "
            f"{report.unheard} ({share:.1f} %); missing from both: {link.lost}{restarts}"
        )
    if report.torn:
        rows.append("  The file ends in the middle of a line, as after a power cut; that line was left out.")
    return rows


def _height(metres: float) -> str:
    return f"{metres:.1f} m ({metres / 0.3048:.0f} ft)"


def _rate(mps: float) -> str:
    return f"{mps:.1f} m/s ({mps / 0.3048:.0f} ft/s)"


def _since(t_ms: float | None, start_ms: float | None) -> float | None:
    return None if t_ms is None or start_ms is None else _rounded((t_ms - start_ms) / 1000.0)


def _rounded(value: float | None, digits: int = 3) -> float | None:
    return None if value is None else round(value, digits)
