"""What is said of a flight after it, in the words of the live page (`dashboard/assets/words.js`). Pure.

Nothing here is ever said on a command alone: an opening comes from the descent. `kind` tells how a fact is to be
marked: good, bad, unknown, done or waiting.
"""

from dataclasses import dataclass

from station.after_landing import CheckReport
from station.check_report import LATE, opened_late, rate_under, reckoned
from station.flight_state import Deployment, Event, EventName, FlightVerdict, Phase, Verdict
from station.records import ChannelState, Role
from station.renditions.units import FEET, METRES, Units
from station.whole_flight import WholeFlight

PHASES = {
    Phase.WAITING: "On the rail",
    Phase.THRUST: "Motor burning",
    Phase.COAST: "Coasting up",
    Phase.DESCENT: "Coming down",
    Phase.DOWN: "On the ground",
}
UNDER = {Role.DROGUE: "Under the drogue", Role.MAIN: "Under the main"}
RECORD_ENDS = "The record ends here"
NOT_HEARD = "nothing heard"

ANSWERS = {
    FlightVerdict.BOTH_CONFIRMED: ("good", "Both parachutes held the fall"),
    FlightVerdict.ATTENTION: ("bad", "A parachute did not do what it should"),
    FlightVerdict.NOT_OBSERVED: ("unknown", "Can’t say: too little was observed"),
}
ONE_HELD = "The parachute held the fall"

VERDICTS = {
    Verdict.CONFIRMED: ("good", "Held the fall"),
    Verdict.TOO_FAST: ("bad", "Too fast"),
    Verdict.NO_EFFECT: ("bad", "No effect seen"),
    Verdict.EARLY: ("bad", "Out too early"),
    Verdict.NOT_FIRED: ("bad", "Not fired"),
    Verdict.NOT_OBSERVED: ("unknown", "Not observed"),
}
NO_HOLD = {Verdict.TOO_FAST: "not enough", Verdict.NO_EFFECT: "no", Verdict.NOT_FIRED: "no"}
"""Of a parachute whose hold has no moment: whether it held the fall."""
CHARGES = {
    ChannelState.READY: ("good", "ready, igniter connected"),
    ChannelState.OPEN: ("bad", "not ready, igniter not connected"),
    ChannelState.FIRED: ("done", "reported fired"),
    ChannelState.OFF: ("unknown", "channel not used"),
}
# A sign for each kind, so that colour is never the only one.
SIGNS = {"good": "✓", "bad": "!", "unknown": "?", "waiting": "", "done": "●"}
_NAMES = {Role.DROGUE: "Drogue", Role.MAIN: "Main"}


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of what is known: how to mark it, what it is of, what it says."""

    kind: str
    what: str
    text: str


def answer(report: CheckReport) -> tuple[str, str]:
    """The whole flight in a sentence, with its kind."""
    if report.verdict is FlightVerdict.BOTH_CONFIRMED and len(report.deployments) == 1:
        good, text = "good", ONE_HELD
    else:
        good, text = ANSWERS[report.verdict]
    late = [d for d in report.deployments if opened_late(report, d)]
    if late:
        return "bad", f"{text}, but {'' if len(report.deployments) == 1 else 'the drogue '}{LATE}"
    return good, text


def verdict(deployment: Deployment) -> tuple[str, str]:
    """One parachute's verdict in two or three words, with its kind."""
    return VERDICTS[deployment.verdict or Verdict.NOT_OBSERVED]


def role_name(role: Role) -> str:
    """The parachute's name at the start of a line."""
    return _NAMES.get(role, role.value.capitalize())


def event_name(event: Event) -> str:
    """The event's name as a label."""
    return event.name.value.capitalize()


def clock(t_s: float) -> str:
    """Flight time: "T+00:12.5"."""
    tenths = int(abs(t_s) * 10.0 + 1e-6)
    minutes, rest = divmod(tenths, 600)
    return f"T{'−' if t_s < 0 and tenths else '+'}{minutes:02d}:{rest // 10:02d}.{rest % 10}"


def event_sentence(event: Event, units: Units) -> str:
    """One event as a sentence; its time stands before it."""
    up = units.height(event.altitude_m)
    match event.name:
        case EventName.LIFTOFF:
            return "Liftoff."
        case EventName.BURNOUT:
            return f"The motor burned out {up} up, rising at {units.speed(event.velocity_mps)}."
        case EventName.APOGEE if event.altitude_sigma_m is not None:
            return f"Apogee: about {up}, not observed: reckoned from the climb before it."
        case EventName.APOGEE:
            return f"Apogee: {up}, the highest point."
        case EventName.DROGUE:
            return f"The drogue held the fall from {up} up."
        case EventName.MAIN:
            return f"The main held the fall from {up} up."
        case EventName.TOUCHDOWN:
            return "Touchdown."


def event_short(event: Event, units: Units) -> str:
    """One event in a few words, for a caption."""
    match event.name:
        case EventName.APOGEE:
            about = "" if event.altitude_sigma_m is None else "about "
            return f"Apogee: {about}{units.height(event.altitude_m)}"
        case EventName.BURNOUT:
            return f"Burnout: {units.speed(event.velocity_mps)}"
        case EventName.DROGUE:
            return "The drogue holds the fall"
        case EventName.MAIN:
            return "The main holds the fall"
        case _:
            return event_name(event)


def story(flight: WholeFlight, units: Units) -> list[tuple[float, str]]:
    """The flight in sentences in the order in which things happened, each with its time (s from liftoff)."""
    events = flight.report.events
    sentences = [(flight.seconds(event), event_sentence(event, units)) for event in events]
    if not any(event.name is EventName.TOUCHDOWN for event in events):
        height = units.height(max(0.0, float(flight.curve.altitude_m[-1])))
        sentences.append((flight.end_s, f"The record ends {height} up: the landing was not observed."))
    return sentences


def figures(report: CheckReport, units: Units) -> list[tuple[str, str]]:
    """The flight in figures: what, and how much."""
    s = report.summary
    rows: list[tuple[str, str]] = []
    if s.apogee_m is not None:
        what = "Highest, reckoned, not observed" if reckoned(report) else "Highest, above the pad"
        rows.append((what, units.height(s.apogee_m)))
    if s.max_speed_mps is not None:
        rows.append(("Fastest on the way up", units.speed(s.max_speed_mps)))
    if s.max_acceleration_mps2 is not None:
        rows.append(("Greatest acceleration", units.acceleration(s.max_acceleration_mps2)))
    if s.burn_time_s is not None:
        rows.append(("Motor burned", f"{s.burn_time_s:.1f} s"))
    if s.coast_time_s is not None:
        rows.append(("Then coasted up", f"{s.coast_time_s:.1f} s"))
    for deployment in report.deployments:
        under = rate_under(report, deployment.role)
        if under is not None:
            rows.append((f"Down under the {deployment.role.value}", units.speed(under)))
    if s.flight_time_s is not None:
        rows.append(("In the air", f"{s.flight_time_s:.1f} s"))
    link = report.snapshot.link
    rows.append(("Lines lost on the radio", f"{100.0 * link.loss_fraction:.1f} %"))
    return rows


def steps(flight: WholeFlight, deployment: Deployment, units: Units) -> list[Fact]:
    """The three steps of one deployment after landing: its charge, its firing, its hold."""
    return [_charge(deployment), _fired(flight, deployment, units), _held(flight, deployment, units)]


def _charge(d: Deployment) -> Fact:
    if d.fired_t_ms is None and d.charge in (ChannelState.READY, ChannelState.OPEN):
        return Fact("bad", "Charge", "not reported fired, may still be live")
    if d.channel is None:
        return Fact("unknown", "Charge", "no channel: not reported")
    return Fact(*_of(d.charge, "Charge"))


def _of(charge: ChannelState | None, what: str) -> tuple[str, str, str]:
    kind, text = ("unknown", "not heard") if charge is None else CHARGES[charge]
    return kind, what, text


def _fired(flight: WholeFlight, d: Deployment, units: Units) -> Fact:
    if d.fired_t_ms is not None:
        height = "height not observed" if d.fired_altitude_m is None else f"{units.height(d.fired_altitude_m)} up"
        v = d.fired_velocity_mps
        speed = "" if v is None else f", {units.speed(abs(v))} {'up' if v >= 0 else 'down'}"
        return Fact("done", "Fired", f"{(d.fired_t_ms - flight.liftoff_ms) / 1000.0:.1f} s, {height}{speed}")
    if d.charge is ChannelState.FIRED:
        return Fact("done", "Fired", "reported, time not observed")
    if d.channel is None or d.charge is None:
        return Fact("unknown", "Fired", "not observed")
    return Fact("waiting", "Fired", "no report of it")


def _held(flight: WholeFlight, d: Deployment, units: Units) -> Fact:
    before, after = d.rate_before_mps, d.rate_after_mps
    rates = ""
    if after is not None:
        rates = f"down at {units.speed(after)}" if before is None else f"{units.speed(before)} → {units.speed(after)}"
    if d.opened_t_ms is not None:
        text = f"from {(d.opened_t_ms - flight.liftoff_ms) / 1000.0:.1f} s{', ' if rates else ''}{rates}"
        return Fact("good" if d.verdict is Verdict.CONFIRMED else "bad", "Held the fall", text)
    kind = "unknown" if d.verdict in (None, Verdict.NOT_OBSERVED) else "bad"
    said = NO_HOLD.get(d.verdict or Verdict.NOT_OBSERVED, "not seen")
    return Fact(kind, "Held the fall", f"{said}, {rates}" if rates else said)


def height_in_both(metres: float) -> str:
    """A height where the reader cannot choose the units: "426 m (1,398 ft)"."""
    return f"{METRES.height(metres)} ({FEET.height(metres)})"


def speed_in_both(mps: float) -> str:
    """A speed where the reader cannot choose the units."""
    return f"{METRES.speed(mps)} ({FEET.speed(mps)})"


def summary_sentence(flight: WholeFlight) -> str:
    """The flight in one or two sentences for an inbox preview."""
    s = flight.report.summary
    did = []
    if s.apogee_m is not None:
        about = "about " if reckoned(flight.report) else ""
        did.append(f"flew up to {about}{height_in_both(s.apogee_m)}")
    if s.max_speed_mps is not None:
        did.append(f"reached {speed_in_both(s.max_speed_mps)} on the way up")
    if s.flight_time_s is not None:
        did.append(f"was {s.flight_time_s:.0f} s in the air")
    told = ", ".join(did[:-1]) + (" and " if len(did) > 1 else "") + (did[-1] if did else "lifted off")
    chutes = [f"{role_name(d.role)}: {verdict(d)[1].lower()}." for d in flight.report.deployments]
    return " ".join([f"{flight.name} {told}.", *chutes])
