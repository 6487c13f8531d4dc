"""The whole flight as one curve: every sample from just before liftoff to the ground, each seeing past and future.

The fixed-interval smoother of `station/smoothing.py` runs once over all samples. How freely the acceleration may
change follows the phase; where something happens at once (thrust comes, ends, a parachute takes hold, the ground) a
step is allowed. Pressure that is not height is left out: near the speed of sound, while a charge fires, and where a
sample strays from the curve that its neighbours make. Without an accelerometer nothing is measured near the speed of
sound: there the curve is led through burnout as the fits of `station/refining.py` have it.

Process noises are tuned on virtual flights; the bounds on what strays are common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import nan

import numpy as np
from numpy.typing import NDArray

from station.atmosphere import G0_MPS2
from station.biweight import spread_of
from station.coast_fit import hermite
from station.columns import Array, column
from station.estimator import VerticalFilter
from station.flight_state import EventName
from station.flown_curve import SPEED_SETTLES_S, noise_and_sound
from station.force_fit import FORCE_SIGMA_FRACTION, FORCE_SIGMA_MPS2, fit_force_climb
from station.liftoff import Sample
from station.smoothing import SmoothingStep, smooth
from station.vertical_motion import TRUSTED_MACH

AT_REST_DENSITY = 0.5
THRUST_DENSITY = 5000.0
THRUST_DENSITY_FORCE = 40_000.0
COAST_DENSITY = 30.0
COAST_DENSITY_FORCE = 400.0
DESCENT_DENSITY = 15.0
# A parachute takes hold, and the ground stops the rocket, within a moment that is known only so well.
AT_ONCE_DENSITY = 20_000.0
OPENING_BEFORE_S = 0.4
OPENING_AFTER_S = 0.8
GROUND_S = 0.25
SPIKE_S = 0.6
STRAY_SIGMAS = 5.0
STRAY_LEAST_M = 2.0
# What strays for longer is motion.
STRAY_LONGEST_S = 1.1
# The first look: further from the median of its surroundings than noise and motion explain.
MEDIAN_HALF_S = 0.6
MEDIAN_MOTION_S = 0.15
PASSES = 3
LEAST_FORCE_SHARE = 0.5
NOT_USED_M2 = 1e10
# How well the curve through burnout is known where the pressure is not to be trusted.
BRIDGED_SIGMA_M = 3.0
# How far that curve really is from the flight, root mean square: seeded virtual flights past Mach 0.85 without an
# accelerometer (as in tests/station/test_smoothed_flight.py). The smoother's own sigmas know of noise alone.
BRIDGED_ERROR_M = 12.0
BRIDGED_ERROR_SPEED_SHARE = 0.035
BRIDGED_ERROR_MPS2 = 30.0


@dataclass(frozen=True, slots=True)
class Moments:
    """What is known of the flight before it is smoothed. Times s from liftoff, `pad_kelvin` the air's at the pad."""

    at_s: Mapping[EventName, float]
    fired_s: tuple[float, ...]
    noise_pa: float
    pad_kelvin: float
    # Height m and speed m/s at burnout, as the climb and the coast on either side of it say.
    burnout: tuple[float, float] | None = None
    # The report's highest speed, m/s: where nothing was measured, its distance from the curve's tells on both.
    max_speed_mps: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SmoothedFlight:
    """A row a sample, all (n,): times s from liftoff, heights m, speeds m/s, accelerations m/s^2, deviations likewise.

    `used` is False where the sample's pressure was left out; the curve there is what its neighbours say.
    """

    t_s: Array
    altitude_m: Array
    velocity_mps: Array
    acceleration_mps2: Array
    altitude_sigma_m: Array
    velocity_sigma_mps: Array
    acceleration_sigma_mps2: Array
    used: NDArray[np.bool_]


def smooth_flight(flown: Sequence[Sample], speeds_mps: Array, liftoff_ms: float, moments: Moments) -> SmoothedFlight:
    """Smooth the samples of a flight; `speeds_mps` (n,) is a first guess of the speed at each, for the Mach number.

    Raises ValueError without a sample.
    """
    if not flown:
        raise ValueError("no samples to smooth")
    return _Smoother(flown, speeds_mps, liftoff_ms, moments).smoothed()


class _Smoother:
    def __init__(self, flown: Sequence[Sample], speeds_mps: Array, liftoff_ms: float, moments: Moments) -> None:
        self.at_s = moments.at_s
        self.t = (column([s.t_ms for s in flown]) - liftoff_ms) / 1000.0
        self.h = column([s.altitude_m for s in flown])
        self.sigma, sound = noise_and_sound(flown, self.h, moments.noise_pa, moments.pad_kelvin)
        self.speeds = speeds_mps
        self.untrusted = speeds_mps > TRUSTED_MACH * sound
        for fired_s in moments.fired_s:
            self.untrusted |= (self.t >= fired_s) & (self.t <= fired_s + SPIKE_S)
        self.climb_end_s = min([self._at(EventName.APOGEE), *(f for f in moments.fired_s if f > 0.0)])
        self.force = self._calibrated(column([nan if s.gained_mps2 is None else s.gained_mps2 for s in flown]))
        if not np.isfinite(self.force).any():
            self.untrusted |= self._speed_settling()
        self.density = self._densities()
        self.bridged = np.full(len(self.t), np.nan)
        self.burnout = moments.burnout
        self.max_speed_mps = moments.max_speed_mps

    def _at(self, name: EventName) -> float:
        return self.at_s.get(name, np.inf)

    def _calibrated(self, gained: Array) -> Array:
        """Vertical acceleration by the accelerometer on the way up; nan elsewhere, or if it was mostly not heard."""
        climb = self.t <= self.climb_end_s
        known = climb & np.isfinite(gained)
        if known.sum() <= LEAST_FORCE_SHARE * climb.sum() or known.sum() < 10:
            return np.full(len(gained), np.nan)
        sigma = np.where(self.untrusted, np.inf, self.sigma)
        fit = fit_force_climb(self.t[known], gained[known], self.h[known], sigma[known])
        return np.where(known, fit.scale * gained + fit.lean_mps2, np.nan)

    def _speed_settling(self) -> NDArray[np.bool_]:
        settling = np.zeros(len(self.t), dtype=bool)
        for _, last in _runs(self.untrusted & (self.t < self.climb_end_s)):
            settling |= (self.t > self.t[last]) & (self.t <= self.t[last] + SPEED_SETTLES_S)
        return settling & (self.t < self.climb_end_s)

    def _densities(self) -> Array:
        t, forced = self.t, np.isfinite(self.force)
        density = np.full(len(t), DESCENT_DENSITY)
        coast = t <= self._at(EventName.APOGEE)
        density[coast] = np.where(forced[coast], COAST_DENSITY_FORCE, COAST_DENSITY)
        burn = t <= self._at(EventName.BURNOUT) + 0.1
        density[burn & coast] = np.where(forced, THRUST_DENSITY_FORCE, THRUST_DENSITY)[burn & coast]
        density[t < -0.1] = AT_REST_DENSITY
        for name in (EventName.DROGUE, EventName.MAIN):
            near = (t > self._at(name) - OPENING_BEFORE_S) & (t < self._at(name) + OPENING_AFTER_S)
            density[near] = AT_ONCE_DENSITY
        ground_s = self._at(EventName.TOUCHDOWN)
        density[t > ground_s] = AT_REST_DENSITY
        density[(t > ground_s - GROUND_S) & (t < ground_s + GROUND_S)] = AT_ONCE_DENSITY
        return density

    def smoothed(self) -> SmoothedFlight:
        used = ~self.untrusted & ~self._far_from_median()
        if self.burnout is not None and not np.isfinite(self.force).any():
            self.bridged = self._bridge(self._pass(used), *self.burnout)
        for _ in range(PASSES):
            curve = self._pass(used)
            keep = ~self.untrusted & ~self._strays(curve)
            if (keep == used).all():
                break
            used = keep
        return self._widened(replace(self._pass(used), used=used))

    def _widened(self, curve: SmoothedFlight) -> SmoothedFlight:
        """The curve with deviations, where it was bridged, that own up to what led it there."""
        bridged = np.isfinite(self.bridged)
        if not bridged.any():
            return curve
        top_mps = float(curve.velocity_mps.max())
        apart_mps = 0.0 if self.max_speed_mps is None else abs(top_mps - self.max_speed_mps)
        off_mps = np.maximum(BRIDGED_ERROR_SPEED_SHARE * np.abs(curve.velocity_mps), apart_mps)
        return replace(
            curve,
            altitude_sigma_m=np.hypot(curve.altitude_sigma_m, np.where(bridged, BRIDGED_ERROR_M, 0.0)),
            velocity_sigma_mps=np.hypot(curve.velocity_sigma_mps, np.where(bridged, off_mps, 0.0)),
            acceleration_sigma_mps2=np.hypot(curve.acceleration_sigma_mps2, np.where(bridged, BRIDGED_ERROR_MPS2, 0.0)),
        )

    def _bridge(self, curve: SmoothedFlight, burnout_m: float, burnout_mps: float) -> Array:
        """Heights (n,) by cubic Hermite pieces from the last trusted sample over burnout to the next; nan elsewhere."""
        bridged = np.full(len(self.t), np.nan)
        burnout_s = self._at(EventName.BURNOUT)
        for first, last in _runs(self.untrusted & (self.t < self.climb_end_s)):
            before, after = first - 1, last + 1
            if before < 0 or after >= len(self.t) or not self.t[before] < burnout_s < self.t[after]:
                continue
            inside = slice(first, after)
            knots = np.array([self.t[before], burnout_s, self.t[after]])
            heights = np.array([curve.altitude_m[before], burnout_m, curve.altitude_m[after]])
            speeds = np.array([curve.velocity_mps[before], burnout_mps, curve.velocity_mps[after]])
            bridged[inside] = hermite(self.t[inside], knots, heights, speeds)
        return bridged

    def _variance(self, k: int, used: NDArray[np.bool_]) -> float:
        if used[k]:
            return float(self.sigma[k]) ** 2
        return NOT_USED_M2 if np.isnan(self.bridged[k]) else BRIDGED_SIGMA_M**2

    def _far_from_median(self) -> NDArray[np.bool_]:
        """As Hampel's identifier, from memory: a smoother that is given a whole spike would follow it."""
        first = np.searchsorted(self.t, self.t - MEDIAN_HALF_S)
        last = np.searchsorted(self.t, self.t + MEDIAN_HALF_S, side="right")
        median = np.array([np.median(self.h[a:b]) for a, b in zip(first, last, strict=True)])
        allowed = STRAY_LEAST_M + STRAY_SIGMAS * self.sigma + MEDIAN_MOTION_S * np.abs(self.speeds)
        return np.asarray(np.abs(self.h - median) > allowed)

    def _strays(self, curve: SmoothedFlight) -> NDArray[np.bool_]:
        off = self.h - curve.altitude_m
        scaled = off / np.hypot(self.sigma, curve.altitude_sigma_m)
        stray = (np.abs(scaled) > STRAY_SIGMAS * spread_of(scaled, least=1.0)) & (np.abs(off) > STRAY_LEAST_M)
        for first, last in _runs(stray):
            if self.t[last] - self.t[first] > STRAY_LONGEST_S:
                stray[first : last + 1] = False
        return stray

    def _pass(self, used: NDArray[np.bool_]) -> SmoothedFlight:
        steps = []
        for k in range(len(self.t)):
            force = float(self.force[k])
            known = force == force
            force_sigma = FORCE_SIGMA_MPS2 + FORCE_SIGMA_FRACTION * abs(force + G0_MPS2) if known else 0.0
            height_m = self.h[k] if used[k] or np.isnan(self.bridged[k]) else self.bridged[k]
            steps.append(
                SmoothingStep(
                    float(self.t[k]),
                    float(height_m),
                    self._variance(k, used),
                    force if known else None,
                    force_sigma * force_sigma,
                    float(self.density[k]),
                )
            )
        at_rest = self.t[0] < -0.05
        start = (
            VerticalFilter(altitude_sigma_m=0.3, velocity_sigma_mps=0.1, acceleration_sigma_mps2=1.0)
            if at_rest
            else VerticalFilter(
                float(self.h[0]), altitude_sigma_m=5.0, velocity_sigma_mps=300.0, acceleration_sigma_mps2=100.0
            )
        )
        curve = smooth(start, steps)
        sigmas = np.sqrt(np.maximum(0.0, np.diagonal(curve.covariances, axis1=1, axis2=2)))
        altitude, velocity, acceleration = curve.states.T
        return SmoothedFlight(self.t, altitude, velocity, acceleration, sigmas[:, 0], sigmas[:, 1], sigmas[:, 2], used)


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
