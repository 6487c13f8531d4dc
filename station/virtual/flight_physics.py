"""How the rocket moves: a point mass in one vertical plane, fourth-order Runge-Kutta steps on plain floats.

Three ways of moving, each with its own equations: along the launch rail; as one piece, nose into the air it
meets; apart, hanging from what has opened. Times are seconds since the recording began.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import cos, inf, sin, sqrt
from typing import Final

from station.virtual.air import GRAVITY_MPS2, Array, Day
from station.virtual.flight_path import Motion, Path, motion_on
from station.virtual.one_piece import OnePiece, WindAt, still_air
from station.virtual.rocket import Motor, Parachute, Rocket

BOOST_STEP_S: Final = 0.01
COAST_STEP_S: Final = 0.04
HANGING_STEP_S: Final = 0.1
SAME_TIME_S: Final = 1e-9


@dataclass(slots=True)
class Canopy:
    """A parachute on its way out: when its lines are stretched, and how full it is (0 to 1).

    From `lets_go_t_s` on it keeps `kept_share` of its drag.
    """

    parachute: Parachute
    stretched_t_s: float
    share: float = 1.0
    filled: float = 0.0
    lets_go_t_s: float = inf
    kept_share: float = 0.0

    def full_area_m2(self, t_s: float) -> float:
        """Its drag area at a time, were it full then."""
        kept = self.kept_share if t_s > self.lets_go_t_s - SAME_TIME_S else 1.0
        return self.share * kept * self.parachute.drag_area_m2


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
        self.ground_m = ground_m
        self.path = Path()
        self.canopies: list[Canopy] = []
        self.apart_t_s: float | None = None
        self.liftoff_t_s: float | None = None
        self.touchdown_t_s: float | None = None
        self.dry_mass_kg = rocket.dry_mass_kg + motor.case_mass_kg
        self._mass_per_impulse = motor.propellant_mass_kg / motor.total_impulse_ns
        self._body = OnePiece(rocket, day, wind, constant_density_kgm3)
        self._ascend(rail_length_m, rail_tilt_rad)

    def density_kgm3(self, height_m: float) -> float:
        """Air density at a height above the pad."""
        return self._body.density_at(height_m)

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
                    start = 0.0
                    if self.liftoff_t_s is None:
                        first = self._body.first_motion(tilt, push, h)
                        if first is None:
                            start = h
                        else:
                            start, self.liftoff_t_s = first, t + first
                            self._rail_node(t + first, along, speed, tilt, push(first))
                    if start < h:
                        along, speed = self._body.rail_step(start, h - start, along, speed, tilt, push)
                    self._rail_node(t + h, along, speed, tilt, push(h))
                    if along >= rail_length_m:
                        on_rail = False
                        x, z, vx, vz = along * side, along * up, speed * side, speed * up
                else:
                    if node_needed:
                        self._free_node(t, x, z, vx, vz, theta, *push(0.0))
                    x, z, vx, vz, theta = self._body.free_step(t, h, x, z, vx, vz, theta, push)
                    self._free_node(t + h, x, z, vx, vz, theta, *push(h))
                node_needed = False
                impulse += (f0 + slope * (tau + h / 2.0)) * h
        if on_rail and self.liftoff_t_s is None:
            raise ValueError("the motor cannot lift this rocket")
        if on_rail:
            x, z, vx, vz = along * side, along * up, speed * side, speed * up
        self._free_node(self.burn_end_t_s, x, z, vx, vz, theta, 0.0, self.dry_mass_kg)

    def _rail_node(self, t: float, along: float, speed: float, tilt: float, push: tuple[float, float]) -> None:
        up, side = cos(tilt), sin(tilt)
        a = 0.0 if self.liftoff_t_s is None else self._body.rail_acceleration(along, speed, tilt, *push)
        axial = a + GRAVITY_MPS2 * up
        self.path.add(t, along * side, along * up, speed * side, speed * up, a * up, axial, tilt)

    def _free_node(
        self, t: float, x: float, z: float, vx: float, vz: float, theta: float, force: float, mass: float
    ) -> None:
        ax, az, _ = self._body.free_rates(t, z, vx, vz, theta, force, mass)
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
        """Fly to exactly `t_s`, after the motor's burning, and forget what was flown after it."""
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
                tears = [c.lets_go_t_s for c in self.canopies if c.lets_go_t_s > path.t[-1] + SAME_TIME_S]
                self._hang(min([t_s, *tears]))
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
            new = self._body.free_step(t, h, x, z, vx, vz, theta, push)
            if new[1] <= self.ground_m and new[3] < 0.0:
                h = self._time_to_ground(h, z, vz)
                new = self._body.free_step(t, h, x, z, vx, vz, theta, push)
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
        fall, kelvin_exponent, density = self._body.fall, self._body.exponent, self._body.density
        wind = self._body.wind
        ready = [
            (
                c,
                c.full_area_m2(path.t[-1]),
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
        if any(abs(c.lets_go_t_s - t) < SAME_TIME_S for c in self.canopies):
            ax, az, _ = rates(t, z, vx, vz, f1, f2)  # the pull is gone at once
            path.add(t, x, z, vx, vz, az, sqrt(ax * ax + (az + GRAVITY_MPS2) ** 2), 0.0, fill=(f1, f2))
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


def motion_at(physics: FlightPhysics, t_s: Array) -> Motion:
    """The motion at any times: on the pad before ignition, where it landed after touchdown."""
    return motion_on(physics.path, physics.touchdown_t_s, t_s)
