"""The delay of the motor's ejection charge: what was wanted, what the one flown did, what to take off.

Wanted is the time from burnout to the highest point, or to the one the rocket was on its way to when a parachute came
out in the climb: there it is slowest, and an opening parachute is stressed least.
"""

from math import ceil, hypot

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar
from station.atmosphere import G0_MPS2
from station.flight_state import Deployment, EventName
from station.rules import DELAY_TOLERANCE, DELAY_TOLERANCE_S, DELAY_TOLERANCE_SHARE, ZIPPER, ZIPPER_MPS

# Nearer to the top, or slower than this, the delay needs no change (common practice, no source).
RIGHT_WITHIN_S = 1.0
HARMLESS_MPS = 10.0
# Delays are sold and drilled in steps of so much (common practice, no source).
STEP_S = 0.5
# From the charge's firing to a parachute that holds (common practice, no source).
COMING_OUT_S, COMING_OUT_SIGMA_S = 0.6, 0.2
LEAST_CUT_S = 0.5
# A steady hold that began so long before another is not that one.
SLOWED_BEFORE_MS = 2500.0
CAUTION = (
    "The motor maker's instructions rule: whether a delay may be shortened, with which tool, and by how much. Never "
    "try to make one longer."
)


def delay_advice(facts: FlightFacts) -> Advice | None:
    """What delay the flight wanted; None if burnout or the top was not observed, or no motor's charge is known of."""
    if not facts.by_motor and facts.plan.stock_delay_s is None and facts.plan.flown_delay_s is None:
        return None
    burnout_s, top = facts.seconds(EventName.BURNOUT), _top(facts)
    if burnout_s is None or top is None:
        return None
    wanted_s, sigma_s = top[0] - burnout_s, hypot(top[1], facts.sigma_s(EventName.BURNOUT))
    if wanted_s <= 0.0:
        return None
    would = "would have come" if facts.out_in_the_climb else "came"
    reasoning = [f"The highest point {would} {with_bar(wanted_s, sigma_s, 's')} after burnout: that delay was wanted."]
    first = _first_to_open(facts)
    change = False
    if facts.by_motor:
        if first is not None and _was_slowed_before(facts, first.opened_t_ms or 0.0):
            reasoning.append(
                "Something seems to have slowed the fall long before the parachute held it as it did in the end: when "
                "the motor's charge fired is not known."
            )
            first = None
        elif first is None:
            reasoning.append("When the parachute came out was not observed.")
        else:
            change = _what_it_did(facts, first, burnout_s, top, reasoning)
    headline, cut_changes = _headline(
        facts, wanted_s, sigma_s, first_opened=first is not None, change=change, reasoning=reasoning
    )
    return Advice(
        topic=Topic.DELAY,
        headline=headline,
        change=change or cut_changes,
        reasoning=tuple(reasoning),
        value=wanted_s,
        sigma=sigma_s,
        unit="s",
        caution=f"{CAUTION} {DELAY_TOLERANCE.says}" if facts.by_motor or facts.plan.stock_delay_s is not None else None,
        source=f"delay tolerance: {DELAY_TOLERANCE.reference}; opening speed: {ZIPPER.reference}",
    )


def _top(facts: FlightFacts) -> tuple[float, float] | None:
    """(Seconds from liftoff, standard deviation) of the top of the free coast."""
    if facts.out_in_the_climb:
        coasting = facts.coasting
        return None if coasting is None else (coasting.top_s, coasting.top_sigma_s)
    apogee_s = facts.seconds(EventName.APOGEE)
    return None if apogee_s is None else (apogee_s, facts.sigma_s(EventName.APOGEE))


def _first_to_open(facts: FlightFacts) -> Deployment | None:
    opened = [deployment for deployment in facts.deployments if deployment.opened_t_ms is not None]
    return min(opened, key=lambda deployment: deployment.opened_t_ms or 0.0) if opened else None


def _what_it_did(
    facts: FlightFacts, first: Deployment, burnout_s: float, top: tuple[float, float], reasoning: list[str]
) -> bool:
    """Say when and how fast it opened, and what that says of the delay; whether to change it."""
    assert first.opened_t_ms is not None
    opened_s = facts.since_liftoff_s(first.opened_t_ms)
    if opened_s is None:
        return False
    opened_sigma_s = first.opened_sigma_s or 0.0
    late_s = opened_s - top[0]
    when = with_bar(abs(late_s), hypot(opened_sigma_s, top[1]), "s")
    speed, speed_sigma = first.opened_velocity_mps, first.opened_velocity_sigma_mps or 0.0
    where = f"{when} {'after' if late_s > 0.0 else 'before'} it"
    how_fast = ""
    if speed is not None:
        way = "falling" if speed < 0.0 else "going up"
        how_fast = f", {way} at {with_bar(abs(speed), speed_sigma, 'm/s')}"
    reasoning.append(f"The parachute began to hold {where}{how_fast}.")
    burnt_s = opened_s - burnout_s - COMING_OUT_S
    burnt_sigma_s = hypot(opened_sigma_s, facts.sigma_s(EventName.BURNOUT), COMING_OUT_SIGMA_S)
    reasoning.append(
        f"So the delay burnt for about {with_bar(burnt_s, burnt_sigma_s, 's')}, with {COMING_OUT_S:g} s for coming out."
    )
    _against_the_label(facts.plan.flown_delay_s, burnt_s, burnt_sigma_s, reasoning)
    if speed is not None and abs(speed) > ZIPPER_MPS:
        reasoning.append(
            f"From about {ZIPPER_MPS:.0f} m/s on an opening parachute may tear its lines, or its cord may cut into the "
            "airframe: look for damage."
        )
    return abs(late_s) > RIGHT_WITHIN_S and (speed is None or abs(speed) > HARMLESS_MPS)


def _was_slowed_before(facts: FlightFacts, opened_ms: float) -> bool:
    """A steady hold began long before this one."""
    return any(
        stretch.opened_ms is not None and stretch.is_steady and stretch.opened_ms < opened_ms - SLOWED_BEFORE_MS
        for stretch in facts.stretches
    )


def _against_the_label(flown_s: float | None, burnt_s: float, sigma_s: float, reasoning: list[str]) -> None:
    if flown_s is None:
        return
    allowed_s = max(DELAY_TOLERANCE_S, DELAY_TOLERANCE_SHARE * flown_s)
    off_s = burnt_s - flown_s
    if abs(off_s) > allowed_s + 2.0 * sigma_s:
        reasoning.append(
            f"The plan says {flown_s:g} s: {abs(off_s):.1f} s {'longer' if off_s > 0.0 else 'shorter'} is more than a "
            "delay may be off. Was another motor or delay flown?"
        )
    else:
        reasoning.append(f"The plan says {flown_s:g} s, which fits.")


def _headline(
    facts: FlightFacts,
    wanted_s: float,
    sigma_s: float,
    *,
    first_opened: bool,
    change: bool,
    reasoning: list[str],
) -> tuple[str, bool]:
    """The headline, and whether the delay needs a change."""
    wanted = with_bar(wanted_s, sigma_s, "s")
    stock_s = facts.plan.stock_delay_s
    if not facts.by_motor and stock_s is None:
        return f"Delay: the motor's ejection charge as a back-up would have wanted {wanted} at least.", False
    right = first_opened and not change
    if stock_s is None:
        if right:
            return f"Delay: right as flown; {wanted} was wanted.", False
        whole_s = _in_steps(wanted_s, None, reasoning)
        return f"Delay: fly one of {whole_s:g} s; {wanted} was wanted.", change
    cut_s = stock_s - wanted_s
    if cut_s < -LEAST_CUT_S:
        reasoning.append(
            f"The stock delay of {stock_s:g} s is {with_bar(-cut_s, sigma_s, 's')} too short, and drilling only "
            "makes a delay shorter."
        )
        return f"Delay: {wanted} is wanted: use a motor with a longer delay than {stock_s:g} s.", True
    if cut_s < LEAST_CUT_S:
        return f"Delay: {wanted} is wanted: the stock delay of {stock_s:g} s is right, drill nothing off.", change
    cut = with_bar(cut_s, sigma_s, "s")
    if not facts.by_motor:
        reasoning.append("As a back-up of the altimeter it may well come a second or two later.")
        return f"Delay: {wanted} is wanted: {cut} less than the stock delay of {stock_s:g} s.", False
    if right:
        return f"Delay: right as flown; {wanted} was wanted, {cut} less than the stock delay of {stock_s:g} s.", False
    whole_s = _in_steps(wanted_s, stock_s, reasoning)
    off_s = stock_s - whole_s
    return (
        f"Delay: drill {off_s:.1f} s off the stock delay of {stock_s:g} s, to {whole_s:g} s; {wanted} was wanted.",
        change,
    )


def _in_steps(wanted_s: float, longest_s: float | None, reasoning: list[str]) -> float:
    """The delay to fly in place of one that nobody sells: the nearest step, of two as near the shorter one.

    Says what that means at the top, where the speed changes by g each second.
    """
    steps = ceil(wanted_s / STEP_S - 0.5 - 1e-9)
    whole_s = STEP_S * steps if longest_s is None else min(STEP_S * steps, longest_s)
    off_s = whole_s - wanted_s
    when = "at the top"
    if abs(off_s) >= 0.05:
        way = "after the top, falling" if off_s > 0.0 else "before the top, rising"
        when = f"{abs(off_s):.1f} s {way} at about {max(1.0, G0_MPS2 * abs(off_s)):.0f} m/s"
    reasoning.append(
        f"Delays are sold and drilled in whole or half seconds (common practice, no source). {whole_s:g} s is the "
        f"nearest, and goes off {when}. In doubt take the shorter one: before the top the rocket still gets slower, "
        "after it ever faster."
    )
    return whole_s
