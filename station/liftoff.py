"""Liftoff: has the rocket left, and when did it first move?

Pressure alone: the height must have grown for a while, sample after sample, along a curve that starts at rest and
gains speed as only a motor can make it. A gust is a step that stops growing, a car door a pulse that comes back, a
person lifts at walking speed, a weather front is slower still: each fails one of the conditions below.
With an accelerometer: the speed gained by specific force over the last quarter second.

Thresholds, hold times and what a gap does stand in `LiftoffLimits`; they are common practice, no source, tuned on
virtual flights.
"""

from collections import deque
from dataclasses import dataclass
from math import hypot
from typing import NamedTuple

RING_S = 2.0
# A motor comes up within some hundredths of a second, not at once as the fitted curve has it.
SHAPE_SIGMA_S = 0.05


@dataclass(frozen=True, slots=True)
class LiftoffLimits:
    """When the pad is left. Heights m, speeds m/s, times s."""

    least_height_m: float = 6.0
    noise_heights: float = 4.5
    # Single readings stray by this many standard deviations without any gust; what is over that is a gust's.
    stray_sigmas: float = 4.0
    gust_heights: float = 3.0
    # In gusts that are plain to see a climb must be far out of their reach.
    plain_gust_m: float = 0.5
    plain_gust_heights: float = 6.0
    plain_gust_margin_m: float = 6.0
    # Before so much has been heard nobody knows how gusty it is.
    known_after_s: float = 6.0
    unknown_gust_m: float = 5.0
    least_speed_mps: float = 10.0
    least_acceleration_mps2: float = 12.0
    # A curve steeper than any motor makes it is a gust or a door.
    most_acceleration_mps2: float = 300.0
    sure_sigmas: float = 2.0
    window_s: float = 0.6
    least_samples: int = 3
    far_height_m: float = 40.0
    boost_gain_mps: float = 6.5
    boost_least_mps2: float = 8.0
    boost_samples: int = 2
    # An accelerometer whose mean is no more than this has felt no motor, whatever shakes it.
    at_rest_mps2: float = 5.0


class Sample(NamedTuple):
    """One reading on the flight's time line, height already above the pad, force relative to rest."""

    t_ms: float
    pressure_pa: float
    altitude_m: float
    gained_mps2: float | None


@dataclass(frozen=True, slots=True)
class Liftoff:
    """First motion (ms), its standard deviation (s), and whether it was seen (not inside a gap)."""

    t_ms: float
    sigma_s: float


class LiftoffDetector:
    """Keeps the last two seconds and says that the rocket has left."""

    def __init__(self, limits: LiftoffLimits | None = None) -> None:
        self.limits = limits or LiftoffLimits()
        self.ring: deque[Sample] = deque()
        self._heard_from_ms: float | None = None

    def hear(self, sample: Sample) -> None:
        """Take a sample without asking what it says."""
        ring = self.ring
        ring.append(sample)
        oldest = sample.t_ms - 1000.0 * RING_S
        # The last one before a gap stays: it says from when on nothing was seen.
        while len(ring) > 2 and ring[1].t_ms < oldest:
            ring.popleft()
        if self._heard_from_ms is None:
            self._heard_from_ms = sample.t_ms

    def take(self, sample: Sample, noise_m: float, gust_m: float) -> Liftoff | None:
        """Take a sample; `noise_m` is the height noise (standard deviation), `gust_m` how far single
        readings have strayed while waiting."""
        self.hear(sample)
        if sample.gained_mps2 is not None:
            found = self._by_force(noise_m)
            if found is not None:
                return found
        limits = self.limits
        assert self._heard_from_ms is not None
        if sample.t_ms - self._heard_from_ms < 1000.0 * limits.known_after_s:
            gust_m = max(gust_m, limits.unknown_gust_m)
        gust_m = max(0.0, gust_m - limits.stray_sigmas * noise_m)
        if gust_m > limits.plain_gust_m:
            gust_m = limits.plain_gust_heights * gust_m + limits.plain_gust_margin_m
        else:
            gust_m *= limits.gust_heights
        least = max(limits.least_height_m, limits.noise_heights * noise_m + gust_m)
        if sample.altitude_m < least:
            return None
        return self._by_height(sample, noise_m, least)

    def _by_height(self, sample: Sample, noise_m: float, least_m: float) -> Liftoff | None:
        limits = self.limits
        far = max(limits.far_height_m + 10.0 * noise_m, least_m)
        if self._force_says_rest():
            return None
        recent = [s for s in self.ring if sample.t_ms - s.t_ms <= 1000.0 * limits.window_s]
        if len(recent) >= limits.least_samples:
            fit = _fit_start(recent, noise_m)
            if fit is not None and self._is_a_motor(fit):
                return Liftoff(fit.start_ms, fit.sigma_s)
        # A gap hid the start, or the curve is no plain one: far above the pad for three samples says it all the same.
        last = list(self.ring)[-3:]
        if len(last) == 3 and all(s.altitude_m > far for s in last):
            low = [s for s in self.ring if s.altitude_m < 3.0 * noise_m]
            last_low_ms = low[-1].t_ms if low else self.ring[0].t_ms
            first_high_ms = next(s.t_ms for s in self.ring if s.altitude_m > far)
            return Liftoff(0.5 * (last_low_ms + first_high_ms), max(0.1, (first_high_ms - last_low_ms) / 3500.0))
        return None

    def _is_a_motor(self, fit: "_Start") -> bool:
        limits = self.limits
        if fit.speed_mps < limits.least_speed_mps:
            return False
        # a = 2 slope^2: what the noise may have added or taken does not decide.
        low = fit.slope - limits.sure_sigmas * fit.slope_sigma
        if low <= 0.0 or 2.0 * low * low < limits.least_acceleration_mps2:
            return False
        return 2.0 * fit.slope * fit.slope <= limits.most_acceleration_mps2

    def _force_says_rest(self) -> bool:
        """An accelerometer that felt no push for the last half second: what moved was the pressure alone."""
        newest_ms = self.ring[-1].t_ms
        felt = [s.gained_mps2 for s in self.ring if s.gained_mps2 is not None and newest_ms - s.t_ms <= 500.0]
        return len(felt) >= 3 and abs(sum(felt) / len(felt)) < self.limits.at_rest_mps2

    def _by_force(self, noise_m: float) -> Liftoff | None:
        limits = self.limits
        gain = 0.0
        count = 0
        newest = self.ring[-1]
        start_ms = newest.t_ms
        later = newest
        for s in reversed(self.ring):
            force = s.gained_mps2
            if force is None or force < limits.boost_least_mps2:
                break
            if newest.t_ms - s.t_ms > 1000.0 * RING_S:
                break
            count += 1
            gain += 0.5 * (force + (later.gained_mps2 or 0.0)) * (later.t_ms - s.t_ms) / 1000.0
            later = s
            start_ms = s.t_ms
        if count < limits.boost_samples or gain < limits.boost_gain_mps:
            return None
        if newest.altitude_m < -4.0 * noise_m:
            return None
        before = [s for s in self.ring if s.t_ms < start_ms]
        previous_ms = before[-1].t_ms if before else start_ms
        # Motion began between the last quiet sample and the first strong one.
        gap_s = (start_ms - previous_ms) / 1000.0
        return Liftoff(start_ms - 400.0 * gap_s, max(0.01, 0.3 * gap_s))


@dataclass(frozen=True, slots=True)
class _Start:
    """A climb from rest, h = slope^2 (t - start)^2, with the standard deviations (m^0.5/s, s)."""

    start_ms: float
    sigma_s: float
    speed_mps: float
    slope: float
    slope_sigma: float


def _fit_start(samples: list[Sample], noise_m: float) -> _Start | None:
    """Fit h = a/2 (t - t0)^2 from rest to the rising samples: sqrt(h) is a straight line in t.

    None when the last samples do not rise one after the other, or when a plain step would fit as well.
    """
    floor = max(1.0, 1.5 * noise_m)
    rising: list[Sample] = []
    for s in reversed(samples):
        if s.altitude_m < floor:
            break
        rising.append(s)
    if len(rising) < 3:
        return None
    rising.reverse()
    t_end = rising[-1].t_ms
    ts = [(s.t_ms - t_end) / 1000.0 for s in rising]
    roots = [max(s.altitude_m, 0.01) ** 0.5 for s in rising]
    # sqrt(h) has standard deviation noise / (2 sqrt(h)): weight each point by 4 h.
    ws = [4.0 * r * r for r in roots]
    sw = sum(ws)
    tm = sum(w * t for w, t in zip(ws, ts, strict=True)) / sw
    rm = sum(w * r for w, r in zip(ws, roots, strict=True)) / sw
    stt = sum(w * (t - tm) ** 2 for w, t in zip(ws, ts, strict=True))
    if stt <= 0.0:
        return None
    slope = sum(w * (t - tm) * (r - rm) for w, t, r in zip(ws, ts, roots, strict=True)) / stt
    if slope <= 0.0:
        return None
    start_s = tm - rm / slope
    acceleration = 2.0 * slope * slope
    speed = acceleration * (0.0 - start_s)
    # A pulse or a step leaves the curve; a motor's climb stays on it within the noise, from its start on.
    since = [(s.altitude_m, (s.t_ms - t_end) / 1000.0 - start_s) for s in samples]
    misfits = [h - 0.5 * acceleration * t * t for h, t in since if t > 0.0]
    tolerance = noise_m * (1.0 + len(misfits) ** -0.5) + 0.2
    if sum(m * m for m in misfits) > len(misfits) * tolerance * tolerance:
        return None
    # Rising from rest: the samples before the start must be near the pad, not on a plateau.
    early = [s for s in samples if (s.t_ms - t_end) / 1000.0 < start_s]
    if any(abs(s.altitude_m) > max(3.0, 4.0 * noise_m) for s in early):
        return None
    variance = noise_m * noise_m / stt
    sigma_s = (variance * (1.0 / sw * stt + (rm / slope) ** 2)) ** 0.5 / slope
    return _Start(t_end + 1000.0 * start_s, hypot(sigma_s, SHAPE_SIGMA_S), speed, slope, variance**0.5)
