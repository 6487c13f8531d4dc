"""How hard it landed: speed at the ground, and the energy where the plan has a mass."""

from math import hypot

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.held_rates import rate_sigma
from station.advice.wording import with_bar
from station.descent_forecast import landing_energy_j
from station.flight_state import EventName
from station.rules import FOOT_POUND_J, HARD_LANDING, HARD_LANDING_MPS, LANDING_ENERGY, LANDING_ENERGY_J

MASS_SIGMA = 0.02
WHAT_WANTS_A_LOOK = "the airframe, the electronics and the motor mount want a look before they fly again"


def landing_advice(facts: FlightFacts) -> Advice | None:
    """Speed and energy at touchdown; None unless a steady fall was heard to near the ground.

    Without a mass in the plan only a hard landing is told.
    """
    if facts.events.get(EventName.TOUCHDOWN) is None or not facts.stretches:
        return None
    last = facts.stretches[-1]
    if not last.is_steady or last.rate_mps is None:
        return None
    rate, sigma_mps = last.rate_mps, rate_sigma(last)
    fast = rate > HARD_LANDING_MPS
    look = (f"So {WHAT_WANTS_A_LOOK}.",) if fast else ()
    mass = facts.mass_at_burnout_kg
    if mass is not None:
        return _by_energy(mass, rate, sigma_mps, look)
    if not fast:
        return None
    return Advice(
        topic=Topic.LANDING,
        headline=f"Landing: hard, at {with_bar(rate, sigma_mps, 'm/s')}.",
        change=True,
        reasoning=look,
        value=rate,
        sigma=sigma_mps,
        unit="m/s",
        source=f"{HARD_LANDING.says} ({HARD_LANDING.reference})",
    )


def _by_energy(mass_kg: float, rate_mps: float, sigma_mps: float, look: tuple[str, ...]) -> Advice:
    energy = landing_energy_j(mass_kg, rate_mps)
    sigma = energy * hypot(2.0 * sigma_mps / rate_mps, MASS_SIGMA)
    hard = energy > LANDING_ENERGY_J
    shown = f"{with_bar(energy, sigma, 'J')} ({energy / FOOT_POUND_J:.0f} ft lbf)"
    shown = f"hard, with {shown}" if look else shown
    compare = "more than" if hard else "less than"
    return Advice(
        topic=Topic.LANDING,
        headline=f"Landing: {shown} at {with_bar(rate_mps, sigma_mps, 'm/s')}, {compare} the {LANDING_ENERGY_J:.0f} J "
        "that some allow.",
        change=hard or bool(look),
        reasoning=(
            *look,
            "That is the whole rocket in one piece; parts tied together hit the ground one after another.",
        ),
        value=energy,
        sigma=sigma,
        unit="J",
        caution="What lands so hard breaks, and hurts whom it hits." if hard else None,
        source=f"{LANDING_ENERGY.says} ({LANDING_ENERGY.reference})",
    )
