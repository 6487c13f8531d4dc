"""Burnout and apogee, called live from the filter's state.

Each detector says once what it saw. Limits are common practice, no source, unless they say otherwise.
"""

from collections import deque
from dataclasses import dataclass
from math import exp
from typing import Final

from station.atmosphere import G0_MPS2
from station.coast_drag import USUAL_DRAG_LN_SIGMA, usual_drag_per_m
from station.estimator import VerticalFilter

# Readings since the force fell low, as many as a slope is ever looked for in.
KEPT_LOW: Final = 100
MOST_OF_USUAL_DRAG: Final = exp(USUAL_DRAG_LN_SIGMA)


@dataclass(frozen=True, slots=True)
class AscentLimits:
    """Thresholds of the ascent. Speeds m/s, accelerations m/s^2, times s."""

    # NFPA 1125 ends the burn where thrust falls below 5 % of its peak (as quoted by a motor retailer's page);
    # specific force is thrust less drag, so it passes zero a little earlier.
    thrust_end_fraction: float = 0.05
    # Once drag can hide no more than this share of the peak thrust, what burns on is the last of its tail ...
    tail_fraction: float = 0.25
    low_for_s: float = 0.06
    # ... and before, the force must have stopped falling: a tail of thrust falls by more than this share of the peak in
    # a second, a coast slows down less and less. That slope must be known well enough to tell them apart, or be seen
    # for long.
    slope_fraction: float = 0.12
    slope_sigma_fraction: float = 0.12
    slope_longest_s: float = 0.25
    # Noise of one reading: data sheets' 49 to 195 mg steps, and vibration.
    force_noise_mps2: float = 1.2
    least_boost_mps2: float = 12.0
    # Where lost lines hid the push: no motor lifts a rocket with so little for so long.
    unseen_push_mps2: float = 3.0
    unseen_push_s: float = 0.25
    # Pressure alone: the acceleration must be below zero by this many standard deviations.
    burnout_sigmas: float = 0.8
    burnout_acceleration_mps2: float = -3.0
    # Or by so many below what a motor would still give: until it tails off it pushes at no less than this share of its
    # mean so far, against gravity and the usual drag.
    push_sigmas: float = 0.6
    push_fraction: float = 0.4
    # By the time pressure alone shows it the motor has been out for about this long (virtual flights).
    burnout_lag_s: float = 0.3
    # Apogee: descending by this much, and by so many standard deviations.
    apogee_speed_mps: float = 0.6
    apogee_sigmas: float = 1.2
    # Near a true apogee the rocket is in free fall; a shock on the static ports looks nothing like it.
    free_fall_tolerance_mps2: float = 8.0
    # ... nor does what hardly moves brake much faster than gravity does: a charge's gas, or its jolt, makes it seem so.
    braking_tolerance_mps2: float = 3.0
    sure_fall_mps: float = 12.0
    sure_fall_sigmas: float = 3.0
    # What surely climbed so fast a moment ago has not stopped: from 100 m/s even a drag of 50 g would take two seconds.
    # So the pressure errs, as when the shock leaves the ports.
    fast_climb_mps: float = 100.0
    fast_climb_sigmas: float = 2.0
    fast_climb_s: float = 2.0


class BurnoutDetector:
    """Called in the thrust phase after each sample."""

    def __init__(self, limits: AscentLimits) -> None:
        self.limits = limits
        self._peak_mps2 = 0.0
        self._before: tuple[float, float] | None = None
        self._low_since_ms = 0.0
        self._low: deque[tuple[float, float]] = deque()

    def hear(self, t_ms: float, gained_mps2: float) -> None:
        """Take a reading from before liftoff was called: the push may not be seen again."""
        force = gained_mps2 + G0_MPS2
        before, self._before = self._before, (t_ms, force)
        if before is not None:
            self._peak_mps2 = max(self._peak_mps2, min(force, before[1]))

    def by_force(self, t_ms: float, gained_mps2: float, speed_mps: float) -> float | None:
        """Specific force relative to rest (m/s^2), and the speed (m/s); returns the time of burnout (ms) when clear.

        Specific force is thrust less drag: in a fast rocket it falls below zero while the motor still tails off, and
        the burn has ended where it has stopped falling. In a slower one drag cannot hide much of a thrust.
        """
        limits = self.limits
        force = gained_mps2 + G0_MPS2
        before = self._before
        self.hear(t_ms, gained_mps2)
        peak = self._peak_mps2
        seen = peak >= limits.least_boost_mps2
        level = limits.thrust_end_fraction * peak if seen else limits.unseen_push_mps2
        low = self._low
        if force >= level:
            low.clear()
            return None
        if not low:
            self._low_since_ms = t_ms
            if before is not None and before[1] > level:
                self._low_since_ms -= (t_ms - before[0]) * (level - force) / (before[1] - force)
        low.append((t_ms, force))
        if len(low) > KEPT_LOW:
            low.popleft()
        if not seen:
            return self._low_since_ms if t_ms - low[0][0] >= 1000.0 * limits.unseen_push_s else None
        if t_ms - low[0][0] >= 1000.0 * limits.low_for_s:
            drag = MOST_OF_USUAL_DRAG * usual_drag_per_m(speed_mps) * speed_mps * speed_mps
            if drag + level < limits.tail_fraction * peak:
                return self._low_since_ms
        flat_ms = self._flat_since_ms(t_ms)
        return None if flat_ms is None else max(self._low_since_ms, flat_ms)

    def _flat_since_ms(self, now_ms: float) -> float | None:
        """Since when the force does not fall: by a line through the last low readings, as few as tell its slope."""
        limits, peak = self.limits, self._peak_mps2
        least_spread = (limits.force_noise_mps2 / (limits.slope_sigma_fraction * peak)) ** 2
        st = sf = stt = stf = 0.0
        for n, (t_ms, force) in enumerate(reversed(self._low), 1):
            t = 0.001 * (t_ms - now_ms)
            st += t
            sf += force
            stt += t * t
            stf += t * force
            spread = stt - st * st / n
            if n > 1 and (spread > least_spread or t < -limits.slope_longest_s):
                slope = (stf - st * sf / n) / spread
                return t_ms if slope > -limits.slope_fraction * peak else None
        return None

    def by_filter(self, t_ms: float, state: VerticalFilter, burning_s: float) -> float | None:
        """Pressure alone, so long after liftoff (s): the filtered acceleration is plainly that of a coast.

        It has turned negative beyond its uncertainty, or is negative and too low by its uncertainty for a motor.
        """
        limits = self.limits
        a, v = state.a, state.v
        if a >= limits.burnout_acceleration_mps2:
            return None
        sigma = state.paa**0.5
        if a + limits.burnout_sigmas * sigma >= 0.0:
            mean_push = v / burning_s + G0_MPS2
            thrust = a + G0_MPS2 + usual_drag_per_m(v) * v * v
            if v <= 0.0 or thrust + limits.push_sigmas * sigma >= limits.push_fraction * mean_push:
                return None
        return t_ms - 1000.0 * limits.burnout_lag_s


class ApogeeDetector:
    """Called after each trusted sample from liftoff on; says when the rocket has begun to fall."""

    def __init__(self, limits: AscentLimits) -> None:
        self.limits = limits
        self._last: tuple[float, float, float] | None = None
        self._crossing: tuple[float, float] | None = None
        self._climbed_fast_ms = -1e12

    def take(self, t_ms: float, state: VerticalFilter) -> tuple[float, float, float] | None:
        """Returns (time ms, altitude m, sigma s) of apogee once the fall is clear, else None."""
        v, h = state.v, state.h
        last = self._last
        self._last = (t_ms, v, h)
        sigma_v = state.pvv**0.5
        if v >= 0.0:
            self._crossing = None
            if v - self.limits.fast_climb_sigmas * sigma_v > self.limits.fast_climb_mps:
                self._climbed_fast_ms = t_ms
            return None
        if self._crossing is None:
            if last is not None and last[1] >= 0.0:
                span = t_ms - last[0]
                back = span * v / (v - last[1])
                self._crossing = (t_ms - back, max(h, last[2]))
            else:
                self._crossing = (t_ms, h)
        falling = -v >= max(self.limits.apogee_speed_mps, self.limits.apogee_sigmas * sigma_v)
        beyond_mps2, sigma_a = state.a + G0_MPS2, state.paa**0.5
        free = (
            -self.limits.braking_tolerance_mps2 - sigma_a
            <= beyond_mps2
            <= self.limits.free_fall_tolerance_mps2 + sigma_a
        )
        climbed_fast = t_ms - self._climbed_fast_ms < 1000.0 * self.limits.fast_climb_s
        sure = -v > max(self.limits.sure_fall_mps, self.limits.sure_fall_sigmas * sigma_v)
        if falling and not climbed_fast and (free or sure):
            at_ms, top_m = self._crossing
            return at_ms, top_m, max(0.03, sigma_v / G0_MPS2)
        return None
