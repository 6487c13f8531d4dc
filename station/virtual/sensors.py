"""What the sensors aboard say of the motion: pressure through a port and a bay, temperature, axial force.

All sizes are common practice or invented unless a source is named; the ranges are meant to cover the parts
that hobby altimeters use (barometer noise 1 to 7 Pa and accelerometer steps of 49 to 195 mg in data sheets).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from station.virtual.air import GRAVITY_MPS2, Array, Day
from station.virtual.chance import stream
from station.virtual.flight_path import Motion


@dataclass(frozen=True, slots=True)
class Barometer:
    """Static port, bay and pressure sensor. Pressures in Pa.

    `shock_coefficient`: largest pressure coefficient (negative side) at the ports while the shock passes,
    see `shock_error_pa`. `port_wind_coefficient`: share of the wind's dynamic pressure felt on the pad.
    `warmth_pa_per_k`: how the reading moves with the bay's own warmth. `lines_per_reading`: a slow sensor is
    asked so often that it tells each reading again. `stray_share` of the readings are wrong by up to `stray_pa`,
    either way.
    """

    noise_pa: float = 3.0
    offset_pa: float = 0.0
    lag_s: float = 0.02
    resolution_pa: float = 0.1
    shock_coefficient: float = 0.03
    shock_rebound: float = 0.2
    port_wind_coefficient: float = 0.15
    warmth_pa_per_k: float = 0.0
    lines_per_reading: int = 1
    stray_share: float = 0.0
    stray_pa: float = 0.0


@dataclass(frozen=True, slots=True)
class Thermometer:
    """The sensor's own temperature: offset and sun-warmed bay in K, lag towards the outside air in s."""

    offset_k: float = 0.2
    bay_warmth_k: float = 0.6
    lag_s: float = 60.0
    noise_k: float = 0.03


@dataclass(frozen=True, slots=True)
class Accelerometer:
    """Specific force along the airframe, + toward the nose. Bias, noise, step and range in m/s^2.

    `sticks_t_s`: from then on, in seconds since the recording began, it says what it said last.
    """

    scale: float = 1.0
    bias_mps2: float = 0.0
    noise_mps2: float = 0.4
    step_mps2: float = 0.48
    range_mps2: float = 980.0
    sticks_t_s: float | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """A charge that fired in the airframe: when, the pressure it puts on the bay (Pa) and how fast it leaves."""

    t_s: float
    spike_pa: float
    decay_s: float


@dataclass(frozen=True, slots=True)
class Disturbance:
    """What people and weather do to a rocket on the pad, as arrays over the sample times.

    Added to the pressure (Pa), to the axial force (m/s^2) and to the bay's warmth (K).
    """

    pressure_pa: Array
    axial_mps2: Array
    warmth_k: Array


def shock_error_pa(barometer: Barometer, mach: Array, static_pa: Array) -> Array:
    """Pressure error at the ports while the rocket passes Mach 0.8 to 1.25, either way.

    The pressure falls while the shock comes up to the ports and comes back when it has passed them, with a
    small rise behind it: a drop on entering and another on leaving the supersonic range, as logged on a
    student rocket (and see NACA Report 1364). Size: 0.7 M^2 Cp of the static pressure. The shape (a
    raised cosine peaking at Mach 0.98, a smaller one the other way at Mach 1.13) is invented.
    """
    fall = _bump(mach, 0.80, 0.98, 1.08)
    rise = _bump(mach, 1.02, 1.13, 1.25)
    coefficient = barometer.shock_coefficient * (barometer.shock_rebound * rise - fall)
    return np.asarray(0.7 * mach**2 * static_pa * coefficient)


def _bump(x: Array, start: float, peak: float, end: float) -> Array:
    """0 outside (start, end), 1 at the peak, smooth in between."""
    side = np.where(x < peak, (x - start) / (peak - start), (end - x) / (end - peak))
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(side, 0.0, 1.0)))


class PressureSensor:
    """Turns motion into pressure readings; the noise of sample k is the same however often it is asked."""

    def __init__(self, barometer: Barometer, day: Day, period_s: float, seed: int) -> None:
        self._barometer, self._day, self._period_s = barometer, day, period_s
        self._chance = stream(seed, "barometer")
        self._noise = np.zeros(0)
        self._stray_chance = stream(seed, "stray readings")

    def read(self, motion: Motion, charges: Sequence[Charge], disturbance_pa: Array | None = None) -> Array:
        """Pressure (Pa) at the first samples of the flight, as many as the motion has."""
        static = self._day.pressure_pa(motion.altitude_m)
        mach = motion.speed_mps / self._day.sound_speed_mps(motion.altitude_m)
        if float(mach.max(initial=0.0)) > 0.8:
            static = static + shock_error_pa(self._barometer, mach, static)
        if disturbance_pa is not None:
            static = static + disturbance_pa
        bay = first_order_lag(static, self._period_s, self._barometer.lag_s)
        for charge in charges:
            since = motion.t_s - charge.t_s
            after = since >= 0.0
            bay[after] += charge.spike_pa * np.exp(-since[after] / charge.decay_s)
        missing = len(bay) - len(self._noise)
        if missing > 0:
            more = self._barometer.noise_pa * self._chance.standard_normal(missing)
            self._noise = np.concatenate([self._noise, more + self._strays_pa(missing)])
        reading = bay + self._barometer.offset_pa + self._noise[: len(bay)]
        step = self._barometer.resolution_pa
        told = np.arange(len(reading)) // self._barometer.lines_per_reading * self._barometer.lines_per_reading
        return np.maximum(np.round(np.round(reading[told] / step) * step, 2), step)

    def _strays_pa(self, count: int) -> Array:
        """By how much the next readings are plainly wrong; most are not."""
        if self._barometer.stray_share == 0.0:
            return np.zeros(count)
        dice = self._stray_chance.random_sample((count, 2))
        size_pa = self._barometer.stray_pa * (2.0 * dice[:, 1] - 1.0)
        return np.where(dice[:, 0] < self._barometer.stray_share, size_pa, 0.0)


def first_order_lag(values: Array, period_s: float, lag_s: float) -> Array:
    """A first-order lag's answer to values joined by straight lines; starts settled on the first one."""
    if lag_s <= 0.0:
        return values.copy()
    ratio = period_s / lag_s
    keep = exp(-ratio)
    late = (1.0 - keep) / ratio
    old_weight, new_weight = late - keep, 1.0 - late
    inputs = values.tolist()
    now = before = inputs[0]
    out = []
    for value in inputs:
        now = keep * now + old_weight * before + new_weight * value
        before = value
        out.append(now)
    return np.array(out)


def read_temperature(
    thermometer: Thermometer, day: Day, motion: Motion, warmth_k: Array | None, period_s: float, seed: int
) -> Array:
    """Sensor temperature (degC): the outside air's through the bay's lag, warmth and offset on top."""
    outside = day.pad_temperature_c - 0.0065 * motion.altitude_m
    bay = first_order_lag(outside, period_s, thermometer.lag_s)
    bay = bay + thermometer.offset_k + thermometer.bay_warmth_k
    if warmth_k is not None:
        bay = bay + warmth_k
    noise = thermometer.noise_k * stream(seed, "thermometer").standard_normal(len(bay))
    return np.asarray(np.round(bay + noise, 2))


def read_axial(
    accelerometer: Accelerometer,
    motion: Motion,
    apart_t_s: float | None,
    touchdown_t_s: float | None,
    hit_mps: float,
    charges: Sequence[Charge],
    disturbance_mps2: Array | None,
    seed: int,
) -> Array:
    """Axial specific force (m/s^2). Once apart, the airframe swings: it tells nothing of the descent."""
    chance = stream(seed, "accelerometer")
    true = motion.axial_mps2.copy()
    t = motion.t_s
    noise = accelerometer.noise_mps2 * chance.standard_normal(len(true))
    swing, rate, spin, phase, lying = (float(v) for v in chance.random_sample(5))
    if apart_t_s is not None:
        since = t - apart_t_s
        apart = since >= 0.0
        since = since[apart]
        # Hangs at some mean angle, swings about it, and turns over now and then while it falls fast.
        angle = (
            np.pi * phase
            + (0.3 + 0.9 * swing) * np.sin(2.0 * np.pi * (0.4 + 1.2 * rate) * since)
            + (0.2 + 0.4 * spin) * np.sin(2.0 * np.pi * (1.3 + 2.0 * spin) * since + phase)
        )
        shake = 1.0 + 0.15 * chance.standard_normal(len(since))
        true[apart] = true[apart] * np.cos(angle) * shake
    for charge in charges:
        since = t - charge.t_s
        kick = (since >= 0.0) & (since < 0.25)
        ring = np.exp(-since[kick] / 0.05) * np.cos(2.0 * np.pi * 18.0 * since[kick])
        true[kick] += 90.0 * ring
    if touchdown_t_s is not None:
        down = t >= touchdown_t_s
        true[down] = GRAVITY_MPS2 * (0.5 * lying - 0.25)
        thud = down & (t < touchdown_t_s + 0.08)
        true[thud] += 12.0 * hit_mps * chance.standard_normal(int(thud.sum()))
    if disturbance_mps2 is not None:
        true = true + disturbance_mps2
    reading = accelerometer.scale * true + accelerometer.bias_mps2 + noise
    reading = np.clip(reading, -accelerometer.range_mps2, accelerometer.range_mps2)
    if accelerometer.sticks_t_s is not None:
        last = max(0, int(np.searchsorted(t, accelerometer.sticks_t_s, side="right")) - 1)
        reading[last:] = reading[last]
    step = accelerometer.step_mps2
    return np.asarray(np.round(np.round(reading / step) * step, 2))
