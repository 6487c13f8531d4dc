"""Liftoff: has the rocket left, and when did it first move?

Pressure alone: the heights must lie on a curve that starts at rest and gains speed as only a motor can make it, many
times faster on the whole than the wind moved them in the wait. A gust is a step that stops growing, a car door a pulse
that comes back, a person lifts at walking speed, a weather front is slower still: each fails one of the conditions
below.
With an accelerometer: the speed gained by specific force over the last quarter second.

Thresholds, hold times and what a gap does stand in `LiftoffLimits`; they are common practice, no source, tuned on
virtual flights.
"""

from collections import deque
from dataclasses import dataclass
from math import hypot, sqrt
from typing import NamedTuple

from station.climb_fit import Climb, fit_climb
from station.pad import BLOCK_MS

RING_S = 2.0


@dataclass(frozen=True, slots=True)
class LiftoffLimits:
    """When the pad is left. Heights m, speeds m/s, times s."""

    # The least height that a climb is told by: over an arm's reach above the ground (2 m), and out of the noise.
    least_height_m: float = 3.0
    noise_heights: float = 3.0
    # Slower than 10 m/s^2 no rocket leaves: people are told to fly with five times the weight (39 m/s^2 are left of
    # it), and hardly anybody flies with three (20 m/s^2). How much weaker it may look is the error bar's share.
    least_push_mps2: float = 8.0
    # The mean speed of a climb that began as early as it may have: the wind's speed must be far below it. Gusts are no
    # Gaussian noise, they come in spells, so many standard deviations are needed. Even in dead air a first gust may
    # come: 10 m/s of it over the ports (60 Pa) make some 2 or 3 m in half a second.
    wind_speeds: float = 16.0
    calm_speed_mps: float = 7.0
    # With less than four times the weight (29 m/s^2 are left) hardly anybody flies; most of what gusts make is weaker.
    # So one that is surely weaker must be further from the wind.
    weak_push_mps2: float = 30.0
    weak_wind_speeds: float = 24.0
    # Steep curves are what gusts and doors make in a moment; a motor that pushes so is out of their reach as soon. Over
    # 8 g there are fewer motors, over 15 g only the hardest.
    hard_push_mps2: float = 80.0
    hard_wind_speeds: float = 20.0
    fierce_push_mps2: float = 150.0
    fierce_wind_speeds: float = 30.0
    # Where the height stands before the climb, beside the pad's, tells of the wind of this moment; and half of what
    # single readings stray beyond the sensor's noise is as good as the third part of a change in half a second.
    rest_share: float = 0.6
    gust_share: float = 0.17
    # And a climb must be three times as high as single readings have strayed: gusts and doors come in all sizes.
    gust_heights: float = 3.0
    # Single readings stray by this many standard deviations without any gust; what is over that is a gust's.
    stray_sigmas: float = 4.0
    # Before so much has been heard nobody knows how gusty it is.
    known_after_s: float = 6.0
    unknown_height_m: float = 36.0
    least_speed_mps: float = 10.0
    # A curve steeper than any motor makes it is a gust or a door.
    most_push_mps2: float = 300.0
    # The mean square misfit that a climb may have, for many samples; for few it scatters more.
    most_misfit: float = 2.0
    least_high: int = 2
    # Two samples high up, and so steep a curve between them: that may be a door's pulse heard at ten samples a second,
    # unless it is very far from a step.
    steep_push_mps2: float = 140.0
    least_high_steep: int = 3
    steep_over_step: float = 24.0
    # It is no step up to another height that stays. Over what gusts step up to at once (6 m are 70 Pa) less is asked,
    # for a slow link brings no more than two or three samples of the climb by then; but a door may step up higher.
    least_over_step: float = 6.0
    high_step_m: float = 6.0
    least_over_high_step: float = 3.0
    # It climbs from the pad, not from where a gust has already carried the height.
    least_rest_sigma_m: float = 0.3
    most_rest_sigma_m: float = 0.4
    most_rest_m: float = 0.8
    # Without a curve to go by it must be out of the reach of any wind as it is known.
    far_height_m: float = 40.0
    far_swells: float = 15.0
    far_gusts: float = 6.0
    far_margin_m: float = 6.0
    # No wind, no door and no hand takes the pressure up so high (1 200 Pa) and on at such a speed, for so long.
    sure_height_m: float = 100.0
    sure_rise_from_m: float = 50.0
    sure_rise_mps: float = 12.0
    sure_rise_s: float = 0.8
    sure_samples: int = 4
    sure_sigma_share: float = 0.2
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
    """First motion (ms) and its standard deviation (s). `force_was_still`: the accelerometer felt nothing of it."""

    t_ms: float
    sigma_s: float
    force_was_still: bool = False


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

    def take(self, sample: Sample, noise_m: float, gust_m: float, swell_m: float, surge_m: float) -> Liftoff | None:
        """Take a sample; `noise_m` is the height noise, `swell_m` what the wind makes of the height and `surge_m` what
        it makes of it from one half second to the next (standard deviations), `gust_m` how far single readings have
        strayed while waiting."""
        self.hear(sample)
        if sample.gained_mps2 is not None:
            found = self._by_force(noise_m)
            if found is not None:
                return found
        limits = self.limits
        if sample.altitude_m > limits.sure_height_m:
            found = self._surely_flies()
            if found is not None:
                return found
        assert self._heard_from_ms is not None
        gust_m = max(0.0, gust_m - limits.stray_sigmas * noise_m)
        least = max(limits.least_height_m, limits.noise_heights * noise_m, limits.gust_heights * gust_m)
        if sample.t_ms - self._heard_from_ms < 1000.0 * limits.known_after_s:
            least = max(least, limits.unknown_height_m)
        # No climb is pushed harder than by `most_push_mps2`, so that below this height none is fast enough.
        least_mps = self._least_mean_mps(surge_m, gust_m, limits.wind_speeds)
        least = max(least, 2.0 * least_mps**2 / limits.most_push_mps2)
        if sample.altitude_m < least or self._force_says_rest():
            return None
        climb = fit_climb(
            [(s.t_ms, s.altitude_m) for s in self.ring],
            noise_m,
            max(limits.least_rest_sigma_m, min(swell_m, limits.most_rest_sigma_m)),
        )
        if climb is not None and not self._is_climb(climb):
            climb = None
        if climb is not None and climb.height_m >= least and self._is_a_motor(climb, surge_m, gust_m):
            return Liftoff(climb.start_ms, climb.sigma_s)
        far = limits.far_margin_m + max(limits.far_swells * swell_m, limits.far_gusts * gust_m)
        return self._from_afar(max(far, limits.far_height_m + 10.0 * noise_m), noise_m, climb)

    def _surely_flies(self) -> Liftoff | None:
        """So high above where it stood, and rising so fast: whatever was learnt of gusts, and of a force that an
        accelerometer did not feel, was wrong."""
        limits = self.limits
        high = [s for s in self.ring if s.altitude_m > limits.sure_rise_from_m]
        newest = high[-1]
        seconds = (newest.t_ms - high[0].t_ms) / 1000.0
        if len(high) < limits.sure_samples or seconds < limits.sure_rise_s:
            return None
        rise_mps = (newest.altitude_m - high[0].altitude_m) / seconds
        lately = next(s for s in reversed(high) if newest.t_ms - s.t_ms >= 500.0 * limits.sure_rise_s)
        still_m = limits.sure_rise_mps * (newest.t_ms - lately.t_ms) / 1000.0
        if rise_mps < limits.sure_rise_mps or newest.altitude_m - lately.altitude_m < still_m:
            return None
        # As if it had gained speed evenly.
        since_s = 2.0 * newest.altitude_m / rise_mps
        sigma_s = max(0.1, limits.sure_sigma_share * since_s)
        return Liftoff(newest.t_ms - 1000.0 * since_s, sigma_s, self._force_says_rest())

    def _from_afar(self, far_m: float, noise_m: float, climb: Climb | None) -> Liftoff | None:
        """A gap hid the start, the curve is no plain one or the wind blew hard: three samples far above the pad say it
        all the same."""
        last = list(self.ring)[-3:]
        if len(last) == 3 and all(s.altitude_m > far_m for s in last):
            if climb is not None and climb.rest_count:
                return Liftoff(climb.start_ms, climb.sigma_s)
            low = [s for s in self.ring if s.altitude_m < 3.0 * noise_m]
            last_low_ms = low[-1].t_ms if low else self.ring[0].t_ms
            first_high_ms = next(s.t_ms for s in self.ring if s.altitude_m > far_m)
            return Liftoff(0.5 * (last_low_ms + first_high_ms), max(0.1, (first_high_ms - last_low_ms) / 3500.0))
        return None

    def _is_climb(self, climb: Climb) -> bool:
        """Do the heights lie on it, from the pad on?"""
        limits = self.limits
        if climb.misfit > limits.most_misfit * (1.0 + climb.count**-0.5):
            return False
        if climb.rest_count and climb.rest_misfit > limits.most_misfit * (1.0 + climb.rest_count**-0.5):
            return False
        return abs(climb.rest_m) <= limits.most_rest_m

    def _is_a_motor(self, climb: Climb, surge_m: float, gust_m: float) -> bool:
        limits = self.limits
        is_low = climb.height_m <= limits.high_step_m
        is_steep = climb.acceleration_mps2 > limits.steep_push_mps2 and climb.over_step < limits.steep_over_step
        if climb.high < (limits.least_high_steep if is_low and is_steep else limits.least_high):
            return False
        if climb.over_step < (limits.least_over_step if is_low else limits.least_over_high_step):
            return False
        if climb.speed_mps < limits.least_speed_mps or climb.acceleration_mps2 > limits.most_push_mps2:
            return False
        if climb.least_mps2 < limits.least_push_mps2:
            return False
        # A curve that the heights lie badly on is a gust's rather than a motor's: that counts as more wind.
        shown_m = hypot(surge_m, limits.rest_share * climb.rest_m) * sqrt(max(1.0, climb.misfit))
        # h = a T^2 / 2, so h / T = sqrt(h a / 2).
        mean_mps = sqrt(0.5 * climb.height_m * climb.least_mps2)
        wind_speeds = limits.wind_speeds
        if climb.most_mps2 < limits.weak_push_mps2:
            wind_speeds = limits.weak_wind_speeds
        elif climb.acceleration_mps2 > limits.fierce_push_mps2:
            wind_speeds = limits.fierce_wind_speeds
        elif climb.acceleration_mps2 > limits.hard_push_mps2:
            wind_speeds = limits.hard_wind_speeds
        return mean_mps > self._least_mean_mps(shown_m, gust_m, wind_speeds)

    def _least_mean_mps(self, surge_m: float, gust_m: float, wind_speeds: float) -> float:
        """The mean speed that a climb needs: so many times that of the wind, by all that tells of the wind."""
        wind_mps = hypot(surge_m, self.limits.gust_share * gust_m) / (BLOCK_MS / 1000.0)
        return max(self.limits.calm_speed_mps, wind_speeds * wind_mps)

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
