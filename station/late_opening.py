"""How long after the highest point a parachute surely took hold."""

from math import hypot

from station.flight_state import Deployment, Event

# A moment that is known no better than this (s) was not seen as it happened: a silence of 2.4 s or more hid it (our
# choice, no source).
UNSEEN_S = 0.7


def surely_after_top_s(deployment: Deployment, apogee: Event) -> float | None:
    """Seconds from apogee to the hold, at least so many by two standard deviations where a silence hid one of the two.

    None where no hold was seen.
    """
    if deployment.opened_t_ms is None:
        return None
    sigma_s = hypot(deployment.opened_sigma_s or 0.0, apogee.sigma_s)
    return (deployment.opened_t_ms - apogee.t_ms) / 1000.0 - (2.0 * sigma_s if sigma_s > UNSEEN_S else 0.0)
