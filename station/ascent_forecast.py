"""The climb, foretold from the plan's figures. Pure.

Straight up, with the motor's mean thrust, a steady burn and a drag coefficient that does not change: good to some
5-10 % below Mach 0.8 where the coefficient is right, too high beyond, where drag rises (common practice, no source).
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import atan, log, sqrt

from station.atmosphere import G0_MPS2

_STEP_S = 0.01
_LONGEST_S = 600.0
_BISECTIONS = 200


@dataclass(frozen=True, slots=True)
class Ascent:
    """Times from liftoff, heights above the pad; the speed at burnout is the highest."""

    burnout_s: float
    burnout_m: float
    burnout_mps: float
    apogee_s: float
    apogee_m: float

    @property
    def coast_s(self) -> float:
        """From burnout to apogee: the delay that a motor's ejection charge wants."""
        return self.apogee_s - self.burnout_s


def foretell_ascent(
    *,
    mass_kg: float,
    propellant_kg: float,
    thrust_n: float,
    burn_s: float,
    drag_area_m2: float,
    density_kgpm3: Callable[[float], float],
) -> Ascent | None:
    """The climb from the pad; None if the thrust does not lift the weight, or no apogee comes within 600 s.

    `mass_kg` is at liftoff, `drag_area_m2` drag coefficient times frontal area, `density_kgpm3` of the air at a
    height above the pad. Fourth-order Runge-Kutta steps.
    """
    if thrust_n <= mass_kg * G0_MPS2:
        return None
    half_area = 0.5 * drag_area_m2

    def gain(height_m: float, speed_mps: float, thrust: float, mass: float) -> float:
        drag = half_area * density_kgpm3(height_m) * speed_mps * abs(speed_mps)
        return (thrust - drag) / mass - G0_MPS2

    def step(h: float, v: float, dt: float, thrust: float, mass: float, mass_end: float) -> tuple[float, float]:
        middle = 0.5 * (mass + mass_end)
        a1 = gain(h, v, thrust, mass)
        v2 = v + 0.5 * dt * a1
        a2 = gain(h + 0.5 * dt * v, v2, thrust, middle)
        v3 = v + 0.5 * dt * a2
        a3 = gain(h + 0.5 * dt * v2, v3, thrust, middle)
        v4 = v + dt * a3
        a4 = gain(h + dt * v3, v4, thrust, mass_end)
        return h + dt * (v + 2.0 * v2 + 2.0 * v3 + v4) / 6.0, v + dt * (a1 + 2.0 * a2 + 2.0 * a3 + a4) / 6.0

    h = v = 0.0
    steps = max(1, round(burn_s / _STEP_S))
    dt = burn_s / steps
    for n in range(steps):
        before, after = (mass_kg - propellant_kg * share / steps for share in (n, n + 1))
        h, v = step(h, v, dt, thrust_n, before, after)
    burnout_m, burnout_mps = h, v
    dry_kg = mass_kg - propellant_kg
    for n in range(round(_LONGEST_S / _STEP_S)):
        next_h, next_v = step(h, v, _STEP_S, 0.0, dry_kg, dry_kg)
        if next_v <= 0.0:
            # Drag is nothing here: the last bit of the way is a throw.
            return Ascent(
                burn_s,
                burnout_m,
                burnout_mps,
                burn_s + n * _STEP_S + v / G0_MPS2,
                h + v * v / (2.0 * G0_MPS2),
            )
        h, v = next_h, next_v
    return None


def rail_exit_mps(*, mass_kg: float, thrust_n: float, rail_length_m: float) -> float | None:
    """Speed at the end of a vertical rail, without friction and drag: v^2 = 2 (T/m - g) L.

    With the mean thrust; most motors push harder than that at first. None if the thrust does not lift the weight.
    """
    gain_mps2 = thrust_n / mass_kg - G0_MPS2
    return sqrt(2.0 * gain_mps2 * rail_length_m) if gain_mps2 > 0.0 else None


def coast_time_s(*, speed_mps: float, height_m: float) -> float | None:
    """How long a coast takes that begins at `speed_mps` and gains `height_m`, by the closed forms of steady drag.

    With k the drag per mass and speed squared: h = ln(1 + k v^2/g)/(2 k) gives k, and t = atan(v sqrt(k/g))/sqrt(k g)
    the time (as widely printed). None if no drag makes these two agree: the height is more than v^2/(2 g).
    """
    if speed_mps <= 0.0 or not 0.0 < height_m <= speed_mps**2 / (2.0 * G0_MPS2):
        return None
    low, high = 1e-12, 1.0 / height_m
    while log(1.0 + high * speed_mps**2 / G0_MPS2) / (2.0 * high) > height_m:
        high *= 2.0
    for _ in range(_BISECTIONS):
        k = sqrt(low * high)
        if log(1.0 + k * speed_mps**2 / G0_MPS2) / (2.0 * k) > height_m:
            low = k
        else:
            high = k
    k = sqrt(low * high)
    return atan(speed_mps * sqrt(k / G0_MPS2)) / sqrt(k * G0_MPS2)
