"""The day's air over the pad: pressure, temperature and density with height, wind and gusts.

Standard-atmosphere lapse (6.5 K per km) from the day's own pad pressure and temperature, dry air, constant
gravity. Heights are therefore geopotential metres above the pad: 0.1 % less than geometric ones at 6.5 km.
Constants: ICAO Doc 7488 / ISO 2533.
"""

from dataclasses import dataclass
from math import exp, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from station.virtual.chance import stream

GRAVITY_MPS2: Final = 9.80665
LAPSE_K_PER_M: Final = 0.0065
GAS_CONSTANT: Final = 287.05287
PRESSURE_EXPONENT: Final = GRAVITY_MPS2 / (GAS_CONSTANT * LAPSE_K_PER_M)
STANDARD_PRESSURE_PA: Final = 101325.0
STANDARD_TEMPERATURE_K: Final = 288.15
GUST_STEP_S: Final = 0.25

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Thermal:
    """Warm air that rises for a while: `up_mps` at `centre_m` over the pad, `half_depth_m` off a third of that.

    Times in seconds since the recording began; how it fades with height is invented.
    """

    up_mps: float
    centre_m: float
    half_depth_m: float
    start_s: float
    end_s: float

    def at(self, t_s: float, height_m: float) -> float:
        """How fast the air rises, m/s."""
        if not self.start_s < t_s < self.end_s:
            return 0.0
        return self.up_mps * exp(-(((height_m - self.centre_m) / self.half_depth_m) ** 2))


@dataclass(frozen=True, slots=True)
class Day:
    """Weather at the pad. Wind in m/s: at the ground, and what it tends to high above; gusts as sigma."""

    pad_pressure_pa: float = 97500.0
    pad_temperature_c: float = 18.0
    ground_wind_mps: float = 2.0
    high_wind_mps: float = 6.0
    gust_mps: float = 0.6
    vertical_gust_mps: float = 0.25
    thermal: Thermal | None = None

    @property
    def pad_temperature_k(self) -> float:
        """Air temperature at the pad in kelvin."""
        return self.pad_temperature_c + 273.15

    @property
    def pad_density_kgm3(self) -> float:
        """Air density at the pad."""
        return self.pad_pressure_pa / (GAS_CONSTANT * self.pad_temperature_k)

    def pressure_pa(self, height_m: Array) -> Array:
        """Static pressure at heights (m) above the pad."""
        fall: Array = 1.0 - LAPSE_K_PER_M * height_m / self.pad_temperature_k
        return np.asarray(self.pad_pressure_pa * fall**PRESSURE_EXPONENT)

    def isa_altitude_m(self, height_m: float) -> float:
        """What an altimeter set to the standard atmosphere says at this height above the pad."""
        pad_ratio = float((self.pad_pressure_pa / STANDARD_PRESSURE_PA) ** (1.0 / PRESSURE_EXPONENT))
        return height_m * STANDARD_TEMPERATURE_K * pad_ratio / self.pad_temperature_k

    def sound_speed_mps(self, height_m: Array) -> Array:
        """Speed of sound at heights (m) above the pad."""
        kelvin = self.pad_temperature_k - LAPSE_K_PER_M * height_m
        return np.asarray(np.sqrt(1.4 * GAS_CONSTANT * kelvin))


class Wind:
    """Wind along the flight plane and vertical gusts, at any time and height.

    Gusts are first-order Gauss-Markov series (common practice, no source for the time constants): 3 s along,
    4 s up and down. Near the ground there is no vertical wind. The mean rises with height by a cheap curve
    that reaches halfway at 300 m (invented).
    """

    def __init__(self, day: Day, seed: int, duration_s: float) -> None:
        self.ground_mps = day.ground_wind_mps
        self.rise_mps = day.high_wind_mps - day.ground_wind_mps
        count = int(duration_s / GUST_STEP_S) + 2
        chance = stream(seed, "wind")
        self.along: list[float] = gauss_markov(chance, count, day.gust_mps, GUST_STEP_S / 3.0)
        self.up: list[float] = gauss_markov(chance, count, day.vertical_gust_mps, GUST_STEP_S / 4.0)
        self.last = count - 2
        self.thermal = day.thermal

    def at(self, t_s: float, height_m: float) -> tuple[float, float]:
        """(Along, up) in m/s at a time since the recording began and a height above the pad."""
        at = t_s / GUST_STEP_S
        k = int(at)
        if k > self.last:
            k, at = self.last, self.last + 1.0
        part = at - k
        height = height_m if height_m > 0.0 else 0.0
        along, up = self.along, self.up
        rises = 0.0 if self.thermal is None else self.thermal.at(t_s, height)
        return (
            self.ground_mps + self.rise_mps * height / (height + 300.0) + along[k] + (along[k + 1] - along[k]) * part,
            (rises + up[k] + (up[k + 1] - up[k]) * part) * height / (height + 50.0),
        )

    def along_at_ground(self, t_s: Array) -> Array:
        """Wind at the pad (m/s) at times since the recording began."""
        knots = np.arange(len(self.along)) * GUST_STEP_S
        return np.asarray(self.ground_mps + np.interp(t_s, knots, self.along))


def gauss_markov(chance: np.random.RandomState, count: int, sigma: float, step_over_tau: float) -> list[float]:
    """A first-order Gauss-Markov series of given sigma, as plain floats."""
    keep = 1.0 / (1.0 + step_over_tau)
    drive = sqrt(1.0 - keep * keep) * sigma
    now = sigma * float(chance.standard_normal())
    series = []
    for push in (drive * chance.standard_normal(count)).tolist():
        now = keep * now + push
        series.append(now)
    return series
