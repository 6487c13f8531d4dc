"""The drag coefficient that the coast shows, to correct the simulation with.

Drag per mass and speed squared is k = rho Cd A / (2 m), so Cd = 2 m k / (rho A), with the mass after burnout, the air
density at the pad and the round frontal area.
"""

from math import hypot, pi

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar

# Wind and the lean that comes with it look like drag: that much of it for each m/s at the ground, beyond what the
# coast's own error bar allows for (measured on virtual flights, no source).
WINDY_FROM_MPS = 3.0
SHARE_A_MPS = 0.01


def drag_advice(facts: FlightFacts) -> Advice | None:
    """The drag coefficient; None without a coast, or without mass and diameter in the plan."""
    coasting, mass, diameter = facts.coasting, facts.mass_at_burnout_kg, facts.plan.rocket_diameter_m
    density = facts.pad_density_kgpm3
    if coasting is None or mass is None or diameter is None or density is None or coasting.drag_per_m <= 0.0:
        return None
    unit = 2.0 * mass / (density * pi * diameter**2 / 4.0)
    value = unit * coasting.drag_per_m
    windy = SHARE_A_MPS * max(0.0, (facts.plan.wind_mps or 0.0) - WINDY_FROM_MPS)
    sigma = hypot(unit * coasting.drag_sigma_per_m, windy * value)
    shown = with_bar(value, sigma, "")
    reasoning = [
        f"From {coasting.start_s:.1f} s to {coasting.end_s:.1f} s after liftoff it slowed down from "
        f"{coasting.fastest_mps:.0f} m/s as a rocket of {mass:.3g} kg and {1000.0 * diameter:.0f} mm with that "
        "coefficient does. It is the value well below the speed of sound.",
        "A wrong mass or diameter in the plan makes it wrong by the same share; wind and lean make it look larger.",
    ]
    planned = facts.plan.rocket_drag_coefficient
    if planned is None:
        headline, change = f"Drag: the coast shows a drag coefficient of {shown}: use it in the simulation.", False
    elif abs(planned - value) <= 2.0 * sigma:
        headline, change = f"Drag: the coast shows a drag coefficient of {shown}; the plan's {planned:g} fits.", False
    else:
        headline = f"Drag: the coast shows a drag coefficient of {shown}, not {planned:g}: correct the simulation."
        change = True
    return Advice(Topic.DRAG, headline, change, tuple(reasoning), value, sigma)
