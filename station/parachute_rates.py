"""At what rates of descent a parachute holds, a tangled one slows, and a bare airframe falls.

All in m/s at the pad's density. The bands without a plan (drogue 15-30 m/s, main 3.5-7 m/s) are common practice, no
source; a plan's rates replace them.
"""

from math import sqrt

from station.atmosphere import SEA_LEVEL_DENSITY_KGPM3
from station.plan import FlightPlan
from station.records import Role

# A parachute that is well over its planned rate is 1.5 times it.
OVER_PLAN = 1.5
DROGUE_FASTEST_MPS = 32.0
# What comes down slower than this has more than a drogue out.
DROGUE_SLOWEST_MPS = 13.5
MAIN_FASTEST_MPS = 9.5
# Without a plan: what is over the usual band and not too fast yet may be a larger drogue tangled.
DROGUE_SURE_MPS = 30.0
# Without a plan: mains are made for up to 7.5 m/s (25 ft/s) in the standard air at sea level (common practice, no
# source), and fall faster in the thinner air of the day; where no drogue (of 14 m/s and more) helps them, by up to a
# fifth. Gusts add a little. What is faster still, and not too fast yet, may be a larger one tangled.
MAIN_MADE_FOR_MPS = 7.5
WITH_DROGUE = 1.04
WITHOUT_DROGUE = 1.19
GUSTS_MPS = 0.3
# A bare airframe falls faster than this; between it and the drogue's limit something slows the rocket.
BARE_AIRFRAME_MPS = 48.0
# A free fall of six seconds: no ejection charge of a motor is meant to come so late.
SURELY_BARE_MPS = 60.0
# A descent has changed when it slows to this part of what it was, as by a third more drag area: gusts change the mean
# rate of some seconds by less.
CHANGED_FRACTION = 0.85


def planned_rate_mps(plan: FlightPlan | None, role: Role) -> float | None:
    """What the plan says that this parachute comes down at, None where it says nothing."""
    if plan is None:
        return None
    return plan.drogue_rate_mps if role is Role.DROGUE else plan.main_rate_mps


def fastest_allowed_mps(plan: FlightPlan | None, role: Role) -> float:
    """The most that this parachute is let come down at: what is faster is too fast."""
    planned_mps = planned_rate_mps(plan, role)
    if planned_mps is not None:
        return OVER_PLAN * planned_mps
    return DROGUE_FASTEST_MPS if role is Role.DROGUE else MAIN_FASTEST_MPS


def main_sure_mps(pad_density_kgpm3: float, *, with_drogue: bool) -> float:
    """The fastest fall (m/s, at the pad's density) that without a plan surely is a whole main's, in the day's air."""
    alone = WITH_DROGUE if with_drogue else WITHOUT_DROGUE
    return MAIN_MADE_FOR_MPS * alone * sqrt(SEA_LEVEL_DENSITY_KGPM3 / pad_density_kgpm3) + GUSTS_MPS
