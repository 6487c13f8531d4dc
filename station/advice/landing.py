"""How hard it landed: speed and energy at the ground."""

from math import hypot

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.held_rates import rate_sigma
from station.advice.wording import with_bar
from station.descent_forecast import landing_energy_j
from station.flight_state import EventName
from station.rules import FOOT_POUND_J, LANDING_ENERGY, LANDING_ENERGY_J

MASS_SIGMA = 0.02


def landing_advice(facts: FlightFacts) -> Advice | None:
    """Energy at touchdown; None without a mass in the plan, or a steady fall that was heard to near the ground."""
    mass = facts.mass_at_burnout_kg
    if mass is None or facts.events.get(EventName.TOUCHDOWN) is None or not facts.stretches:
        return None
    last = facts.stretches[-1]
    if not last.is_steady or last.rate_mps is None:
        return None
    rate, sigma_mps = last.rate_mps, rate_sigma(last)
    energy = landing_energy_j(mass, rate)
    sigma = energy * hypot(2.0 * sigma_mps / rate, MASS_SIGMA)
    hard = energy > LANDING_ENERGY_J
    shown = f"{with_bar(energy, sigma, 'J')} ({energy / FOOT_POUND_J:.0f} ft lbf)"
    compare = "more than" if hard else "less than"
    return Advice(
        topic=Topic.LANDING,
        headline=f"Landing: {shown} at {with_bar(rate, sigma_mps, 'm/s')}, {compare} the {LANDING_ENERGY_J:.0f} J that "
        "some allow.",
        change=hard,
        reasoning=("That is the whole rocket in one piece; parts tied together hit the ground one after another.",),
        value=energy,
        sigma=sigma,
        unit="J",
        caution="What lands so hard breaks, and hurts whom it hits." if hard else None,
        source=f"{LANDING_ENERGY.says} ({LANDING_ENERGY.reference})",
    )
