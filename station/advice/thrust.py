"""Thrust to weight from the measured boost, against the marks that the trade goes by.

Newton's law over the burn, v at burnout over its length t, with the drag d that the coast shows:

    mean thrust / mass = v/t + g + d,  d = k times the mean of v^2 (v^2/3 for a speed that rises steadily)

times the mean mass in the burn over the mass at liftoff, where the plan tells them.
"""

from math import hypot

import numpy as np

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar
from station.atmosphere import G0_MPS2
from station.flight_state import EventName
from station.rules import THRUST_TO_WEIGHT, THRUST_TO_WEIGHT_FLOOR, THRUST_TO_WEIGHT_WANTED

# Thrust that comes up and tails off, lean on the rail (measured on virtual flights, no source).
MODEL_SIGMA = 0.03
# The drag of a fast rocket with its motor burning is not quite that of the coast.
DRAG_SIGMA_SHARE = 0.3
LEAST_SPEEDS = 8
# Without drag known it is between nothing and a fifth of the boost; without propellant mass, up to a tenth of the mass.
UNKNOWN_DRAG_SHARE, UNKNOWN_DRAG_SIGMA = 0.08, 0.06
UNKNOWN_BURNT_SHARE, UNKNOWN_BURNT_SIGMA = 0.97, 0.02


def thrust_advice(facts: FlightFacts) -> Advice | None:
    """Mean thrust over liftoff weight; None if the burn was not observed."""
    burnout, burn_s = facts.events.get(EventName.BURNOUT), facts.seconds(EventName.BURNOUT)
    if burnout is None or burn_s is None or burn_s <= 0.0 or burnout.velocity_mps <= 0.0:
        return None
    gain = burnout.velocity_mps / burn_s
    timing = hypot(facts.sigma_s(EventName.LIFTOFF), facts.sigma_s(EventName.BURNOUT)) / burn_s
    gain_sigma = gain * hypot(timing, facts.top_speed_sigma_share)
    if facts.coasting is not None:
        drag = facts.coasting.drag_per_m * _mean_square_speed(facts, burn_s, burnout.velocity_mps)
        drag_sigma = DRAG_SIGMA_SHARE * drag
    else:
        drag, drag_sigma = UNKNOWN_DRAG_SHARE * gain, UNKNOWN_DRAG_SIGMA * gain
    mass, propellant = facts.plan.rocket_mass_kg, facts.plan.propellant_mass_kg
    if mass is not None and propellant is not None:
        share, share_sigma = 1.0 - 0.5 * propellant / mass, 0.005
    else:
        share, share_sigma = UNKNOWN_BURNT_SHARE, UNKNOWN_BURNT_SIGMA
    per_mass = gain + G0_MPS2 + drag
    ratio = share * per_mass / G0_MPS2
    sigma = ratio * hypot(hypot(gain_sigma, drag_sigma) / per_mass, share_sigma / share, MODEL_SIGMA)
    return _told(facts, ratio, sigma, burnout.velocity_mps, burn_s)


def _mean_square_speed(facts: FlightFacts, burn_s: float, burnout_mps: float) -> float:
    """Over the burn, m^2/s^2; by the live speeds where they were heard."""
    if facts.curve is not None:
        burn = facts.curve.velocity_mps[(facts.curve.t_s > 0.0) & (facts.curve.t_s < burn_s)]
        if len(burn) >= LEAST_SPEEDS:
            return float(np.mean(burn**2))
    return burnout_mps**2 / 3.0


def _told(facts: FlightFacts, ratio: float, sigma: float, speed_mps: float, burn_s: float) -> Advice:
    floor, wanted = f"{THRUST_TO_WEIGHT_FLOOR:g}:1", f"{THRUST_TO_WEIGHT_WANTED:g}:1"
    shown = with_bar(ratio, sigma, "")
    if ratio + 2.0 * sigma < THRUST_TO_WEIGHT_FLOOR:
        headline = (
            f"Thrust: {shown} times the weight, below the floor of {floor}: a stronger motor or a lighter rocket."
        )
    elif ratio < THRUST_TO_WEIGHT_WANTED:
        headline = (
            f"Thrust: {shown} times the weight, less than the {wanted} to aim for: a stronger motor, more so in wind."
        )
    else:
        headline = f"Thrust: {shown} times the weight, above the {wanted} to aim for."
    reasoning = [
        f"It gained {speed_mps:.0f} m/s in {burn_s:.2f} s of burn, against gravity and drag; {floor} is the floor."
    ]
    planned = _planned(facts)
    if planned is not None:
        off = ratio / planned - 1.0
        fits = abs(off) < 0.2 + 2.0 * sigma / ratio
        reasoning.append(
            f"The plan's thrust and mass make {planned:.1f}"
            + (", which fits." if fits else f": the flight showed {abs(off):.0%} {'more' if off > 0.0 else 'less'}.")
        )
    return Advice(
        topic=Topic.THRUST,
        headline=headline,
        change=ratio < THRUST_TO_WEIGHT_WANTED,
        reasoning=tuple(reasoning),
        value=ratio,
        sigma=sigma,
        source=f"{THRUST_TO_WEIGHT.says} ({THRUST_TO_WEIGHT.reference})",
    )


def _planned(facts: FlightFacts) -> float | None:
    plan = facts.plan
    thrust = plan.mean_thrust_n
    if thrust is None and plan.total_impulse_ns is not None and plan.burn_time_s is not None:
        thrust = plan.total_impulse_ns / plan.burn_time_s
    return None if thrust is None or plan.rocket_mass_kg is None else thrust / (plan.rocket_mass_kg * G0_MPS2)
