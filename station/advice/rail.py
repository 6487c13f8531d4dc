"""The speed at the end of the launch rail, by then fast enough for the fins or not.

With an accelerometer: its gain over rest, integrated twice until the rail's length is covered. Without one: v^2 = 2 a L
with the boost's mean acceleration, which a motor mostly exceeds at first; hence the wide error bar.
"""

from math import hypot, sqrt

import numpy as np

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar
from station.flight_state import EventName
from station.rules import RAIL_EXIT, RAIL_EXIT_MPS

BEFORE_LIFTOFF_S = 0.2
LATEST_S = 1.5
LONGEST_STEP_S = 0.12
# Scale of the sensor, and where between two samples the motion began.
SCALE_SIGMA = 0.02
SHAKE_SIGMA_MPS = 0.3
MEAN_GAIN_FACTOR, MEAN_GAIN_SIGMA = 1.25, 0.35
# A crosswind of a quarter of its speed turns a rocket by 14 degrees (common practice, no source).
WIND_SHARE = 0.25


def rail_advice(facts: FlightFacts) -> Advice | None:
    """The speed at the end of the plan's rail; None without a rail's length or a boost."""
    length_m = facts.plan.rail_length_m
    if length_m is None or facts.curve is None:
        return None
    measured = _by_force(facts, length_m)
    found = measured or _by_the_mean(facts, length_m)
    if found is None:
        return None
    speed, sigma = found
    slow = speed < RAIL_EXIT_MPS
    wind = facts.plan.wind_mps
    windy = wind is not None and wind > WIND_SHARE * speed
    headline = f"Rail: it left the rail at {with_bar(speed, sigma, 'm/s')}"
    if slow:
        headline += f", slower than the {RAIL_EXIT_MPS:.0f} m/s to aim for: a longer rail or a stronger motor."
    elif windy:
        headline += f", too slow for a wind of {wind:.1f} m/s: less wind, a longer rail or a stronger motor."
    else:
        headline += f", {RAIL_EXIT_MPS:.0f} m/s or more is the aim."
    how = "by the accelerometer" if measured is not None else "by the mean of the whole boost, which is a rough guide"
    reasoning = [f"That is {how}, at the end of {length_m:g} m."]
    if windy and wind is not None:
        reasoning.append(
            f"The plan's wind of {wind:.1f} m/s was more than a quarter of that: such a rocket turns into the wind."
        )
    return Advice(
        topic=Topic.RAIL,
        headline=headline,
        change=slow or windy,
        reasoning=tuple(reasoning),
        value=speed,
        sigma=sigma,
        unit="m/s",
        source=f"{RAIL_EXIT.says} ({RAIL_EXIT.reference})",
    )


def _by_force(facts: FlightFacts, length_m: float) -> tuple[float, float] | None:
    curve = facts.curve
    assert curve is not None
    part = curve.rows((curve.t_s > -BEFORE_LIFTOFF_S) & (curve.t_s < LATEST_S) & np.isfinite(curve.gained_mps2))
    if len(part.t_s) < 4 or not facts.by_force:
        return None
    gain = np.where(part.t_s < 0.0, 0.0, part.gained_mps2)
    steps = np.diff(part.t_s)
    speed = np.concatenate([[0.0], np.cumsum(0.5 * (gain[1:] + gain[:-1]) * steps)])
    way = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * steps)])
    past = np.flatnonzero(way >= length_m)
    if past.size == 0:
        return None
    k = int(past[0])
    if float(steps[:k].max()) > LONGEST_STEP_S:
        return None  # too little was heard while it was on the rail
    share = (length_m - way[k - 1]) / (way[k] - way[k - 1])
    end = float(speed[k - 1] + share * (speed[k] - speed[k - 1]))
    # The speed at a given way depends little on when the motion began: v dv = a ds.
    start_sigma = 0.35 * float(steps[:k].max()) * float(np.max(gain[: k + 1]))
    return end, hypot(SCALE_SIGMA * end, SHAKE_SIGMA_MPS, start_sigma)


def _by_the_mean(facts: FlightFacts, length_m: float) -> tuple[float, float] | None:
    burnout, burn_s = facts.events.get(EventName.BURNOUT), facts.seconds(EventName.BURNOUT)
    if burnout is None or burn_s is None or burn_s <= 0.0 or burnout.velocity_mps <= 0.0:
        return None
    speed = sqrt(2.0 * MEAN_GAIN_FACTOR * burnout.velocity_mps / burn_s * length_m)
    return speed, 0.5 * MEAN_GAIN_SIGMA * speed + SHAKE_SIGMA_MPS
