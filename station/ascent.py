"""Burnout and apogee, called live from the filter's state.

Each detector says once what it saw. Limits are common practice, no source, unless they say otherwise.
"""

from collections import deque
from dataclasses import dataclass

from station.atmosphere import G0_MPS2
from station.estimator import VerticalFilter


@dataclass(frozen=True, slots=True)
class AscentLimits:
    """Thresholds of the ascent. Speeds m/s, accelerations m/s^2, times s."""

    # NFPA 1125 ends the burn where thrust falls below 5 % of its peak (as quoted by a motor retailer's page);
    # specific force is thrust less drag, so it passes zero a little earlier.
    thrust_end_fraction: float = 0.05
    thrust_flat_s: float = 0.12
    thrust_flat_longest_s: float = 0.26
    thrust_flat_mps2: float = 1.0
    least_boost_mps2: float = 12.0
    # Pressure alone: the acceleration must be below zero by this many standard deviations.
    burnout_sigmas: float = 0.8
    burnout_acceleration_mps2: float = -3.0
    # By the time pressure alone shows it the motor has been out for about this long (virtual flights).
    burnout_lag_s: float = 0.3
    # Apogee: descending by this much, and by so many standard deviations.
    apogee_speed_mps: float = 0.6
    apogee_sigmas: float = 1.2
    # Near a true apogee the rocket is in free fall; a shock on the static ports looks nothing like it.
    free_fall_tolerance_mps2: float = 8.0
    sure_fall_mps: float = 12.0


class BurnoutDetector:
    """Called in the thrust phase after each sample."""

    def __init__(self, limits: AscentLimits) -> None:
        self.limits = limits
        self._peak_mps2 = 0.0
        self._low_since_ms: float | None = None
        self._recent: deque[tuple[float, float]] = deque()

    def by_force(self, t_ms: float, gained_mps2: float) -> float | None:
        """Specific force relative to rest (m/s^2); returns the time of burnout (ms) when it is clear.

        Specific force is thrust less drag: in a fast rocket it falls below zero while the motor still tails off. So
        the burn has ended where the force, once low, has stopped falling.
        """
        limits = self.limits
        force = gained_mps2 + G0_MPS2
        recent = self._recent
        if recent:
            self._peak_mps2 = max(self._peak_mps2, min(force, recent[-1][1]))
        recent.append((t_ms, force))
        while t_ms - recent[0][0] > 1000.0 * limits.thrust_flat_longest_s:
            recent.popleft()
        if self._peak_mps2 < limits.least_boost_mps2:
            return None
        level = limits.thrust_end_fraction * self._peak_mps2
        if force >= level:
            self._low_since_ms = None
            return None
        if self._low_since_ms is None:
            self._low_since_ms = t_ms
            if len(recent) > 1 and recent[-2][1] > level:
                before_ms, before = recent[-2]
                self._low_since_ms = before_ms + (t_ms - before_ms) * (before - level) / (before - force)
        tolerance = level + limits.thrust_flat_mps2
        for at_ms, then in recent:
            if t_ms - at_ms < 1000.0 * limits.thrust_flat_s:
                return None
            if then - force < tolerance:
                return max(self._low_since_ms, at_ms)
        return None

    def by_filter(self, t_ms: float, state: VerticalFilter) -> float | None:
        """Pressure alone: the filtered acceleration has turned negative beyond its uncertainty."""
        clear = (
            state.a + self.limits.burnout_sigmas * state.paa**0.5 < 0.0
            and state.a < self.limits.burnout_acceleration_mps2
        )
        if not clear:
            return None
        return t_ms - 1000.0 * self.limits.burnout_lag_s


class ApogeeDetector:
    """Called after each trusted sample from liftoff on; says when the rocket has begun to fall."""

    def __init__(self, limits: AscentLimits) -> None:
        self.limits = limits
        self._last: tuple[float, float, float] | None = None
        self._crossing: tuple[float, float] | None = None

    def take(self, t_ms: float, state: VerticalFilter) -> tuple[float, float, float] | None:
        """Returns (time ms, altitude m, sigma s) of apogee once the fall is clear, else None."""
        v, h = state.v, state.h
        last = self._last
        self._last = (t_ms, v, h)
        if v >= 0.0:
            self._crossing = None
            return None
        sigma_v = state.pvv**0.5
        if self._crossing is None:
            if last is not None and last[1] >= 0.0:
                span = t_ms - last[0]
                back = span * v / (v - last[1])
                self._crossing = (t_ms - back, max(h, last[2]))
            else:
                self._crossing = (t_ms, h)
        falling = -v >= max(self.limits.apogee_speed_mps, self.limits.apogee_sigmas * sigma_v)
        free = abs(state.a + G0_MPS2) <= self.limits.free_fall_tolerance_mps2 + 1.0 * state.paa**0.5
        if falling and (free or -v > self.limits.sure_fall_mps):
            at_ms, top_m = self._crossing
            return at_ms, top_m, max(0.03, sigma_v / G0_MPS2)
        return None
