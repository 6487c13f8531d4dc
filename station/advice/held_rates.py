"""How fast the rocket came down under each parachute, at the pad's air density, and how sure that is.

A parachute sinks at a speed proportional to 1/sqrt(density), so the rate at one density holds at all heights.
"""

from math import exp, hypot, sqrt

from station.advice.facts import FlightFacts
from station.atmosphere import density_ratio
from station.records import Role
from station.stretch import Stretch

# Rising and sinking air: its size, and how long it lasts (common practice, no source).
AIR_SIGMA_MPS = 0.4
AIR_LASTS_S = 4.0
FALL_STEPS = 32


def held_rate(facts: FlightFacts, role: Role) -> tuple[float, float] | None:
    """(Rate m/s + down at the pad's density, standard deviation) under a parachute that held; else None."""
    stretch = facts.hold(role)
    if stretch is None or stretch.rate_mps is None:
        return None
    return stretch.rate_mps, rate_sigma(stretch)


def fall_s(from_m: float, to_m: float, rate_mps: float, pad_kelvin: float) -> float:
    """Seconds to sink between two heights at `rate_mps` at the pad's density: dt = sqrt(rho/rho_pad) dh / v."""
    step = (from_m - to_m) / FALL_STEPS
    middles = (to_m + (n + 0.5) * step for n in range(FALL_STEPS))
    return sum(sqrt(density_ratio(height, pad_kelvin)) for height in middles) * step / rate_mps


def rate_sigma(stretch: Stretch) -> float:
    """Standard deviation of a stretch's rate, m/s, the air that rose and sank meanwhile included."""
    seconds = max(0.5, stretch.steady_s)
    # Mean of a first-order Gauss-Markov series over this time.
    share = 2.0 * AIR_LASTS_S / seconds * (1.0 - AIR_LASTS_S / seconds * (1.0 - exp(-seconds / AIR_LASTS_S)))
    return hypot(0.6 / seconds, 0.01 * (stretch.rate_mps or 0.0), AIR_SIGMA_MPS * sqrt(share))
