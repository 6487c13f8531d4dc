"""The path of a flight as its nodes, and the motion at any time in between."""

from dataclasses import dataclass, field

import numpy as np

from station.virtual.air import Array


@dataclass(slots=True)
class Path:
    """The nodes of a flight, one list a quantity, in time order.

    Nodes may repeat a time where acceleration jumps. `axial` is the specific force along the airframe while
    it is in one piece, and the size of the specific force when it hangs.
    """

    t: list[float] = field(default_factory=list)
    x: list[float] = field(default_factory=list)
    z: list[float] = field(default_factory=list)
    vx: list[float] = field(default_factory=list)
    vz: list[float] = field(default_factory=list)
    az: list[float] = field(default_factory=list)
    axial: list[float] = field(default_factory=list)
    tilt: list[float] = field(default_factory=list)
    fill: list[tuple[float, float]] = field(default_factory=list)

    def columns(self) -> tuple[list[float], ...]:
        """The number columns, in order."""
        return (self.t, self.x, self.z, self.vx, self.vz, self.az, self.axial, self.tilt)

    def add(self, *values: float, fill: tuple[float, float] = (0.0, 0.0)) -> None:
        """Append one node."""
        for column, value in zip(self.columns(), values, strict=True):
            column.append(value)
        self.fill.append(fill)

    def cut_after(self, t_s: float) -> None:
        """Forget every node later than `t_s`; the first node always stays."""
        while len(self.t) > 1 and self.t[-1] > t_s:
            for column in self.columns():
                column.pop()
            self.fill.pop()


@dataclass(frozen=True, slots=True)
class Motion:
    """The motion at asked times, as arrays: seconds, metres, m/s, m/s^2."""

    t_s: Array
    downrange_m: Array
    altitude_m: Array
    velocity_mps: Array
    speed_mps: Array
    acceleration_mps2: Array
    axial_mps2: Array
    tilt_rad: Array


def motion_on(path: Path, touchdown_t_s: float | None, t_s: Array) -> Motion:
    """The motion at any times: on the pad before ignition, where it landed after touchdown.

    Between nodes: cubic (Hermite) in height, speed from its own derivative, straight lines in the rest.
    """
    t, z, vz, az = (np.array(c) for c in (path.t, path.z, path.vz, path.az))
    k = np.clip(np.searchsorted(t, t_s, side="right") - 1, 0, len(t) - 2)
    h = t[k + 1] - t[k]
    flat = h <= 0.0
    h = np.where(flat, 1.0, h)
    s = np.clip(np.where(flat, 0.0, (t_s - t[k]) / h), 0.0, 1.0)
    altitude = _hermite(s, h, z[k], z[k + 1], vz[k], vz[k + 1])
    velocity = _hermite(s, h, vz[k], vz[k + 1], az[k], az[k + 1])

    def line(column: list[float]) -> Array:
        values = np.array(column)
        return np.asarray(values[k] + s * (values[k + 1] - values[k]))

    acceleration, axial, tilt = line(path.az), line(path.axial), line(path.tilt)
    downrange, side = line(path.x), line(path.vx)
    still = t_s < t[0]
    if touchdown_t_s is not None:
        down = t_s >= touchdown_t_s
        altitude = np.where(down, z[-1], altitude)
        still = still | down
    zero = np.zeros_like(altitude)
    velocity = np.where(still, zero, velocity)
    return Motion(
        t_s,
        downrange,
        altitude,
        velocity,
        np.where(still, zero, np.hypot(side, velocity)),
        np.where(still, zero, acceleration),
        axial,
        tilt,
    )


def _hermite(s: Array, h: Array, y0: Array, y1: Array, d0: Array, d1: Array) -> Array:
    r = 1.0 - s
    blend: Array = r * r * (1.0 + 2.0 * s) * y0 + s * s * (3.0 - 2.0 * s) * y1
    return np.asarray(blend + h * s * r * (r * d0 - s * d1))
