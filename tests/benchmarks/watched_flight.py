"""Fly one virtual flight and look at it again and again, as the page does: is anything called that did not happen?

Looked at are the tracker's events after every line, and a whole snapshot `LOOKS_PER_S` times a second from liftoff on
(before it nothing but the liftoff can be called) and once more at the end.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from scored_flight import as_planned

from station.flight_state import Deployment, Event, EventName, Snapshot, Verdict
from station.pipeline import Pipeline
from station.records import Role
from station.virtual.flight_setup import Faults
from station.virtual.random_flights import random_flight
from station.virtual.truth import ParachuteTruth
from station.virtual.virtual_flight import VirtualFlight
from station.wire import LineFramer

LOOKS_PER_S = 5
EARLY_S = 0.3
# A parachute's moment may be worked out better as more is heard; one that moves farther is another moment.
MOVES_S = 1.0
TRANSONIC = "transonic"
TRANSONIC_APOGEE_M = (1500.0, 6500.0)
SHOCK_FROM_MACH = 0.8
SHOCK_TO_MACH = 1.25
OTHER_SEEDS = 1_000_000
_OPENINGS = (EventName.DROGUE, EventName.MAIN)


@dataclass(slots=True)
class Watched:
    """What was called wrongly, each flaw in words once; `looks` is how many snapshots were taken."""

    seed: int
    kind: str
    flaws: list[str] = field(default_factory=list)
    looks: int = 0

    def note(self, flaw: str) -> None:
        """Keep a flaw, once."""
        if flaw not in self.flaws:
            self.flaws.append(flaw)


def watch(job: tuple[int, str]) -> Watched:
    """Fly (seed, kind) and look; a kind is a class of fault, or `TRANSONIC`. Deterministic."""
    seed, kind = job
    flight = transonic_flight(seed) if kind == TRANSONIC else random_flight(seed, kind)
    result = Watched(seed, kind)
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    framer = LineFramer()
    known: list[Event] = []
    openings, verdicts = Openings(), Verdicts()
    next_look_s = 0.0
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
        events = pipeline.tracker.events
        grown = len(events) != len(known)
        if grown:
            _take_events(result, flight, known, events)
            known = list(events)
        if known and (grown or sent.t_s >= next_look_s):
            next_look_s = sent.t_s + 1.0 / LOOKS_PER_S
            _look(result, flight, pipeline.snapshot(), openings, verdicts)
    _look(result, flight, pipeline.snapshot(over=True), openings, verdicts)
    return result


def transonic_flight(seed: int) -> VirtualFlight:
    """A flight without fault whose ports the shock passes: drawn again until it is fast enough."""
    while True:
        flight = random_flight(seed, apogee_m=TRANSONIC_APOGEE_M)
        if (flight.truth.max_mach or 0.0) > SHOCK_FROM_MACH:
            return flight
        seed += OTHER_SEEDS


def _take_events(result: Watched, flight: VirtualFlight, known: list[Event], events: list[Event]) -> None:
    if events[: len(known)] != known:
        result.note("an event was changed after it was called")
    names = [event.name for event in events]
    for name in {name for name in names if names.count(name) > 1}:
        result.note(f"{name} called twice")
    truth = flight.truth
    for event in events[len(known) :]:
        if event.name is EventName.LIFTOFF:
            if truth.liftoff_t_s is None:
                result.note("liftoff called on the pad")
            elif _s_after(event.called_t_ms, truth.t_ms_of(truth.liftoff_t_s - EARLY_S)) < 0.0:
                result.note("liftoff called before it")
        elif event.name is EventName.APOGEE:
            _not_before_apogee(result, flight, event)


def _s_after(t_ms: float, other_ms: float) -> float:
    """How much later, s; where the altimeter's clock wraps before it is first heard, the two count differently."""
    return ((t_ms - other_ms + 2.0**31) % 2.0**32 - 2.0**31) / 1000.0


def _not_before_apogee(result: Watched, flight: VirtualFlight, event: Event) -> None:
    truth = flight.truth
    if truth.apogee_t_s is None or _s_after(event.called_t_ms, truth.t_ms_of(truth.apogee_t_s - EARLY_S)) >= 0.0:
        return
    called_s = _s_after(event.called_t_ms, truth.t_ms_of(0.0))
    speed = float(np.interp(called_s, truth.t_s, truth.velocity_mps))
    height = np.array([np.interp(called_s, truth.t_s, truth.altitude_m)])
    mach = speed / float(flight.setup.day.sound_speed_mps(height)[0])
    where = "in the transonic dip" if SHOCK_FROM_MACH - 0.1 < mach < SHOCK_TO_MACH + 0.1 else "in the climb"
    result.note(f"{event.name} called {where}")


class Openings:
    """The moments of opening that one snapshot after another showed."""

    def __init__(self) -> None:
        self.first: dict[EventName, Event] = {}
        self.shown: set[EventName] = set()

    def take(self, events: tuple[Event, ...]) -> Iterator[str]:
        """The openings of one more snapshot; yields what was called a second time."""
        now = {event.name: event for event in events if event.name in _OPENINGS}
        for name, event in now.items():
            first = self.first.setdefault(name, event)
            if name not in self.shown and first is not event:
                yield f"{name} called, taken back and called again"
            elif abs(event.t_ms - first.t_ms) > 1000.0 * MOVES_S:
                yield f"{name} called at two moments"
        self.shown = set(now)


class Verdicts:
    """Whether one snapshot after another said of a parachute that it was as it should be, or that it was not.

    Which of the bad verdicts it is may change while a fall between two of them goes on.
    """

    def __init__(self) -> None:
        self.now: dict[Role, str | None] = {}
        self.given: set[tuple[Role, str]] = set()

    def take(self, deployments: tuple[Deployment, ...]) -> Iterator[str]:
        """The verdicts of one more snapshot; yields what was said a second time."""
        for deployment in deployments:
            role, verdict = deployment.role, deployment.verdict
            said = None if verdict is None else "confirmed" if verdict is Verdict.CONFIRMED else "not as it should be"
            if said is not None and self.now.get(role) != said:
                if (role, said) in self.given:
                    yield f"{role} said to be {said}, taken back and said again"
                self.given.add((role, said))
            self.now[role] = said


def _look(result: Watched, flight: VirtualFlight, snapshot: Snapshot, openings: Openings, verdicts: Verdicts) -> None:
    result.looks += 1
    truth = flight.truth
    for flaw in (*openings.take(snapshot.events), *verdicts.take(snapshot.deployments)):
        result.note(flaw)
    opened = {EventName.DROGUE: truth.drogue, EventName.MAIN: truth.main}
    for event in snapshot.events:
        if event.name in opened and not _out_in_climb(flight, opened[event.name]):
            _not_before_apogee(result, flight, event)
    for deployment in snapshot.deployments:
        parachute = truth.drogue if deployment.role is Role.DROGUE else truth.main
        if deployment.verdict is Verdict.CONFIRMED and not parachute.opened:
            result.note(f"{deployment.role} confirmed but did not open")
        if deployment.verdict in (Verdict.NO_EFFECT, Verdict.TOO_FAST) and as_planned(flight, deployment.role):
            result.note(f"{deployment.role} said to be {deployment.verdict}, and it opened")
    if any(alert.code == "fast_descent" for alert in snapshot.alerts):
        if truth.apogee_t_s is None:
            result.note("fast descent warned of on the pad")
        elif _is_good(flight):
            result.note("fast descent warned of on a good flight")


def _is_good(flight: VirtualFlight) -> bool:
    """Nothing goes wrong, and each parachute comes out at its place and carries as a good one does."""
    return flight.setup.faults == Faults() and all(as_planned(flight, role) for role in (Role.DROGUE, Role.MAIN))


def _out_in_climb(flight: VirtualFlight, parachute: ParachuteTruth) -> bool:
    apogee_t_s = flight.truth.apogee_t_s
    return parachute.stretched_t_s is not None and apogee_t_s is not None and parachute.stretched_t_s < apogee_t_s
