"""The flight over time: what it was doing, where nothing was heard, height and speed at any moment. Pure."""

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from station.flight_state import EventName, Phase, Verdict
from station.records import Role
from station.renditions.words import PHASES, RECORD_ENDS, UNDER
from station.whole_flight import WholeFlight

AFTER_LANDING_S = 5.0
LEAST_GAP_S = 1.0
GAP_PERIODS = 5.0
_PHASE_FROM = {
    EventName.LIFTOFF: Phase.THRUST,
    EventName.BURNOUT: Phase.COAST,
    EventName.APOGEE: Phase.DESCENT,
    EventName.TOUCHDOWN: Phase.DOWN,
}
_ROLES = {EventName.DROGUE: Role.DROGUE, EventName.MAIN: Role.MAIN}


@dataclass(frozen=True, slots=True)
class Span:
    """What the rocket does from a moment (s from liftoff) on: in a word for programs, and in words."""

    from_s: float
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Point:
    """Height (m above the pad) and vertical speed (m/s, + up) at a moment."""

    altitude_m: float
    velocity_mps: float


def spans(flight: WholeFlight) -> list[Span]:
    """What it did, span after span; under a parachute only from when a confirmed one took hold."""
    confirmed = {d.role for d in flight.report.deployments if d.verdict is Verdict.CONFIRMED}
    found = [Span(-np.inf, Phase.WAITING.value, PHASES[Phase.WAITING])]
    down = False
    for event in flight.report.events:
        at_s = flight.seconds(event)
        if event.name in _PHASE_FROM:
            phase = _PHASE_FROM[event.name]
            found.append(Span(at_s, phase.value, PHASES[phase]))
            down = event.name is EventName.TOUCHDOWN
        elif _ROLES[event.name] in confirmed:
            role = _ROLES[event.name]
            found.append(Span(at_s, role.value, UNDER[role]))
    if not down:
        found.append(Span(flight.end_s, "end", RECORD_ENDS))
    return sorted(found, key=lambda span: span.from_s)


def shown_until_s(flight: WholeFlight) -> float:
    """How far the flight is told (s from liftoff): a few seconds past touchdown, else to the record's end."""
    touchdown = next((event for event in flight.report.events if event.name is EventName.TOUCHDOWN), None)
    if touchdown is None:
        return flight.end_s
    return min(flight.end_s, flight.seconds(touchdown) + AFTER_LANDING_S)


def words_at(course: list[Span], t_s: float) -> str:
    """What the rocket does at a moment."""
    return course[max(0, bisect_right(course, t_s, key=lambda span: span.from_s) - 1)].words


def gaps(flight: WholeFlight) -> list[tuple[float, float]]:
    """From when to when (s from liftoff) nothing was heard for so long that no curve is drawn there."""
    t = flight.curve.t_s
    if len(t) < 2:
        return []
    steps = np.diff(t)
    limit = max(LEAST_GAP_S, GAP_PERIODS * float(np.median(steps)))
    return [(float(t[k]), float(t[k + 1])) for k in np.flatnonzero(steps > limit)]


def point_at(flight: WholeFlight, holes: list[tuple[float, float]], t_s: float) -> Point | None:
    """Height and speed at a moment, between samples along the line; None where nothing was heard."""
    curve = flight.curve
    if not curve.t_s[0] <= t_s <= curve.t_s[-1] or any(start < t_s < end for start, end in holes):
        return None
    return Point(
        float(np.interp(t_s, curve.t_s, curve.altitude_m)), float(np.interp(t_s, curve.t_s, curve.velocity_mps))
    )
