"""Descent rates against the plan, and the parachute that would give the wanted one.

Terminal speed: v = sqrt(2 m g / (rho Cd A)). So the drag area Cd A that came down is 2 m g / (rho v^2), and for another
rate the canopy's area changes as 1/v^2, its diameter as 1/v. Under a main the drogue and airframe brake too: what the
drogue carried is taken off first.
"""

from math import pi, sqrt

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.held_rates import held_rate
from station.advice.wording import with_bar
from station.atmosphere import G0_MPS2
from station.flight_state import Verdict
from station.records import Role
from station.rules import DESCENT_RATES, DROGUE_BAND_MPS, MAIN_BAND_MPS

TOPICS = {Role.DROGUE: Topic.DROGUE_RATE, Role.MAIN: Topic.MAIN_RATE}
# So far off a rate is as planned; a parachute's size is no finer (common practice, no source).
AS_PLANNED_SHARE = 0.15
USUAL_CANOPY_DRAG = 1.5


def rate_advice(facts: FlightFacts, role: Role) -> Advice | None:
    """What the rate under this parachute says; None if it did not hold for long enough."""
    found = held_rate(facts, role)
    deployment = facts.deployment(role)
    if found is None or deployment is None:
        return None
    rate, sigma = found
    name = "the parachute" if facts.by_motor else f"the {role.value}"
    plan = facts.plan
    wanted = plan.drogue_rate_mps if role is Role.DROGUE else plan.main_rate_mps
    shown = with_bar(rate, sigma, "m/s")
    reasoning = ["The rate is that in the air at the pad; higher up, in thinner air, it comes down faster."]
    if wanted is not None:
        fits = abs(rate - wanted) <= max(AS_PLANNED_SHARE * wanted, 2.0 * sigma)
        compared = "as planned" if fits else f"{'faster' if rate > wanted else 'slower'} than planned"
        headline = f"Under {name}: {shown}, {compared} ({wanted:.1f} m/s)."
        change = not fits
        aim: float | None = wanted
    else:
        slowest, fastest = DROGUE_BAND_MPS if role is Role.DROGUE else MAIN_BAND_MPS
        change = rate - 2.0 * sigma > fastest
        aim = fastest if change else None
        usual = f"{slowest:g} to {fastest:g} m/s"
        headline = f"Under {name}: {shown}, {'faster than' if change else 'against'} the usual {usual}."
    if deployment.verdict is Verdict.TOO_FAST:
        reasoning.append("It was not fully open or too small: look at that before choosing another size.")
    elif change and aim is not None:
        reasoning += _another_size(facts, role, rate, aim)
    if (area := _drag_area(facts, rate)) is not None:
        reasoning.append(_what_it_is(facts, role, area))
    return Advice(
        topic=TOPICS[role],
        headline=headline,
        change=change,
        reasoning=tuple(reasoning),
        value=rate,
        sigma=sigma,
        unit="m/s",
        source=None if wanted is not None else f"{DESCENT_RATES.says} ({DESCENT_RATES.reference})",
    )


def area_ratio(rate_mps: float, wanted_mps: float, others_mps: float | None = None) -> float | None:
    """How many times its area a canopy needs for a wanted rate.

    `others_mps` is the rate at which everything but this canopy would come down; None if nothing else brakes. None if
    no canopy does it.
    """
    others = 0.0 if others_mps is None else 1.0 / others_mps**2
    now, then = 1.0 / rate_mps**2 - others, 1.0 / wanted_mps**2 - others
    return then / now if now > 0.0 and then > 0.0 else None


def canopy_diameter_m(mass_kg: float, density_kgpm3: float, rate_mps: float, drag_coefficient: float) -> float:
    """D = sqrt(8 m g / (pi rho Cd v^2)): the round canopy that carries a mass at a rate."""
    return sqrt(8.0 * mass_kg * G0_MPS2 / (pi * density_kgpm3 * drag_coefficient * rate_mps**2))


def _another_size(facts: FlightFacts, role: Role, rate: float, aim: float) -> list[str]:
    drogue = held_rate(facts, Role.DROGUE) if role is Role.MAIN else None
    ratio = area_ratio(rate, aim, None if drogue is None else drogue[0])
    if ratio is None:
        return []
    said = (
        f"For {aim:.1f} m/s it takes {ratio:.2f} times the canopy's area, that is {sqrt(ratio):.2f} times its diameter"
    )
    now_m = facts.plan.drogue_diameter_m if role is Role.DROGUE else facts.plan.main_diameter_m
    mass, density = facts.mass_at_burnout_kg, facts.pad_density_kgpm3
    if now_m is not None:
        new_mm = 1000.0 * now_m * sqrt(ratio)
        return [f"{said}: {new_mm:.0f} mm ({new_mm / 25.4:.0f} in) in place of {1000.0 * now_m:.0f} mm."]
    if mass is None or density is None:
        return [f"{said}."]
    round_mm = 1000.0 * canopy_diameter_m(mass, density, aim, USUAL_CANOPY_DRAG)
    return [
        f"{said}; a round canopy with a drag coefficient of {USUAL_CANOPY_DRAG:g} (common practice, no source) would "
        f"carry it alone with {round_mm:.0f} mm ({round_mm / 25.4:.0f} in)."
    ]


def _drag_area(facts: FlightFacts, rate: float) -> float | None:
    mass, density = facts.mass_at_burnout_kg, facts.pad_density_kgpm3
    return None if mass is None or density is None else 2.0 * mass * G0_MPS2 / (density * rate**2)


def _what_it_is(facts: FlightFacts, role: Role, area_m2: float) -> str:
    said = f"All that hung there had a drag area (coefficient times area) of {area_m2:.3g} m²"
    diameter = facts.plan.drogue_diameter_m if role is Role.DROGUE else facts.plan.main_diameter_m
    if diameter is None:
        return f"{said}."
    coefficient = area_m2 / (pi * diameter**2 / 4.0)
    return f"{said}: a coefficient of {coefficient:.2f} on the canopy's {1000.0 * diameter:.0f} mm."
