"""Liftoff: has the rocket left, and when did it first move?

Pressure alone: the heights must lie on a curve that starts at rest and gains speed as only a motor can make it, out of
the reach of the wind as the wait has shown it. A gust is a step that stops growing, a car door a pulse that comes back,
a person lifts at walking speed, a weather front is slower still: each fails one of the conditions below.
With an accelerometer: the speed gained by specific force over the last quarter second.

Thresholds, hold times and what a gap does stand in `LiftoffLimits`; they are common practice, no source, tuned on
virtual flights.
"""

from collections import deque
from dataclasses import dataclass
from typing import NamedTuple

from station.climb_fit import Climb, fit_climb

RING_S = 2.0


@dataclass(frozen=True, slots=True)
class LiftoffLimits:
    """When the pad is left. Heights m, speeds m/s, times s."""

    # In calm air, for a climb pushed as hard as a motor does: people are told to fly with five times the weight
    # (39 m/s^2 are left of it), and hardly anybody flies with three (20 m/s^2).
    least_height_m: float = 4.0
    noise_heights: float = 4.5
    swell_heights: float = 12.0
    hard_push_mps2: float = 20.0
    # A weaker climb looks like a gust for longer. This weak it must be higher than gusts reach that come out of calm
    # air; in between the two it needs so much more height the weaker it is.
    weak_push_mps2: float = 12.0
    weak_height_m: float = 12.0
    # Wind that shows in half-second means at all may soon blow harder: its pressure goes with the speed squared.
    plain_swell_m: float = 0.4
    plain_swell_heights: float = 15.0
    # Single readings stray by this many standard deviations without any gust; what is over that is a gust's.
    stray_sigmas: float = 4.0
    plain_gust_m: float = 0.5
    plain_gust_heights: float = 6.0
    # In wind that is plain to see a climb must be far out of its reach.
    plain_margin_m: float = 6.0
    # Before so much has been heard nobody knows how gusty it is.
    known_after_s: float = 6.0
    unknown_height_m: float = 36.0
    least_speed_mps: float = 10.0
    # A curve steeper than any motor makes it is a gust or a door.
    most_push_mps2: float = 300.0
    # The mean square misfit that a climb may have, for many samples; for few it scatters more.
    most_misfit: float = 2.0
    least_high: int = 2
    least_over_step: float = 9.0
    # It climbs from the pad, not from where a gust has already carried the height.
    least_rest_sigma_m: float = 0.3
    most_rest_m: float = 0.8
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
    """First motion (ms) and its standard deviation (s)."""

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
        t_ms = sample[0]
        if self._heard_from_ms is None:
            self._heard_from_ms = t_ms
        oldest = t_ms - 1000.0 * RING_S
        # The last one before a gap stays: it says from when on nothing was seen.
        while len(ring) > 2 and ring[1][0] < oldest:
            ring.popleft()

    def take(self, sample: Sample, noise_m: float, gust_m: float, swell_m: float) -> Liftoff | None:
        """Take a sample; `noise_m` is the height noise, `swell_m` what the wind makes of the height (standard
        deviations), `gust_m` how far single readings have strayed while waiting."""
        self.hear(sample)
        if sample.gained_mps2 is not None:
            found = self._by_force(noise_m)
            if found is not None:
                return found
        least = self._least_height_m(sample.t_ms, noise_m, gust_m, swell_m)
        if sample.altitude_m < least:
            return None
        return self._by_height(sample, noise_m, swell_m, least)

    def _least_height_m(self, t_ms: float, noise_m: float, gust_m: float, swell_m: float) -> float:
        """How high it must be: out of the reach of noise and of the wind as it is known."""
        limits = self.limits
        assert self._heard_from_ms is not None
        least = max(limits.least_height_m, limits.noise_heights * noise_m, limits.swell_heights * swell_m)
        if swell_m > limits.plain_swell_m:
            least = max(least, limits.plain_swell_heights * swell_m + limits.plain_margin_m)
        gust_m -= limits.stray_sigmas * noise_m
        if gust_m > limits.plain_gust_m:
            least = max(least, limits.plain_gust_heights * gust_m + limits.plain_margin_m)
        if t_ms - self._heard_from_ms < 1000.0 * limits.known_after_s:
            least = max(least, limits.unknown_height_m)
        return least

    def _by_height(self, sample: Sample, noise_m: float, swell_m: float, least_m: float) -> Liftoff | None:
        limits = self.limits
        far = max(limits.far_height_m + 10.0 * noise_m, least_m)
        if self._force_says_rest():
            return None
        heights = [(s.t_ms, s.altitude_m) for s in self.ring]
        climb = fit_climb(heights, noise_m, max(limits.least_rest_sigma_m, min(swell_m, limits.plain_swell_m)))
        if climb is not None and self._is_a_motor(climb, least_m, swell_m):
            return Liftoff(climb.start_ms, climb.sigma_s)
        # A gap hid the start, or the curve is no plain one: far above the pad for three samples says it all the same.
        last = list(self.ring)[-3:]
        if len(last) == 3 and all(s.altitude_m > far for s in last):
            low = [s for s in self.ring if s.altitude_m < 3.0 * noise_m]
            last_low_ms = low[-1].t_ms if low else self.ring[0].t_ms
            first_high_ms = next(s.t_ms for s in self.ring if s.altitude_m > far)
            return Liftoff(0.5 * (last_low_ms + first_high_ms), max(0.1, (first_high_ms - last_low_ms) / 3500.0))
        return None

    def _is_a_motor(self, climb: Climb, least_m: float, swell_m: float) -> bool:
        limits = self.limits
        if climb.misfit > limits.most_misfit * (1.0 + climb.count**-0.5):
            return False
        if climb.rest_count and climb.rest_misfit > limits.most_misfit * (1.0 + climb.rest_count**-0.5):
            return False
        if abs(climb.rest_m) > limits.most_rest_m:
            return False
        if climb.high < limits.least_high or climb.over_step < limits.least_over_step or climb.height_m < least_m:
            return False
        if climb.speed_mps < limits.least_speed_mps or climb.acceleration_mps2 > limits.most_push_mps2:
            return False
        if climb.least_mps2 >= limits.hard_push_mps2:
            return True
        weakness = (limits.hard_push_mps2 - climb.least_mps2) / (limits.hard_push_mps2 - limits.weak_push_mps2)
        needed_m = limits.least_height_m + weakness * (limits.weak_height_m - limits.least_height_m)
        return swell_m <= limits.plain_swell_m and weakness <= 1.0 and climb.height_m >= needed_m

    def _force_says_rest(self) -> bool:
        """An accelerometer that felt no push for the last half second: what moved was the pressure alone."""
        newest_ms = self.ring[-1].t_ms
        felt = [s.gained_mps2 for s in self.ring if s.gained_mps2 is not None and newest_ms - s.t_ms <= 500.0]
        return len(felt) >= 3 and abs(sum(felt) / len(felt)) < self.limits.at_rest_mps2

    def _by_force(self, noise_m: float) -> Liftoff | None:
        limits = self.limits
        newest = self.ring[-1]
        if newest.gained_mps2 is None or newest.gained_mps2 < limits.boost_least_mps2:
            return None
        gain = 0.0
        count = 0
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
