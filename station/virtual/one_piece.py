"""The equations of a rocket in one piece: along the launch rail, and free with its nose into the air it meets."""

from collections.abc import Callable
from itertools import pairwise
from math import atan2, cos, pi, sin, sqrt
from typing import Final

from station.virtual.air import GAS_CONSTANT, GRAVITY_MPS2, LAPSE_K_PER_M, PRESSURE_EXPONENT, Day
from station.virtual.rocket import Rocket

WEATHERCOCK_LENGTH_M: Final = 20.0  # way through the air in which the nose turns into it (invented)
DENSITY_EXPONENT: Final = PRESSURE_EXPONENT - 1.0

Push = Callable[[float], tuple[float, float]]
"""(Thrust in N, mass in kg) so many seconds into a step."""

WindAt = Callable[[float, float], tuple[float, float]]


def still_air(t_s: float, height_m: float) -> tuple[float, float]:
    """No wind at any time and height."""
    del t_s, height_m
    return 0.0, 0.0


class OnePiece:
    """Drag, forces and steps in time of one rocket on one day."""

    def __init__(self, rocket: Rocket, day: Day, wind: WindAt, constant_density_kgm3: float | None) -> None:
        self.wind = wind
        self.fall = LAPSE_K_PER_M / day.pad_temperature_k
        self.density = day.pad_density_kgm3 if constant_density_kgm3 is None else constant_density_kgm3
        self.exponent = DENSITY_EXPONENT if constant_density_kgm3 is None else 0.0
        self._kelvin = day.pad_temperature_k
        self._half_area = 0.5 * rocket.frontal_area_m2 * rocket.drag_coefficient
        self._drag_rise = _table(rocket.drag_rise)

    def density_at(self, height_m: float) -> float:
        """Air density at a height above the pad."""
        return float(self.density * (1.0 - self.fall * height_m) ** self.exponent)

    def drag_over_speed(self, height_m: float, speed: float) -> float:
        """Drag divided by airspeed, N s/m, of the rocket in one piece."""
        ratio = 1.0 - self.fall * height_m
        mach = speed / sqrt(1.4 * GAS_CONSTANT * self._kelvin * ratio)
        knots, values, slopes = self._drag_rise
        k = 0
        while k + 1 < len(knots) and mach >= knots[k + 1]:
            k += 1
        rise = values[k] + slopes[k] * (mach - knots[k])
        return float(self.density * ratio**self.exponent * self._half_area * rise * speed)

    def rail_acceleration(self, along: float, speed: float, tilt: float, force: float, mass: float) -> float:
        """Along the rail, m/s^2, if nothing holds the rocket."""
        drag = self.drag_over_speed(along * cos(tilt), speed) * speed
        return (force - drag) / mass - GRAVITY_MPS2 * cos(tilt)

    def first_motion(self, tilt: float, push: Push, h: float) -> float | None:
        """How far into a step of `h` seconds thrust first exceeds weight along the rail, or None."""

        def lifts(d: float) -> bool:
            return self.rail_acceleration(0.0, 0.0, tilt, *push(d)) > 0.0

        if lifts(0.0):
            return 0.0
        if not lifts(h):
            return None
        low, high = 0.0, h
        while high - low > 1e-9:
            middle = (low + high) / 2.0
            low, high = (low, middle) if lifts(middle) else (middle, high)
        return high

    def rail_step(
        self,
        start: float,
        h: float,
        along: float,
        speed: float,
        tilt: float,
        push: Push,
    ) -> tuple[float, float]:
        """(Way, speed) along the rail after the step from `start` to `start` + `h` seconds into the push."""
        early, middle_push, late = push(start), push(start + h / 2.0), push(start + h)
        a1 = self.rail_acceleration(along, speed, tilt, *early)
        v2 = speed + a1 * h / 2.0
        a2 = self.rail_acceleration(along + speed * h / 2.0, v2, tilt, *middle_push)
        v3 = speed + a2 * h / 2.0
        a3 = self.rail_acceleration(along + v2 * h / 2.0, v3, tilt, *middle_push)
        v4 = speed + a3 * h
        a4 = self.rail_acceleration(along + v3 * h, v4, tilt, *late)
        return (
            along + h * (speed + 2.0 * v2 + 2.0 * v3 + v4) / 6.0,
            speed + h * (a1 + 2.0 * a2 + 2.0 * a3 + a4) / 6.0,
        )

    def free_rates(
        self, t: float, z: float, vx: float, vz: float, theta: float, force: float, mass: float
    ) -> tuple[float, float, float]:
        """Accelerations along x and z, and the turning rate of the nose."""
        along, up = self.wind(t, z)
        u, w = vx - along, vz - up
        speed = sqrt(u * u + w * w)
        drag = self.drag_over_speed(z, speed) / mass
        push = force / mass
        turn = atan2(u, w) - theta
        if turn > pi:
            turn -= 2.0 * pi
        elif turn < -pi:
            turn += 2.0 * pi
        return (
            push * sin(theta) - drag * u,
            push * cos(theta) - drag * w - GRAVITY_MPS2,
            turn * speed / WEATHERCOCK_LENGTH_M,
        )

    def free_step(
        self,
        t: float,
        h: float,
        x: float,
        z: float,
        vx: float,
        vz: float,
        theta: float,
        push: Push,
    ) -> tuple[float, float, float, float, float]:
        """(x, z, vx, vz, tilt) after a step of `h` seconds."""
        g = h / 2.0
        force, mass = push(0.0)
        ax1, az1, w1 = self.free_rates(t, z, vx, vz, theta, force, mass)
        force, mass = push(g)
        vx2, vz2 = vx + g * ax1, vz + g * az1
        ax2, az2, w2 = self.free_rates(t + g, z + g * vz, vx2, vz2, theta + g * w1, force, mass)
        vx3, vz3 = vx + g * ax2, vz + g * az2
        ax3, az3, w3 = self.free_rates(t + g, z + g * vz2, vx3, vz3, theta + g * w2, force, mass)
        force, mass = push(h)
        vx4, vz4 = vx + h * ax3, vz + h * az3
        ax4, az4, w4 = self.free_rates(t + h, z + h * vz3, vx4, vz4, theta + h * w3, force, mass)
        s = h / 6.0
        return (
            x + s * (vx + 2.0 * (vx2 + vx3) + vx4),
            z + s * (vz + 2.0 * (vz2 + vz3) + vz4),
            vx + s * (ax1 + 2.0 * (ax2 + ax3) + ax4),
            vz + s * (az1 + 2.0 * (az2 + az3) + az4),
            theta + s * (w1 + 2.0 * (w2 + w3) + w4),
        )


def _table(points: tuple[tuple[float, float], ...]) -> tuple[list[float], list[float], list[float]]:
    knots = [p[0] for p in points]
    values = [p[1] for p in points]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)] + [0.0]
    return knots, values, slopes
