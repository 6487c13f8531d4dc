"""How the rocket moves: a point mass in one vertical plane, fourth-order Runge-Kutta steps on plain floats.

Three ways of moving, each with its own equations: along the launch rail; as one piece, nose into the air it
meets; apart, hanging from what has opened. Times are seconds since the recording began.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, pi, sin, sqrt
from typing import Final

from station.virtual.air import GAS_CONSTANT, GRAVITY_MPS2, LAPSE_K_PER_M, PRESSURE_EXPONENT, Array, Day
from station.virtual.flight_path import Motion, Path, motion_on
from station.virtual.rocket import Motor, Parachute, Rocket

BOOST_STEP_S: Final = 0.01
COAST_STEP_S: Final = 0.04
HANGING_STEP_S: Final = 0.1
WEATHERCOCK_LENGTH_M: Final = 20.0  # way through the air in which the nose turns into it (invented)
DENSITY_EXPONENT: Final = PRESSURE_EXPONENT - 1.0

WindAt = Callable[[float, float], tuple[float, float]]


def still_air(t_s: float, height_m: float) -> tuple[float, float]:
    """No wind at any time and height."""
    del t_s, height_m
    return 0.0, 0.0


@dataclass(slots=True)
class Canopy:
    """A parachute on its way out: when its lines are stretched, and how full it is (0 to 1)."""

    parachute: Parachute
    stretched_t_s: float
    share: float = 1.0
    filled: float = 0.0


class FlightPhysics:
    """Integrates one flight, extended step by step: the flight computer decides in between."""

    def __init__(
        self,
        rocket: Rocket,
        motor: Motor,
        day: Day,
        *,
        ignition_t_s: float = 0.0,
        rail_length_m: float = 1.5,
        rail_tilt_rad: float = 0.0,
        wind: WindAt = still_air,
        constant_density_kgm3: float | None = None,
        ground_m: float = 0.0,
    ) -> None:
        self.rocket, self.motor, self.day = rocket, motor, day
        self.ignition_t_s = ignition_t_s
        self.burn_end_t_s = ignition_t_s + motor.thrust_curve[-1][0]
        self.wind = wind
        self.ground_m = ground_m
        self.path = Path()
        self.canopies: list[Canopy] = []
        self.apart_t_s: float | None = None
        self.liftoff_t_s: float | None = None
        self.touchdown_t_s: float | None = None
        self.dry_mass_kg = rocket.dry_mass_kg + motor.case_mass_kg
        self._mass_per_impulse = motor.propellant_mass_kg / motor.total_impulse_ns
        self._kelvin = day.pad_temperature_k
        self._fall = LAPSE_K_PER_M / day.pad_temperature_k
        self._density = day.pad_density_kgm3 if constant_density_kgm3 is None else constant_density_kgm3
        self._exponent = DENSITY_EXPONENT if constant_density_kgm3 is None else 0.0
        self._half_area = 0.5 * rocket.frontal_area_m2 * rocket.drag_coefficient
        self._drag_rise = _table(rocket.drag_rise)
        self._ascend(rail_length_m, rail_tilt_rad)

    # -- what the mover needs to know --------------------------------------------------------------------

    def density_kgm3(self, height_m: float) -> float:
        """Air density at a height above the pad."""
        return float(self._density * (1.0 - self._fall * height_m) ** self._exponent)

    def _drag_over_speed(self, height_m: float, speed: float) -> float:
        """Drag divided by airspeed, N s/m, of the rocket in one piece."""
        ratio = 1.0 - self._fall * height_m
        mach = speed / sqrt(1.4 * GAS_CONSTANT * self._kelvin * ratio)
        knots, values, slopes = self._drag_rise
        k = 0
        while k + 1 < len(knots) and mach >= knots[k + 1]:
            k += 1
        rise = values[k] + slopes[k] * (mach - knots[k])
        return float(self._density * ratio**self._exponent * self._half_area * rise * speed)

    # -- ascent ----------------------------------------------------------------------------------------

    def _ascend(self, rail_length_m: float, tilt: float) -> None:
        """Pad, rail and powered flight."""
        impulse = 0.0
        along = speed = 0.0
        x = z = vx = vz = 0.0
        theta = tilt
        up, side = cos(tilt), sin(tilt)
        on_rail = True
        path = self.path
        path.add(self.ignition_t_s, 0.0, 0.0, 0.0, 0.0, 0.0, GRAVITY_MPS2 * up, tilt)
        total = self.motor.total_impulse_ns
        for (b0, f0), (b1, f1) in pairwise(self.motor.thrust_curve):
            count = max(1, round((b1 - b0) / BOOST_STEP_S))
            step = (b1 - b0) / count
            slope = (f1 - f0) / (b1 - b0)
            node_needed = bool(path.t)
            for i in range(count):
                h = step
                tau = i * step
                t = self.ignition_t_s + b0 + tau

                def push(
                    d: float, f0: float = f0, slope: float = slope, tau: float = tau, burnt: float = impulse
                ) -> tuple[float, float]:
                    """(Thrust, mass) at `d` seconds into this step."""
                    force = f0 + slope * (tau + d)
                    used = burnt + (f0 + slope * (tau + d / 2.0)) * d
                    return force, self.dry_mass_kg + self._mass_per_impulse * (total - used)

                if on_rail:
                    if node_needed and self.liftoff_t_s is not None:
                        self._rail_node(t, along, speed, tilt, push(0.0))
                    along, speed = self._rail_step(t, h, along, speed, tilt, push)
                    self._rail_node(t + h, along, speed, tilt, push(h))
                    if along >= rail_length_m:
                        on_rail = False
                        x, z, vx, vz = along * side, along * up, speed * side, speed * up
                else:
                    if node_needed:
                        self._free_node(t, x, z, vx, vz, theta, *push(0.0))
                    x, z, vx, vz, theta = self._free_step(t, h, x, z, vx, vz, theta, push)
                    self._free_node(t + h, x, z, vx, vz, theta, *push(h))
                node_needed = False
                impulse += (f0 + slope * (tau + h / 2.0)) * h
        if on_rail and self.liftoff_t_s is None:
            raise ValueError("the motor cannot lift this rocket")
        if on_rail:
            x, z, vx, vz = along * side, along * up, speed * side, speed * up
        self._free_node(self.burn_end_t_s, x, z, vx, vz, theta, 0.0, self.dry_mass_kg)

    def _rail_acceleration(self, along: float, speed: float, tilt: float, force: float, mass: float) -> float:
        drag = self._drag_over_speed(along * cos(tilt), speed) * speed
        return (force - drag) / mass - GRAVITY_MPS2 * cos(tilt)

    def _rail_step(
        self,
        t: float,
        h: float,
        along: float,
        speed: float,
        tilt: float,
        push: Callable[[float], tuple[float, float]],
    ) -> tuple[float, float]:
        if self.liftoff_t_s is None:
            if self._rail_acceleration(along, speed, tilt, *push(h)) <= 0.0:
                return along, speed
            low, high = 0.0, h
            if self._rail_acceleration(along, speed, tilt, *push(0.0)) > 0.0:
                high = 0.0
            while high - low > 1e-9:
                middle = (low + high) / 2.0
                if self._rail_acceleration(along, speed, tilt, *push(middle)) > 0.0:
                    high = middle
                else:
                    low = middle
            self.liftoff_t_s = t + high
            self._rail_node(t + high, along, speed, tilt, push(high))
            start, h = high, h - high
        else:
            start = 0.0
        early, middle_push, late = push(start), push(start + h / 2.0), push(start + h)
        a1 = self._rail_acceleration(along, speed, tilt, *early)
        v2 = speed + a1 * h / 2.0
        a2 = self._rail_acceleration(along + speed * h / 2.0, v2, tilt, *middle_push)
        v3 = speed + a2 * h / 2.0
        a3 = self._rail_acceleration(along + v2 * h / 2.0, v3, tilt, *middle_push)
        v4 = speed + a3 * h
        a4 = self._rail_acceleration(along + v3 * h, v4, tilt, *late)
        return (
            along + h * (speed + 2.0 * v2 + 2.0 * v3 + v4) / 6.0,
            speed + h * (a1 + 2.0 * a2 + 2.0 * a3 + a4) / 6.0,
        )

    def _rail_node(self, t: float, along: float, speed: float, tilt: float, push: tuple[float, float]) -> None:
        up, side = cos(tilt), sin(tilt)
        a = 0.0 if self.liftoff_t_s is None else self._rail_acceleration(along, speed, tilt, *push)
        axial = a + GRAVITY_MPS2 * up
        self.path.add(t, along * side, along * up, speed * side, speed * up, a * up, axial, tilt)

    def _free_rates(
        self, t: float, z: float, vx: float, vz: float, theta: float, force: float, mass: float
    ) -> tuple[float, float, float]:
        """Accelerations along x and z, and the turning rate of the nose."""
        along, up = self.wind(t, z)
        u, w = vx - along, vz - up
        speed = sqrt(u * u + w * w)
        drag = self._drag_over_speed(z, speed) / mass
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

    def _free_step(
        self,
        t: float,
        h: float,
        x: float,
        z: float,
        vx: float,
        vz: float,
        theta: float,
        push: Callable[[float], tuple[float, float]],
    ) -> tuple[float, float, float, float, float]:
        g = h / 2.0
        force, mass = push(0.0)
        ax1, az1, w1 = self._free_rates(t, z, vx, vz, theta, force, mass)
        force, mass = push(g)
        vx2, vz2 = vx + g * ax1, vz + g * az1
        ax2, az2, w2 = self._free_rates(t + g, z + g * vz, vx2, vz2, theta + g * w1, force, mass)
        vx3, vz3 = vx + g * ax2, vz + g * az2
        ax3, az3, w3 = self._free_rates(t + g, z + g * vz2, vx3, vz3, theta + g * w2, force, mass)
        force, mass = push(h)
        vx4, vz4 = vx + h * ax3, vz + h * az3
        ax4, az4, w4 = self._free_rates(t + h, z + h * vz3, vx4, vz4, theta + h * w3, force, mass)
        s = h / 6.0
        return (
            x + s * (vx + 2.0 * (vx2 + vx3) + vx4),
            z + s * (vz + 2.0 * (vz2 + vz3) + vz4),
            vx + s * (ax1 + 2.0 * (ax2 + ax3) + ax4),
            vz + s * (az1 + 2.0 * (az2 + az3) + az4),
            theta + s * (w1 + 2.0 * (w2 + w3) + w4),
        )

    def _free_node(
        self, t: float, x: float, z: float, vx: float, vz: float, theta: float, force: float, mass: float
    ) -> None:
        ax, az, _ = self._free_rates(t, z, vx, vz, theta, force, mass)
        axial = ax * sin(theta) + (az + GRAVITY_MPS2) * cos(theta)
        self.path.add(t, x, z, vx, vz, az, axial, theta)

    # -- after burnout -----------------------------------------------------------------------------------

    def come_apart(self, t_s: float) -> None:
        """From `t_s` on the airframe is open: it tumbles and hangs. Nothing later than that stays."""
        self.rewind(t_s)
        if self.apart_t_s is None:
            self.apart_t_s = t_s

    def open_canopy(self, parachute: Parachute, t_s: float, share: float = 1.0) -> Canopy:
        """A canopy comes out at `t_s` with a share of its drag area (less than 1: tangled)."""
        self.come_apart(t_s)
        canopy = Canopy(parachute, t_s + parachute.stretch_s, share)
        self.canopies.append(canopy)
        self.rewind(t_s)
        return canopy

    def rewind(self, t_s: float) -> None:
        """Fly to exactly `t_s` and forget what was flown after it."""
        if t_s < self.path.t[-1]:
            self.path.cut_after(t_s)
            self.touchdown_t_s = None
            for k, canopy in enumerate(self.canopies[:2]):
                canopy.filled = self.path.fill[-1][k]
        self.fly_to(t_s)

    def fly_to(self, t_s: float) -> None:
        """Extend the path to `t_s`, or to touchdown if that comes first."""
        path = self.path
        while self.touchdown_t_s is None and path.t[-1] < t_s - 1e-9:
            if self.apart_t_s is not None and path.t[-1] >= self.apart_t_s - 1e-9:
                self._hang(t_s)
            else:
                end = t_s if self.apart_t_s is None else min(t_s, self.apart_t_s)
                self._coast(end)

    def _coast(self, end: float) -> None:
        path = self.path
        mass = self.dry_mass_kg

        def push(d: float) -> tuple[float, float]:
            del d
            return 0.0, mass

        t, x, z, vx, vz, theta = path.t[-1], path.x[-1], path.z[-1], path.vx[-1], path.vz[-1], path.tilt[-1]
        while t < end - 1e-9:
            h = min(COAST_STEP_S, end - t)
            new = self._free_step(t, h, x, z, vx, vz, theta, push)
            if new[1] <= self.ground_m and new[3] < 0.0:
                h = self._time_to_ground(h, z, vz)
                new = self._free_step(t, h, x, z, vx, vz, theta, push)
                self.touchdown_t_s = t + h
            x, z, vx, vz, theta = new
            t = t + h if end - t - h > 1e-9 else end
            self._free_node(t, x, z, vx, vz, theta, 0.0, mass)
            if self.touchdown_t_s is not None:
                return

    def _time_to_ground(self, h: float, z: float, vz: float) -> float:
        return min(h, max(1e-6, (z - self.ground_m) / -vz)) if vz < 0.0 else h

    def _hang(self, end: float) -> None:
        path = self.path
        mass = self.dry_mass_kg
        body = self.rocket.tumbling_drag_area_m2
        fall, kelvin_exponent, density = self._fall, self._exponent, self._density
        wind = self.wind
        ready = [
            (
                c,
                c.share * c.parachute.drag_area_m2,
                1.0 / (c.parachute.fill_diameters * c.parachute.diameter_m),
            )
            for c in self.canopies[:2]
        ]
        empty = (None, 0.0, 0.0)
        (one, area_1, rate_1), (two, area_2, rate_2) = [*ready, empty, empty][:2]
        f1 = one.filled if one else 0.0
        f2 = two.filled if two else 0.0
        waits = sorted({c.stretched_t_s for c in self.canopies} | {end})

        def rates(t: float, z: float, vx: float, vz: float, f1: float, f2: float) -> tuple[float, float, float]:
            along, up = wind(t, z)
            u, w = vx - along, vz - up
            speed = sqrt(u * u + w * w)
            f1, f2 = (min(f1, 1.0), min(f2, 1.0))
            area = body + area_1 * f1 * f1 + area_2 * f2 * f2
            k = 0.5 * density * (1.0 - fall * z) ** kelvin_exponent * area * speed / mass
            return -k * u, -k * w - GRAVITY_MPS2, speed

        t, x, z, vx, vz = path.t[-1], path.x[-1], path.z[-1], path.vx[-1], path.vz[-1]
        while t < end - 1e-9:
            ax1, az1, s1 = rates(t, z, vx, vz, f1, f2)
            go_1 = rate_1 if one and t >= one.stretched_t_s - 1e-9 and f1 < 1.0 else 0.0
            go_2 = rate_2 if two and t >= two.stretched_t_s - 1e-9 and f2 < 1.0 else 0.0
            drag = sqrt(ax1 * ax1 + (az1 + GRAVITY_MPS2) ** 2)
            stiff = 2.0 * drag / s1 if s1 > 0.1 else 0.0
            h = min(HANGING_STEP_S, 0.4 / stiff if stiff > 4.0 else HANGING_STEP_S)
            if go_1 or go_2:
                h = min(h, 0.02, 0.1 / (s1 * max(go_1, go_2)) if s1 > 5.0 else 0.02)
            h = max(h, 0.002)
            for wait in waits:
                if t < wait - 1e-9:
                    h = min(h, wait - t)
                    break
            while True:
                g = h / 2.0
                vx2, vz2 = vx + g * ax1, vz + g * az1
                ax2, az2, s2 = rates(t + g, z + g * vz, vx2, vz2, f1 + g * go_1 * s1, f2 + g * go_2 * s1)
                vx3, vz3 = vx + g * ax2, vz + g * az2
                ax3, az3, s3 = rates(t + g, z + g * vz2, vx3, vz3, f1 + g * go_1 * s2, f2 + g * go_2 * s2)
                vx4, vz4 = vx + h * ax3, vz + h * az3
                ax4, az4, s4 = rates(t + h, z + h * vz3, vx4, vz4, f1 + h * go_1 * s3, f2 + h * go_2 * s3)
                s = h / 6.0
                new_z = z + s * (vz + 2.0 * (vz2 + vz3) + vz4)
                if new_z > self.ground_m or vz >= 0.0 or self.touchdown_t_s is not None:
                    break
                h = self._time_to_ground(h, z, vz)
                self.touchdown_t_s = t + h
            x += s * (vx + 2.0 * (vx2 + vx3) + vx4)
            z = new_z
            vx += s * (ax1 + 2.0 * (ax2 + ax3) + ax4)
            vz += s * (az1 + 2.0 * (az2 + az3) + az4)
            way = s * (s1 + 2.0 * (s2 + s3) + s4)
            f1, f2 = min(1.0, f1 + way * go_1), min(1.0, f2 + way * go_2)
            t = t + h if end - t - h > 1e-9 else end
            ax, az, _ = rates(t, z, vx, vz, f1, f2)
            force = sqrt(ax * ax + (az + GRAVITY_MPS2) ** 2)
            path.add(t, x, z, vx, vz, az, force, 0.0, fill=(f1, f2))
            if one:
                one.filled = f1
            if two:
                two.filled = f2
            if self.touchdown_t_s is not None:
                return


def _table(points: tuple[tuple[float, float], ...]) -> tuple[list[float], list[float], list[float]]:
    knots = [p[0] for p in points]
    values = [p[1] for p in points]
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)] + [0.0]
    return knots, values, slopes


def motion_at(physics: FlightPhysics, t_s: Array) -> Motion:
    """The motion at any times: on the pad before ignition, where it landed after touchdown."""
    return motion_on(physics.path, physics.touchdown_t_s, t_s)
