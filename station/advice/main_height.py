"""Where the main was fired and took hold, and how much time was left."""

from math import hypot

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar
from station.flight_state import EventName, Verdict
from station.records import Role
from station.rules import MAIN_HEIGHT

# With less time under it than this, a main that opens a little late does not open in time (common practice, no source).
LEAST_LEFT_S = 8.0
LEAST_HEIGHT_M = 60.0
HIGH_M = 280.0
PLAN_SHARE = 0.15
HEIGHT_SIGMA_M = 2.0


def main_height_advice(facts: FlightFacts) -> Advice | None:
    """Whether the main's height leaves time; None unless a main that was fired low down took hold."""
    main, touchdown_s = facts.deployment(Role.MAIN), facts.seconds(EventName.TOUCHDOWN)
    if facts.by_motor or facts.deployment(Role.DROGUE) is None or main is None:
        return None
    fired_m, opened_m, opened_ms = main.fired_altitude_m, main.opened_altitude_m, main.opened_t_ms
    if main.verdict is not Verdict.CONFIRMED or fired_m is None or opened_m is None or opened_ms is None:
        return None
    opened_s = facts.since_liftoff_s(opened_ms)
    if opened_s is None or touchdown_s is None or main.fired_t_ms is None:
        return None
    left_s = touchdown_s - opened_s
    sigma_s = hypot(main.opened_sigma_s or 0.0, facts.sigma_s(EventName.TOUCHDOWN))
    speed = abs(main.fired_velocity_mps or main.rate_before_mps or 0.0)
    fell_m = max(0.0, fired_m - opened_m)
    fell_sigma_m = hypot(HEIGHT_SIGMA_M, speed * (main.opened_sigma_s or 0.0))
    late = left_s < LEAST_LEFT_S or opened_m < LEAST_HEIGHT_M
    high = opened_m > HIGH_M
    held_m = with_bar(opened_m, fell_sigma_m, "m")
    headline = f"Main height: it held {held_m} up, with {with_bar(left_s, sigma_s, 's')} left"
    if late:
        headline += ": set it higher."
    elif high:
        headline += ": set lower, it drifts less."
    else:
        headline += ", which is enough."
    reasoning = [
        f"It was fired at {fired_m:.0f} m and fell {with_bar(fell_m, fell_sigma_m, 'm')} before it held the rocket."
    ]
    planned = facts.plan.main_height_m
    if planned is not None and abs(fired_m - planned) > PLAN_SHARE * planned + HEIGHT_SIGMA_M:
        reasoning.append(f"The plan says {planned:.0f} m: check the altimeter's setting.")
    return Advice(
        topic=Topic.MAIN_HEIGHT,
        headline=headline,
        change=late or high or len(reasoning) > 1,
        reasoning=tuple(reasoning),
        value=left_s,
        sigma=sigma_s,
        unit="s",
        source=f"{MAIN_HEIGHT.says} ({MAIN_HEIGHT.reference})",
    )
