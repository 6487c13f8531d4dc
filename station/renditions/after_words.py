"""What the page after landing says: titles, facts of each parachute, and whether a charge may still be live. Pure."""

from math import hypot

from station.advice.wording import with_bar
from station.after_landing import CheckReport
from station.both_units import rate
from station.check_report import approach, opened_late
from station.flight_state import Deployment, EventName, Verdict
from station.late_opening import UNSEEN_S
from station.plan import Recovery
from station.records import ChannelState, Role
from station.renditions.after_rates import Rate, is_hardly_known, most_mps, rates_of
from station.renditions.units import METRES
from station.renditions.words import NO_HOLD, height_in_both, role_name, steps, verdict
from station.sentences_in_feet import with_feet
from station.whole_flight import WholeFlight

LIVE_CHARGE_ALERTS = frozenset({"charge_not_fired", "charge_unknown"})
WHAT_IT_IS = {
    Role.DROGUE: "The small parachute that opens at the top of the flight.",
    Role.MAIN: "The large parachute that opens low down, for the landing.",
}
BY_MOTOR = "The one parachute of this rocket, pushed out by the motor’s ejection charge once its delay has burnt."
MOTOR_CHARGE = (
    "The motor’s ejection charge is not known to have fired, and may still go off. Keep clear; the range safety "
    "officer and the motor maker’s instructions decide how long to wait and how to approach."
)
MOTOR_CHARGE_WENT = (
    "Nothing reports whether the motor’s ejection charge fired; that the parachute came out speaks for it. "
)
WHAT_A_CHARGE_IS = (
    "A charge is a little powder that pushes a parachute out. One that has not fired can still go off, when the rocket "
    "is moved or while the altimeter is on, and throw parts with force."
)
SLOW_MPS = 5.0
WHO_DECIDES = "That is for the range safety officer to say."


def is_by_motor(report: CheckReport) -> bool:
    """The motor throws the only parachute out: the plan says so, or an altimeter without channels that was heard."""
    if report.plan is not None and report.plan.recovery is not None:
        return report.plan.recovery is Recovery.MOTOR
    alone = len(report.deployments) == 1 and report.deployments[0].channel is None
    return alone and report.snapshot.unit is not None


def parachute_title(report: CheckReport, d: Deployment) -> str:
    """The parachute's name as a heading."""
    return "The parachute" if is_by_motor(report) else f"{role_name(d.role)} parachute"


def kind_of(report: CheckReport, d: Deployment) -> str:
    """How to mark it: good, bad, unknown; one that held late and fast wants a look, as a bad one does."""
    return "bad" if opened_late(report, d) else verdict(d)[0]


def what_it_is(report: CheckReport, d: Deployment) -> str:
    """A sentence or two for who meets the word for the first time."""
    if is_by_motor(report):
        return BY_MOTOR
    channel = "" if d.channel is None else f" Channel {d.channel} of the altimeter fires the charge that pushes it out."
    return WHAT_IT_IS.get(d.role, "") + channel


def keep_clear(report: CheckReport) -> list[str]:
    """Why to keep clear: each charge that was not reported fired. Empty if there is no such."""
    said = [alert.text for alert in report.alerts if alert.code in LIVE_CHARGE_ALERTS]
    if is_by_motor(report) and all(d.opened_t_ms is None for d in report.deployments):
        said.append(MOTOR_CHARGE)
    return said


def before_walking_up(report: CheckReport) -> str:
    """The check's own caution, with what is known of a motor's charge."""
    return (MOTOR_CHARGE_WENT if is_by_motor(report) and not keep_clear(report) else "") + approach(report)


def other_alerts(report: CheckReport) -> list[str]:
    """What else to act on."""
    texts = [with_feet(alert.text) for alert in report.alerts if alert.code not in LIVE_CHARGE_ALERTS]
    if is_by_motor(report):
        return [text.replace("The main parachute", "The parachute") for text in texts]
    return texts


def facts(flight: WholeFlight, d: Deployment) -> list[tuple[str, str, str]]:
    """What is known of one parachute: (kind, what, how much), in both systems of units."""
    report = flight.report
    charge, fired, _ = steps(flight, d, METRES)
    rows = []
    if not is_by_motor(report):
        said = fired.text if d.fired_t_ms is None else _fired(flight, d, d.fired_t_ms)
        rows += [(charge.kind, "Charge", charge.text), (fired.kind, "Fired", said)]
    rows.append(("", "Held the fall", _opened(flight, d)))
    before, after = rates_of(flight, d)
    if before is not None:
        rows.append(("", "Before", _fall(before)))
    if after is not None:
        rows.append(
            ("", "After", _fall(after)) if d.opened_t_ms is not None else ("", "Came down at", with_error(after))
        )
    return rows


def charge_in_short(d: Deployment) -> str:
    """Its charge in a few words, for a table."""
    if d.fired_t_ms is not None or d.charge is ChannelState.FIRED:
        return "reported fired"
    if d.channel is None:
        return "no channel"
    return "NOT REPORTED FIRED"


def with_error(found: Rate) -> str:
    """A rate with twice its deviation, in both systems."""
    return with_feet(with_bar(found.mps, found.sigma_mps, "m/s"))


def _fired(flight: WholeFlight, d: Deployment, fired_ms: float) -> str:
    """When and how high; how fast it was then is told by the row of before."""
    up = "height not observed" if d.fired_altitude_m is None else f"{height_in_both(d.fired_altitude_m)} up"
    return f"{(fired_ms - flight.liftoff_ms) / 1000.0:.1f} s after liftoff, {up}"


def _opened(flight: WholeFlight, d: Deployment) -> str:
    if d.opened_t_ms is None:
        return NO_HOLD.get(d.verdict or Verdict.NOT_OBSERVED, "not seen")
    opened_s = (d.opened_t_ms - flight.liftoff_ms) / 1000.0
    parts = [f"from {opened_s:.1f} s after liftoff"]
    if (d.opened_sigma_s or 0.0) > UNSEEN_S:
        parts = [f"in a silence of the link, about {opened_s:.0f} s after liftoff"]
    apogee = next((event for event in flight.report.events if event.name is EventName.APOGEE), None)
    for_the_top = d.role is Role.DROGUE or is_by_motor(flight.report)
    if apogee is not None and for_the_top and hypot(d.opened_sigma_s or 0.0, apogee.sigma_s) <= UNSEEN_S:
        late_s = opened_s - flight.seconds(apogee)
        way = "after" if late_s >= 0.0 else "before"
        parts.append("at the highest point" if abs(late_s) < 0.05 else f"{abs(late_s):.1f} s {way} the highest point")
    if d.opened_altitude_m is not None:
        parts.append(f"{height_in_both(d.opened_altitude_m)} up")
    return ", ".join(parts)


def _fall(found: Rate) -> str:
    if is_hardly_known(found):
        most = most_mps(found)
        return f"{'hardly moving yet' if most <= SLOW_MPS else 'coming down'}, at less than {rate(most)}"
    if found.mps < 0.0:
        return f"still going up, at {rate(-found.mps)}"
    return f"coming down at {with_error(found)}"
