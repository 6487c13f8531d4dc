"""When the first parachute took hold, how far from the top, and at what speed: added to what was judged of it.

Before it comes out the rocket is in one piece and its speed is known from the coast, on the way up and down.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from station.advice.wording import with_bar
from station.coasting import Coasting
from station.flight_state import Deployment, Event, Verdict
from station.top_opening import TopOpening

# Nearer to the top than this it is "at the top" in words.
AT_THE_TOP_S = 0.5
SLOW_MPS = 5.0
# The moment of opening is that of the full canopy; it began to brake so long before (virtual flights, no source).
FILLS_FOR_S = 0.15
FILLS_SIGMA_S = 0.2


def with_openings(
    deployments: Sequence[Deployment],
    *,
    by_motor: bool,
    liftoff: Event | None,
    apogee: Event | None,
    coasting: Coasting | None,
    opening: TopOpening | None,
) -> tuple[Deployment, ...]:
    """The deployments, the first to open with its speed; one thrown out by the motor with a sentence of when.

    One that was out in the climb is `early`. `opening` and `coasting` count their seconds from `liftoff`.
    """
    opened = [d for d in deployments if d.opened_t_ms is not None]
    if liftoff is None or apogee is None or not opened:
        return tuple(deployments)
    first = min(opened, key=lambda deployment: deployment.opened_t_ms or 0.0)
    speed = _speed(first, liftoff, coasting if _in_one_piece(first, deployments) else None, opening)
    if speed is None:
        return tuple(deployments)
    velocity, sigma = speed
    told = replace(first, opened_velocity_mps=velocity, opened_velocity_sigma_mps=sigma)
    early = opening is not None and opening.in_the_climb
    if early and opening is not None:
        told = replace(
            told,
            verdict=Verdict.EARLY if first.verdict is Verdict.CONFIRMED else first.verdict,
            opened_t_ms=liftoff.t_ms + 1000.0 * opening.t_s,
            opened_sigma_s=opening.sigma_s,
            opened_altitude_m=opening.altitude_m,
        )
    if by_motor and told.opened_t_ms is not None:
        top_s = coasting.top_s if early and coasting is not None else (apogee.t_ms - liftoff.t_ms) / 1000.0
        began_s = (told.opened_t_ms - liftoff.t_ms) / 1000.0 - (0.0 if early else FILLS_FOR_S)
        late_s = began_s - top_s
        told = replace(told, reasons=(*told.reasons, _how_far_from_the_top(late_s, velocity, sigma, early=early)))
    return tuple(told if deployment is first else deployment for deployment in deployments)


def _in_one_piece(first: Deployment, deployments: Sequence[Deployment]) -> bool:
    """Nothing changed the coast before the first opening that was seen: no held rate and no other charge that fired.

    What came out in the climb or tangled has no moment of opening of its own, and a charge parts the airframe all the
    same.
    """
    assert first.opened_t_ms is not None
    if first.rate_before_mps is not None:
        return False
    others = [d.fired_t_ms for d in deployments if d is not first and d.fired_t_ms is not None]
    return all(fired_ms > first.opened_t_ms for fired_ms in others)


def _speed(
    first: Deployment, liftoff: Event, coasting: Coasting | None, opening: TopOpening | None
) -> tuple[float, float] | None:
    """(Velocity m/s + up, standard deviation) when the first parachute began to hold."""
    if opening is not None:
        return opening.velocity_mps, opening.velocity_sigma_mps
    if coasting is None or first.opened_t_ms is None:
        return None
    opened_s = (first.opened_t_ms - liftoff.t_ms) / 1000.0
    began_s = opened_s - FILLS_FOR_S
    velocity, sigma = coasting.velocity_at(began_s)
    change = coasting.velocity_at(began_s + hypot(first.opened_sigma_s or 0.0, FILLS_SIGMA_S))[0] - velocity
    return velocity, hypot(sigma, change)


def _how_far_from_the_top(late_s: float, velocity_mps: float, sigma_mps: float, *, early: bool) -> str:
    if early:
        where = f"in the climb already, {-late_s:.1f} s before the top that it was on its way to"
    elif abs(late_s) < AT_THE_TOP_S:
        where = "at the highest point"
    else:
        where = f"{abs(late_s):.1f} s {'after' if late_s > 0.0 else 'before'} the highest point"
    if abs(velocity_mps) < SLOW_MPS:
        return f"It began to hold {where}, at less than {SLOW_MPS + 2.0 * sigma_mps:.0f} m/s."
    way = "falling" if velocity_mps < 0.0 else "going up"
    return f"It began to hold {where}, {way} at {with_bar(abs(velocity_mps), sigma_mps, 'm/s')}."
