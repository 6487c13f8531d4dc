"""The way down, foretold from the plan's rates: how long, how far the wind carries it, how hard it lands. Pure.

The rates are taken as the same at every height. In thinner air it falls faster (5 % at 1 km), so that the times and
the drift come out a little long; but wind is mostly stronger higher up, and the climb is not counted.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import pi

from station.atmosphere import G0_MPS2


class WayDown(StrEnum):
    """Under what it comes down."""

    DROGUE_THEN_MAIN = "drogue, then main"
    MAIN_AT_APOGEE = "main from apogee"
    ONE_PARACHUTE = "one parachute"


@dataclass(frozen=True, slots=True)
class Descent:
    """One way down: seconds from apogee to the ground, and metres downwind (None: the wind is not known)."""

    way: WayDown
    seconds: float
    drift_m: float | None


def descent(
    way: WayDown, *, apogee_m: float, main_mps: float, wind_mps: float | None, drogue: tuple[float, float] | None = None
) -> Descent:
    """`drogue` is (rate m/s, height m where the main takes over); without it the main carries all the way."""
    if drogue is None:
        seconds = apogee_m / main_mps
    else:
        drogue_mps, main_height_m = drogue
        under_main_m = min(main_height_m, apogee_m)
        seconds = (apogee_m - under_main_m) / drogue_mps + under_main_m / main_mps
    return Descent(way, seconds, None if wind_mps is None else wind_mps * seconds)


def landing_energy_j(mass_kg: float, rate_mps: float) -> float:
    """Kinetic energy at the ground, J, if it lands in one piece or tied together."""
    return 0.5 * mass_kg * rate_mps**2


def canopy_drag_coefficient(mass_kg: float, density_kgpm3: float, diameter_m: float, rate_mps: float) -> float:
    """What drag coefficient, on the flat area, a canopy of this diameter needs for this rate."""
    return 2.0 * mass_kg * G0_MPS2 / (density_kgpm3 * pi * diameter_m**2 / 4.0 * rate_mps**2)
