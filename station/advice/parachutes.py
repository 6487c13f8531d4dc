"""What went wrong with a parachute or its charge, and what people look at then (common practice, no source)."""

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.flight_state import Deployment, EventName, Verdict
from station.late_opening import surely_after_top_s
from station.records import ChannelState, Role

PRACTICE = "common practice, no source"
LIVE = (
    "It may still be live. Keep clear and keep others clear until it has been made harmless by the altimeter maker's "
    "instructions; the range safety officer decides."
)
NEAR_THE_TOP_SHARE = 0.85
LATE_MPS = 15.0
LATE_S = 1.5
SAME_TIME_MS = 1500.0


def charge_advice(facts: FlightFacts) -> tuple[Advice, ...]:
    """One piece a charge that was not reported fired: the caution first, then what to find out."""
    if facts.seconds(EventName.LIFTOFF) is None:
        return ()
    found = []
    for deployment in facts.deployments:
        live = deployment.charge is ChannelState.READY
        open_circuit = deployment.charge is ChannelState.OPEN and deployment.fired_t_ms is None
        if not live and not open_circuit:
            continue
        role = deployment.role.value
        if open_circuit:
            why = (
                f"The altimeter said that the {role}'s igniter was not connected, and says so on the pad already: do "
                "not fly with such a channel."
            )
        elif deployment.verdict is Verdict.NOT_OBSERVED:
            why = (
                f"Whether the {role}'s charge fired was not heard. Look at the altimeter's own memory, after it is off."
            )
        else:
            why = (
                f"Once it is harmless, find out why the {role}'s charge did not fire: igniter, wiring, battery, the "
                "altimeter's settings, the vent holes of its bay. Test it on the ground, by its maker's instructions, "
                "before it flies again."
            )
        found.append(
            Advice(
                Topic.CHARGES,
                f"Charge: the {role}'s charge (channel {deployment.channel}) was not reported fired.",
                True,
                (why,),
                caution=LIVE,
                source=PRACTICE,
            )
        )
    return tuple(found)


def parachute_advice(facts: FlightFacts) -> tuple[Advice, ...]:
    """One piece a parachute that did not do what was planned, or took hold late and fast."""
    found = []
    for deployment in facts.deployments:
        said = _what_to_look_at(facts, deployment)
        if said is not None:
            headline, reasons = said
            found.append(Advice(Topic.PARACHUTES, headline, True, reasons, source=PRACTICE))
    return tuple(found)


def _what_to_look_at(facts: FlightFacts, deployment: Deployment) -> tuple[str, tuple[str, ...]] | None:
    verdict, role = deployment.verdict, deployment.role.value
    if verdict is Verdict.TOO_FAST:
        return (
            f"Parachute: the {role} did not hold the fall enough: tangled, torn, not fully open, or too small.",
            (
                "Look at it as it lies: lines twisted or caught, cloth burnt, a swivel that does not turn.",
                "Pack it so that the cloth comes out first and the lines pay out, and protect it from the charge.",
            ),
        )
    if verdict is Verdict.NO_EFFECT:
        fired = deployment.fired_t_ms is not None
        return (
            f"Parachute: the {role} did not hold the fall"
            + (", though its charge was reported fired." if fired else "; whether its charge fired was not heard."),
            (
                "Look whether it came out at all. If not: it sat too tight, the charge was too weak, or gas leaked.",
                "Test on the ground, by the maker's instructions and with everyone clear, that it comes out.",
            ),
        )
    if verdict is Verdict.EARLY:
        return _out_early(facts, deployment)
    if verdict is Verdict.CONFIRMED:
        return _late(facts, deployment)
    return None


def _out_early(facts: FlightFacts, deployment: Deployment) -> tuple[str, tuple[str, ...]] | None:
    role = deployment.role.value
    if facts.by_motor:
        return None  # the delay says it all
    apogee = facts.events.get(EventName.APOGEE)
    if deployment.role is Role.MAIN and apogee is not None and deployment.opened_altitude_m is not None:
        at_the_top = deployment.opened_altitude_m > NEAR_THE_TOP_SHARE * apogee.altitude_m
        drogue = facts.deployment(Role.DROGUE)
        together = (
            drogue is not None
            and drogue.fired_t_ms is not None
            and deployment.fired_t_ms is not None
            and abs(deployment.fired_t_ms - drogue.fired_t_ms) < SAME_TIME_MS
        )
        where = "at the top" if at_the_top else f"{deployment.opened_altitude_m:.0f} m up, above its height"
        if together:
            return (
                f"Parachute: the main was fired {where}, together with the drogue.",
                ("Check the altimeter's settings and wiring: which channel fires when, and at what height.",),
            )
        return (
            f"Parachute: the main was out {where}, before its own charge.",
            (
                "The drogue's charge, or the jerk as it came out, opened the main's compartment too: hold it shut, by "
                "shear pins or a tighter fit as the kit's maker advises, and make the drogue's charge no stronger than "
                "needed.",
                "Check that the bay of the main is vented: air shut in at the ground pushes it open high up.",
            ),
        )
    if deployment.fired_t_ms is None and apogee is not None and (surely_after_top_s(deployment, apogee) or 0.0) > 0.0:
        return (
            f"Parachute: the {role} held the fall, though its channel was not reported fired.",
            (
                "Something else may have thrown it out: a motor's charge, or the jerk at the top on a loose fit. "
                "Unless you meant it so, find out what.",
            ),
        )
    return (
        f"Parachute: the {role} was out too early, while the rocket still climbed.",
        (
            "If its charge fired then: check the altimeter's settings and the vent holes of its bay. If not: the "
            "airframe came apart by itself, so check its fit.",
        ),
    )


def _late(facts: FlightFacts, deployment: Deployment) -> tuple[str, tuple[str, ...]] | None:
    """A parachute for the top that the altimeter fired late: the motor's own is a matter of its delay."""
    velocity = deployment.opened_velocity_mps
    apogee = facts.events.get(EventName.APOGEE)
    for_the_top = deployment.role is Role.DROGUE or facts.deployment(Role.DROGUE) is None
    if facts.by_motor or not for_the_top or velocity is None or apogee is None or deployment.opened_t_ms is None:
        return None
    late_s, role = (deployment.opened_t_ms - apogee.t_ms) / 1000.0, deployment.role.value
    if velocity > -LATE_MPS or (surely_after_top_s(deployment, apogee) or 0.0) < LATE_S:
        return None
    return (
        f"Parachute: the {role} held the fall only {late_s:.1f} s after the top, when falling at {-velocity:.0f} m/s.",
        (
            "Look for damage to airframe, cord and lines.",
            "Check the altimeter's settings (a delay after apogee) and the vent holes of its bay.",
        ),
    )
