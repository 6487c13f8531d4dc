"""The satellite receiver aboard: the true place with a wandering error, and the times when it has none.

Every figure is invented, of the size that makers of small receivers state.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, exp, hypot, radians, sin, sqrt

import numpy as np

from station.virtual.air import GRAVITY_MPS2, gauss_markov
from station.virtual.chance import stream
from station.virtual.flight_path import Motion

_EQUATOR_RADIUS_M = 6_378_137.0  # WGS 84
_ECCENTRICITY_SQUARED = 0.006_694_379_990_14  # WGS 84
FIRST_AT_S = 0.37
WANDER_TAU_S = 40.0


@dataclass(frozen=True, slots=True)
class FieldPlace:
    """Where the pad stands (WGS 84; by default an invented field far out at sea) and whence the wind blows."""

    latitude_deg: float = 37.5
    longitude_deg: float = -41.25
    height_m: float = 180.0
    wind_from_deg: float = 233.13

    def way_of_the_wind(self) -> tuple[float, float]:
        """North and east parts of the direction in which things drift."""
        to = radians(self.wind_from_deg + 180.0)
        return cos(to), sin(to)

    def position(self, north_m: float, east_m: float) -> tuple[float, float]:
        """Latitude and longitude, degrees, of a place some kilometres at most from the pad.

        By the radii of curvature at the pad: its own, not the station's, so that what is judged and what it is
        judged against share no formula.
        """
        bent = 1.0 - _ECCENTRICITY_SQUARED * sin(radians(self.latitude_deg)) ** 2
        meridian_m = _EQUATOR_RADIUS_M * (1.0 - _ECCENTRICITY_SQUARED) / bent**1.5
        parallel_m = _EQUATOR_RADIUS_M / sqrt(bent) * cos(radians(self.latitude_deg))
        longitude = self.longitude_deg + np.degrees(east_m / parallel_m)
        return float(self.latitude_deg + np.degrees(north_m / meridian_m)), float((longitude + 180.0) % 360.0 - 180.0)


@dataclass(frozen=True, slots=True)
class SatelliteReceiver:
    """How often it tells a place and how wrong that is: metres, sigma of each axis; heights twice as wrong.

    `wander_m` comes and goes over a minute, `noise_m` is new in every fix. Above `most_g` it loses the satellites, and
    finds them again `again_s` to twice that later; `again_m` is how wrong it is just then, and in one fix of
    `1 / wild_share` it is wrong by up to `wild_m`.
    """

    period_s: float = 1.0
    wander_m: float = 1.6
    noise_m: float = 0.5
    first_fix_s: float = 1.5
    most_g: float = 4.0
    again_s: float = 1.2
    again_m: float = 12.0
    wild_share: float = 0.01
    wild_m: float = 4000.0


@dataclass(frozen=True, slots=True)
class SatelliteReading:
    """What the receiver says at one time; no position while it has too few satellites."""

    t_s: float
    satellites: int
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    height_m: float | None = None


def read_satellites(
    receiver: SatelliteReceiver,
    place: FieldPlace,
    motion: Motion,
    silences: Sequence[tuple[float, float]],
    seed: int,
) -> list[SatelliteReading]:
    """Every reading of a flight, in order. In a silence (from, to) the receiver has no power."""
    chance = stream(seed, "satellites")
    times = np.round(np.arange(FIRST_AT_S, float(motion.t_s[-1]), receiver.period_s), 3)
    step = receiver.period_s / WANDER_TAU_S
    sizes = (receiver.wander_m, receiver.wander_m, 2.0 * receiver.wander_m)
    wander = [gauss_markov(chance, len(times), size, step) for size in sizes]
    noise = receiver.noise_m * chance.standard_normal((len(times), 3)) * (1.0, 1.0, 2.0)
    start = receiver.again_m * chance.standard_normal((len(times), 3))
    dice = chance.random_sample((len(times), 4))
    lost = _without(receiver, motion, silences, chance)
    downrange = np.interp(times, motion.t_s, motion.downrange_m).tolist()
    altitude = np.interp(times, motion.t_s, motion.altitude_m).tolist()
    north, east = place.way_of_the_wind()
    readings = []
    for k, t in enumerate(times.tolist()):
        since = min((t - end if t >= end else -1.0 for begin, end in lost if t >= begin), default=1e9)
        if since < 0.0:
            readings.append(SatelliteReading(t, int(3.9 * dice[k, 0])))
            continue
        fade = exp(-since / 1.5)
        satellites = min(4 + int(since / 0.4), 8 + int(2.5 * dice[k, 0]))
        off_north, off_east, off_up = (wander[i][k] + float(noise[k, i] + fade * start[k, i]) for i in range(3))
        if dice[k, 1] < receiver.wild_share:
            satellites = min(satellites, 5)
            off_north += receiver.wild_m * float(dice[k, 2] - 0.5)
            off_east += receiver.wild_m * float(dice[k, 3] - 0.5)
        latitude, longitude = place.position(north * downrange[k] + off_north, east * downrange[k] + off_east)
        height = place.height_m + altitude[k] + off_up
        readings.append(SatelliteReading(t, satellites, round(latitude, 7), round(longitude, 7), round(height, 1)))
    return readings


def landing_of(place: FieldPlace, downrange_m: float) -> tuple[float, float]:
    """Range (m) and bearing (degrees) from the pad of a place so far down the wind."""
    north, east = place.way_of_the_wind()
    bearing = np.degrees(np.arctan2(east * downrange_m, north * downrange_m)) % 360.0
    return hypot(north * downrange_m, east * downrange_m), float(bearing)


def _without(
    receiver: SatelliteReceiver, motion: Motion, silences: Sequence[tuple[float, float]], chance: np.random.RandomState
) -> list[tuple[float, float]]:
    """(From, to) of every time without satellites."""

    def again(end: float) -> float:
        return end + receiver.again_s * (1.0 + float(chance.random_sample()))

    hard = motion.t_s[np.abs(motion.acceleration_mps2) > receiver.most_g * GRAVITY_MPS2]
    stretches = np.split(hard, np.flatnonzero(np.diff(hard) > receiver.again_s) + 1) if len(hard) else []
    shaken = [(float(stretch[0]), again(float(stretch[-1]))) for stretch in stretches]
    return [(0.0, receiver.first_fix_s), *shaken, *((begin, again(end)) for begin, end in silences)]
