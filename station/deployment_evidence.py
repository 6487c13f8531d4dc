"""Did the parachutes open? What the descent and the altimeter's report together let us say, and no more.

A report that a channel fired says that a current flowed, not that a parachute opened: only the descent can show
that. So every verdict but `not_fired` and `not_observed` rests on the rate of descent:

- `confirmed`: a parachute took hold at its place and the rate fits one;
- `too_fast`: it fired and the descent changed, but the rate is well over the planned one;
- `no_effect`: it fired, or nobody heard whether it did, and the descent shows that it did not hold;
- `early`: out before its command or its place;
- `not_fired`: the altimeter was heard after its place and said that the channel had not fired;
- `not_observed`: lines were lost, or the data leave it open.

The same function speaks live and after landing; live, a verdict is None until the evidence is in.
"""

from collections.abc import Sequence

from station.deployment_facts import Facts, planned_roles
from station.drogue_verdict import judge_drogue
from station.flight_state import Basis, Deployment, Event, EventName, Verdict
from station.main_verdict import judge_main
from station.parachute_case import ParachuteCase
from station.records import Role

EARLY_CLIMB_MPS = 7.0


def judge_deployments(facts: Facts) -> tuple[Deployment, ...]:
    """One deployment a planned role, each with its verdict and the reasons in sentences."""
    roles = planned_roles(facts)
    cases = [ParachuteCase(facts, role, alone=len(roles) == 1) for role in roles]
    return tuple(case.deployment(_verdict(case)) for case in cases)


def opening_events(deployments: Sequence[Deployment]) -> list[Event]:
    """The moments at which a parachute took hold, as events of the flight."""
    return [
        Event(
            EventName.DROGUE if d.role is Role.DROGUE else EventName.MAIN,
            d.opened_t_ms,
            d.opened_altitude_m or 0.0,
            -(d.rate_before_mps or 0.0),
            d.opened_sigma_s,
            Basis.ESTIMATED,
            d.opened_called_t_ms if d.opened_called_t_ms is not None else d.opened_t_ms,
        )
        for d in deployments
        if d.opened_t_ms is not None and d.opened_sigma_s is not None
    ]


def _verdict(case: ParachuteCase) -> Verdict | None:
    facts = case.facts
    if facts.liftoff is None:
        if facts.over:
            case.reasons.append("No liftoff was observed.")
            return Verdict.NOT_OBSERVED
        return None
    early = _fired_in_climb(case)
    if early is not None:
        return early
    if facts.apogee is None:
        return case.open_question("Apogee was not observed.")
    if case.role is Role.DROGUE:
        return judge_drogue(case)
    return judge_main(case)


def _fired_in_climb(case: ParachuteCase) -> Verdict | None:
    fired, apogee = case.fired_ms, case.facts.apogee
    if fired is None or apogee is None or not case.fired_before_apogee(fired):
        return None
    at = case.fall.at(fired)
    if at is None or at.velocity_mps < EARLY_CLIMB_MPS:
        return None
    case.reasons.append(
        f"The channel fired {(apogee.t_ms - fired) / 1000.0:.1f} s before apogee, while still climbing at "
        f"{at.velocity_mps:.0f} m/s."
    )
    case.in_climb = True
    case.choose(case.stretch_after(apogee.t_ms, case.main_due_ms()))
    return Verdict.EARLY
