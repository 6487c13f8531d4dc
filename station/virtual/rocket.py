"""The rocket, its motor and its parachutes: plain values in SI units. Every one of them is invented."""

from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt

from station.virtual.air import GRAVITY_MPS2

Curve = tuple[tuple[float, float], ...]

# Drag coefficient against Mach number, as a factor on the subsonic value: flat, a steep rise to just past
# Mach 1, a slow fall after. The shape is common practice; the figures are invented.
TRANSONIC_RISE: tuple[tuple[float, float], ...] = (
    (0.0, 1.0),
    (0.75, 1.0),
    (0.9, 1.15),
    (1.0, 1.55),
    (1.1, 1.75),
    (1.25, 1.70),
    (1.6, 1.45),
    (2.2, 1.20),
    (3.5, 1.00),
)
CONSTANT_DRAG: tuple[tuple[float, float], ...] = ((0.0, 1.0),)


@dataclass(frozen=True, slots=True)
class Rocket:
    """An airframe without motor. Masses in kg, lengths in m."""

    dry_mass_kg: float
    diameter_m: float
    drag_coefficient: float
    length_m: float = 1.2
    drag_rise: tuple[tuple[float, float], ...] = TRANSONIC_RISE

    def __post_init__(self) -> None:
        if min(self.dry_mass_kg, self.diameter_m, self.drag_coefficient, self.length_m) <= 0.0:
            raise ValueError("a rocket's masses, lengths and drag coefficient are above zero")
        if any(b[0] <= a[0] for a, b in pairwise(self.drag_rise)):
            raise ValueError("the drag curve's Mach numbers must rise")

    @property
    def frontal_area_m2(self) -> float:
        """Area of the airframe's round section."""
        return pi * self.diameter_m**2 / 4.0

    @property
    def tumbling_drag_area_m2(self) -> float:
        """Drag coefficient times area of the airframe apart and tumbling (invented: 0.12 of its side)."""
        return 0.12 * self.length_m * self.diameter_m


@dataclass(frozen=True, slots=True)
class Motor:
    """Thrust curve as (seconds since ignition, newtons), propellant mass, and its ejection charge's delay.

    `ejection_delay_s` counts from burnout; None when the motor has no ejection charge.
    `case_mass_kg` is what is left of the motor after burnout and is carried all the way.
    """

    thrust_curve: tuple[tuple[float, float], ...]
    propellant_mass_kg: float
    case_mass_kg: float = 0.0
    ejection_delay_s: float | None = None

    def __post_init__(self) -> None:
        if len(self.thrust_curve) < 2 or any(b[0] <= a[0] for a, b in pairwise(self.thrust_curve)):
            raise ValueError("a thrust curve needs two or more points with rising times")
        if any(force < 0.0 for _, force in self.thrust_curve) or self.total_impulse_ns <= 0.0:
            raise ValueError("a thrust curve has no negative thrust and some impulse")

    @property
    def total_impulse_ns(self) -> float:
        """Area under the thrust curve, N s."""
        return sum((b[0] - a[0]) * (a[1] + b[1]) / 2.0 for a, b in pairwise(self.thrust_curve))

    @property
    def peak_thrust_n(self) -> float:
        """Highest point of the thrust curve."""
        return max(force for _, force in self.thrust_curve)

    @property
    def burn_end_s(self) -> float:
        """Seconds from ignition until thrust last falls under 5 % of its peak.

        NFPA 1125's definition of the end of burning, as printed on a motor retailer's page.
        """
        limit = 0.05 * self.peak_thrust_n
        for (t0, f0), (t1, f1) in reversed(list(pairwise(self.thrust_curve))):
            if f1 >= limit:
                return t1
            if f0 >= limit:
                return t0 + (t1 - t0) * (f0 - limit) / (f0 - f1)
        raise AssertionError("a curve with a peak has a point above 5 % of it")


@dataclass(frozen=True, slots=True)
class Parachute:
    """Drag coefficient times area (m^2) and diameter (m) of a canopy, and how it comes out.

    `stretch_s`: from its charge firing to stretched lines. Then the canopy fills over a distance of
    `fill_diameters` diameters through the air (about 8 for a flat round canopy in Knacke's parachute design
    manual, from memory), so it fills slowly in the still air near apogee and quickly in a fast fall.
    """

    drag_area_m2: float
    diameter_m: float
    stretch_s: float = 0.4
    fill_diameters: float = 8.0

    def __post_init__(self) -> None:
        if min(self.drag_area_m2, self.diameter_m, self.fill_diameters) <= 0.0 or self.stretch_s < 0.0:
            raise ValueError("a parachute's figures are above zero")


@dataclass(frozen=True, slots=True)
class Recovery:
    """The parachutes aboard. With one only, it is the main."""

    drogue: Parachute | None
    main: Parachute | None


def thrust_curve(
    shape: tuple[tuple[float, float], ...], impulse_ns: float, burn_s: float
) -> tuple[tuple[float, float], ...]:
    """A curve of that impulse and length, from a shape of (share of the burn, thrust in any unit)."""
    area = sum((b[0] - a[0]) * (a[1] + b[1]) / 2.0 for a, b in pairwise(shape))
    scale = impulse_ns / (burn_s * area)
    return tuple((burn_s * part, scale * level) for part, level in shape)


def canopy(mass_kg: float, rate_mps: float, beside_m2: float, stretch_s: float, fill_diameters: float) -> Parachute:
    """One that lets a mass down at that rate at sea level, beside so much other drag area."""
    area = max(0.004, 2.0 * mass_kg * GRAVITY_MPS2 / (1.225 * rate_mps**2) - beside_m2)
    return Parachute(area, sqrt(4.0 * area / (1.5 * pi)), stretch_s, fill_diameters)
