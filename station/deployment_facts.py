"""What the verdicts on the parachutes rest on, and which parachutes there should be."""

from collections.abc import Sequence
from dataclasses import dataclass

from station.atmosphere import SEA_LEVEL_DENSITY_KGPM3
from station.channels import ChannelReport
from station.flight_state import Estimate, Event, Unit
from station.plan import FlightPlan
from station.records import Role
from station.stretch import Stretch


@dataclass(frozen=True, slots=True)
class Facts:
    """What the verdicts rest on. Times ms on the flight's time line, heights m above the pad.

    `charges`: how many channels were heard ready or fired, with or without their roles. `roles_may_come`: it has only
    just landed, and what its channels are for was not heard: altimeters say it every few seconds.
    """

    plan: FlightPlan | None
    unit: Unit | None
    channels: tuple[ChannelReport, ...]
    channels_heard: bool
    liftoff: Event | None
    apogee: Event | None
    touchdown: Event | None
    stretches: tuple[Stretch, ...]
    track: Sequence[Estimate]
    last_sample_ms: float | None
    isa_to_true: float
    restarts_ms: tuple[float, ...]
    over: bool
    fired_without_role_ms: tuple[float, ...] = ()
    charges: int = 0
    roles_may_come: bool = False
    pad_density_kgpm3: float = SEA_LEVEL_DENSITY_KGPM3


def planned_roles(facts: Facts) -> tuple[Role, ...]:
    """Which parachutes are planned: as far as it is known, else both."""
    known = _known_roles(facts)
    return (Role.DROGUE, Role.MAIN) if known is None else known


def may_be_alone(facts: Facts) -> bool:
    """Nobody heard or planned that there are two parachutes: there may be one only."""
    return _known_roles(facts) is None and facts.charges < 2


def _known_roles(facts: Facts) -> tuple[Role, ...] | None:
    """By the plan, else by the altimeter's channels; None where neither tells."""
    if facts.plan is not None and facts.plan.planned_roles is not None:
        return facts.plan.planned_roles
    if facts.unit is None:
        return None
    roles = {facts.unit.channel_1_role, facts.unit.channel_2_role} - {Role.NONE}
    if not roles:
        return (Role.MAIN,)  # no channels: one parachute, by motor ejection
    return tuple(role for role in (Role.DROGUE, Role.MAIN) if role in roles)


def report_of(channels: Sequence[ChannelReport], role: Role) -> ChannelReport | None:
    """What was heard of a role: where two channels share it (one for safety's sake), the one that fired first."""
    of_role = [c for c in channels if c.role is role]
    fired = [c for c in of_role if c.fired_ms is not None]
    if fired:
        return min(fired, key=lambda c: c.fired_ms or 0.0)
    return of_role[0] if of_role else None
