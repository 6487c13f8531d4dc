"""What is learned while the rocket waits: ground pressure, sensor noise, air temperature, accelerometer at rest.

The reference must follow a pressure front through hours of waiting, must not follow the rocket when it leaves, and must
shrug off a gust or a car door. So samples are gathered into blocks of half a second; the newest blocks are kept out of
the reference until they are a second old, and the reference is the mean of the middle half of the last two dozen
block means (an interquartile mean: common practice, no source).
"""

from collections import deque
from itertools import pairwise
from typing import Final

from station.atmosphere import (
    KELVIN_AT_ZERO_C,
    SEA_LEVEL_PRESSURE_PA,
    air_density_kgpm3,
    isa_altitude_m,
    isa_to_true_ratio,
    metres_per_pascal,
)

BLOCK_MS: Final = 500.0
LEAST_IN_BLOCK: Final = 4
# A reading that is off by so much (Pa), all others of its block by no more than this part of it, is no wind.
LONE_PA: Final = 200.0
LONE_SHARE: Final = 0.2
LEAST_TO_BE_ALONE: Final = 4
LEAST_DIFFERENCES: Final = 3
# A block that is not full after so many times its length has a gap in it.
GAP_BLOCKS: Final = 8
KEPT_BLOCKS: Final = 24
STRAY_BLOCKS: Final = 120
YOUNG_BLOCKS: Final = 2
LEAST_NOISE_PA: Final = 0.8
FIRST_NOISE_PA: Final = 4.0
MOST_NOISE_PA: Final = 15.0
# What is assumed of the wind before it is known: as if four blocks of gusts of 0.84 m (10 Pa) had been seen.
ASSUMED_BLOCKS: Final = 4
ASSUMED_SWELL_M: Final = 0.84
# The same of how it moves the height from one half second to the next: as if six such changes of 0.5 m (6 Pa) had been
# seen. Winds to fly in make 0 to 0.25 m of it, a rocket carried about 0.15 to 0.35 m, strong gusts 0.5 to 2 m.
ASSUMED_SURGES: Final = 6
ASSUMED_SURGE_M: Final = 0.5
# A column that moves faster than this is not a pad: the station was started in mid-flight.
STILL_SPEED_MPS: Final = 3.0
WARMED_BAY_C: Final = 4.0
TEMPERATURE_BUCKET_MS: Final = 60_000.0
TEMPERATURE_BUCKETS: Final = 30
REST_LOW_MPS2: Final = 6.0
REST_HIGH_MPS2: Final = 13.0
# The rocket lies or stands now as most of the last three seconds say; what reads otherwise by more than a push of the
# wind or a knock makes was before it was last moved.
REST_NOW_BLOCKS: Final = 6
REST_MOVED_MPS2: Final = 1.0
STANDARD_TEMPERATURE_C: Final = 15.0


class PadReference:
    """Fed with every sample while waiting; frozen at liftoff (`settle`) unless that is taken back (`unsettle`).

    `excursion_m` is how far single readings have strayed in the last minute, `swell_m` the standard deviation of what
    the wind did to half-second means, `surge_m` that of what it did from one half second to the next.
    """

    def __init__(self, given_temperature_c: float | None = None) -> None:
        self.given_temperature_c = given_temperature_c
        self.pressure_pa: float | None = None
        self.isa_altitude_m = 0.0
        self.ratio = 1.0
        self.noise_pa = FIRST_NOISE_PA
        self.altitude_variance_m2 = 1.0
        self.rest_mps2: float | None = None
        self.excursion_m = 0.0
        self.swell_m = ASSUMED_SWELL_M
        self.surge_m = ASSUMED_SURGE_M
        self._strays: deque[float] = deque(maxlen=STRAY_BLOCKS)
        self._young_strays: deque[float] = deque()
        # Squares (Pa^2), and what part of a reading's noise is in each: summed up with every block.
        self._swells: deque[float] = deque(maxlen=STRAY_BLOCKS)
        self._swells_noise: deque[float] = deque(maxlen=STRAY_BLOCKS)
        self._surges: deque[float] = deque(maxlen=STRAY_BLOCKS)
        self._surges_noise: deque[float] = deque(maxlen=STRAY_BLOCKS)
        self._last_settled: tuple[float, float, int] | None = None
        self._young_means: deque[tuple[float, float, float, int]] = deque()
        self._blocks: deque[tuple[float, float]] = deque(maxlen=KEPT_BLOCKS)
        self._noise_blocks: deque[float] = deque(maxlen=60)
        self._rest: deque[tuple[float, float]] = deque(maxlen=KEPT_BLOCKS)
        self._temperature_c: float | None = None
        self._coolest_c: deque[float] = deque(maxlen=TEMPERATURE_BUCKETS)
        self._bucket_end_ms: float | None = None
        self._block: list[Reading] = []
        self._unsettled: tuple[float | None, float | None] = None, None

    def take(self, t_ms: float, pressure_pa: float, temperature_c: float | None, axial_mps2: float | None) -> None:
        """Take one sample: time (ms), static pressure (Pa), sensor temperature (degC), specific force (m/s^2)."""
        block = self._block
        if block:
            long_ms = t_ms - block[0][0]
            if long_ms >= BLOCK_MS:
                if len(block) >= LEAST_IN_BLOCK:
                    self._close_block(t_ms)
                    block.clear()
                elif long_ms >= GAP_BLOCKS * BLOCK_MS:
                    block.clear()  # a gap: what was gathered before it says too little
        block.append((t_ms, pressure_pa, temperature_c, axial_mps2))

    def altitude_m(self, pressure_pa: float) -> float:
        """Height above the pad (m, corrected for the air temperature) of a static pressure (Pa)."""
        return (isa_altitude_m(pressure_pa) - self.isa_altitude_m) * self.ratio

    @property
    def air_temperature_c(self) -> float | None:
        """The temperature used for the correction (degC): the given one, else the sensor's, else None."""
        if self.given_temperature_c is not None:
            return self.given_temperature_c
        if self._temperature_c is None:
            return None
        if self.bay_is_warmed:
            return min(self._coolest_c)
        return self._temperature_c

    @property
    def bay_is_warmed(self) -> bool:
        """The sensor has warmed so much in the last half hour that the sun, not the air, must be the cause."""
        return (
            self._temperature_c is not None
            and len(self._coolest_c) > 1
            and self._temperature_c - min(self._coolest_c) > WARMED_BAY_C
        )

    @property
    def density_kgpm3(self) -> float:
        """The air's density at the pad; the standard's where pressure or temperature is not known."""
        pressure_pa = SEA_LEVEL_PRESSURE_PA if self.pressure_pa is None else self.pressure_pa
        return air_density_kgpm3(pressure_pa, _kelvin(self.air_temperature_c))

    def settle(self, before_ms: float) -> None:
        """Fix the reference from the blocks that ended before `before_ms` (the moment of liftoff)."""
        self._unsettled = self.pressure_pa, self.rest_mps2
        means = [mean for end_ms, mean in self._blocks if end_ms <= before_ms]
        if means:
            self._set_pressure(_middle_mean(means[-KEPT_BLOCKS + YOUNG_BLOCKS :]))
        rests = [mean for end_ms, mean in self._rest if end_ms <= before_ms]
        if rests:
            self._set_rest(_since_moved(rests))

    def unsettle(self) -> None:
        """Go on waiting, as if `settle` had not been called: it was no liftoff."""
        pressure_pa, self.rest_mps2 = self._unsettled
        if pressure_pa is not None:
            self._set_pressure(pressure_pa)

    def _close_block(self, t_ms: float) -> None:
        block = _without_a_lone_reading(self._block)
        n = len(block)
        start_ms = block[0][0]
        # Pressures are summed relative to a nearby value so that squares keep their digits.
        base_pa = self.pressure_pa if self.pressure_pa is not None else 100_000.0
        pressures = [pressure_pa for _, pressure_pa, _, _ in block]
        relative = [pressure_pa - base_pa for pressure_pa in pressures]
        taus = [(at_ms - start_ms) / 1000.0 for at_ms, _, _, _ in block]
        sum_p, sum_t = sum(relative), sum(taus)
        mean_pa = base_pa + sum_p / n
        spread = sum([tau * tau for tau in taus]) - sum_t * sum_t / n
        sum_tp = sum([tau * rel for tau, rel in zip(taus, relative, strict=True)])
        slope_paps = (sum_tp - sum_t * sum_p / n) / spread if spread > 0.0 else 0.0
        temperatures = [temperature_c for _, _, temperature_c, _ in block if temperature_c is not None]
        if temperatures:
            self._take_temperature(t_ms, sum(temperatures) / len(temperatures))
        if self.pressure_pa is None:
            slope_sigma = self.noise_pa / max(spread, 1e-9) ** 0.5
            limit = STILL_SPEED_MPS / metres_per_pascal(mean_pa, 288.15)
            if abs(slope_paps) > max(limit, 4.0 * slope_sigma):
                self._blocks.clear()
                return
        squares = [(later - earlier) * (later - earlier) for earlier, later in pairwise(pressures)]
        if len(squares) >= LEAST_DIFFERENCES:
            self._noise_blocks.append(sum(squares) / (2.0 * len(squares)))
            variances = sorted(self._noise_blocks)
            # The lower half: a gust or a knock only ever adds.
            middle = variances[len(variances) // 2]
            self.noise_pa = min(MOST_NOISE_PA, max(LEAST_NOISE_PA, middle**0.5))
        self._blocks.append((t_ms, mean_pa))
        forces = [axial_mps2 for _, _, _, axial_mps2 in block if axial_mps2 is not None]
        if len(forces) >= LEAST_IN_BLOCK:
            self._rest.append((t_ms, sum(forces) / len(forces)))
        settled = list(self._blocks)
        old = settled[:-YOUNG_BLOCKS] if len(settled) > YOUNG_BLOCKS + 2 else settled
        self._set_pressure(_middle_mean([mean for _, mean in old]))
        if self._rest:
            self._set_rest(_since_moved([mean for _, mean in self._rest]))
        # How far single readings stray tells how gusty the wait is; the newest second may already be the launch.
        offset = (self.pressure_pa or 0.0) - base_pa
        self._young_strays.append(max(max(relative) - offset, offset - min(relative)))
        if len(self._young_strays) > YOUNG_BLOCKS:
            self._strays.append(self._young_strays.popleft())
            self.excursion_m = max(self._strays) * self.altitude_variance_m2**0.5 / self.noise_pa
        self._young_means.append((start_ms, mean_pa, mean_pa - (self.pressure_pa or 0.0), n))
        if len(self._young_means) > YOUNG_BLOCKS:
            begun_ms, settled_pa, off_pa, count = self._young_means.popleft()
            self._swells.append(off_pa * off_pa)
            self._swells_noise.append(1.0 / count)
            self.swell_m = self._swell_m()
            # Over a gap it is the weather that has moved the pressure.
            if self._last_settled is not None and begun_ms - self._last_settled[0] < GAP_BLOCKS * BLOCK_MS:
                _, before_pa, before = self._last_settled
                change_pa = settled_pa - before_pa
                self._surges.append(change_pa * change_pa)
                self._surges_noise.append(1.0 / before + 1.0 / count)
                self.surge_m = self._surge_m()
            self._last_settled = begun_ms, settled_pa, count

    def _swell_m(self) -> float:
        """How far the wind moves the height for half a second and longer (standard deviation, m), over the last minute.

        The sensor's noise is less in a block's mean than in a reading, so gusts show in the means long before they
        stand out of the readings; what the noise leaves in the means is taken off.
        """
        return self._wind_m(self._swells, self._swells_noise, ASSUMED_BLOCKS, ASSUMED_SWELL_M)

    def _surge_m(self) -> float:
        """How far the wind moves the height from one half second to the next (standard deviation, m), over a minute.

        It tells gusts from what is slow: a rocket carried about reaches as high as a gust, but not as fast.
        """
        return self._wind_m(self._surges, self._surges_noise, ASSUMED_SURGES, ASSUMED_SURGE_M)

    def _wind_m(self, squares_pa2: deque[float], noise: deque[float], assumed: int, assumed_m: float) -> float:
        """Standard deviation (m) of what the wind did, as if so many of so many metres had been seen before."""
        m_per_pa = self.altitude_variance_m2**0.5 / self.noise_pa
        by_wind_pa2 = sum(squares_pa2) - self.noise_pa * self.noise_pa * sum(noise)
        seen = max(0.0, by_wind_pa2) * m_per_pa * m_per_pa
        return float(((seen + assumed * assumed_m * assumed_m) / (len(squares_pa2) + assumed)) ** 0.5)

    def _set_pressure(self, pressure_pa: float) -> None:
        self.pressure_pa = pressure_pa
        self.isa_altitude_m = isa_altitude_m(pressure_pa)
        temperature_c = self.air_temperature_c
        self.ratio = 1.0 if temperature_c is None else isa_to_true_ratio(pressure_pa, temperature_c)
        self.altitude_variance_m2 = (self.noise_pa * metres_per_pascal(pressure_pa, _kelvin(temperature_c))) ** 2

    def _set_rest(self, rest_mps2: float) -> None:
        # A sensor that does not read about one g at rest is not along the airframe: it cannot be used.
        self.rest_mps2 = rest_mps2 if REST_LOW_MPS2 <= rest_mps2 <= REST_HIGH_MPS2 else None

    def _take_temperature(self, t_ms: float, mean_c: float) -> None:
        old = self._temperature_c
        self._temperature_c = mean_c if old is None else old + 0.1 * (mean_c - old)
        if self._bucket_end_ms is None or t_ms >= self._bucket_end_ms:
            self._bucket_end_ms = t_ms + TEMPERATURE_BUCKET_MS
            self._coolest_c.append(self._temperature_c)


def _since_moved(rests_mps2: list[float]) -> float:
    """The specific force at rest as the rocket is placed now: mean of what agrees with the newest block means."""
    newest = sorted(rests_mps2[-REST_NOW_BLOCKS:])
    now = newest[len(newest) // 2]
    return _middle_mean([rest for rest in rests_mps2 if abs(rest - now) <= REST_MOVED_MPS2])


Reading = tuple[float, float, float | None, float | None]


def _without_a_lone_reading(block: list[Reading]) -> list[Reading]:
    """The samples of a block without a single pressure that lies far from all others: no air moves for one reading."""
    pressures = sorted([pressure_pa for _, pressure_pa, _, _ in block])
    middle_pa = pressures[len(pressures) // 2]
    off = sorted([abs(pressure_pa - middle_pa) for pressure_pa in pressures])
    if len(off) < LEAST_TO_BE_ALONE or off[-1] < LONE_PA or off[-2] > LONE_SHARE * off[-1]:
        return block
    return [each for each in block if abs(each[1] - middle_pa) < off[-1]]


def _middle_mean(values: list[float]) -> float:
    """Mean of the middle half of the values (of all of them if they are fewer than four)."""
    ordered = sorted(values)
    quarter = len(ordered) // 4
    middle = ordered[quarter : len(ordered) - quarter]
    return sum(middle) / len(middle)


def _kelvin(air_temperature_c: float | None) -> float:
    return KELVIN_AT_ZERO_C + (STANDARD_TEMPERATURE_C if air_temperature_c is None else air_temperature_c)
