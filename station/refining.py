"""After landing: every event looked at again with the whole curve before and after it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from station.atmosphere import G0_MPS2, pad_density_ratio
from station.biweight import root_weight, spread_of
from station.boost_fit import LEAST_BURN_S, fit_boost
from station.charge_gas import gas_moments_s, with_unreported
from station.coast_fit import CoastFit, fit_coast, fit_fall
from station.descent_fit import fit_hold
from station.event_sigmas import widened_events, widened_stretches
from station.flight_state import Event, EventName
from station.flight_tracker import FlightTracker
from station.flown_curve import FlownCurve
from station.force_fit import PORT_LAG_S, fit_force_climb
from station.parachute_rates import CHANGED_FRACTION
from station.pipeline import Pipeline
from station.refined_flight import RefinedFlight
from station.smoothed_flight import SPEED_SETTLES_S
from station.smoothing import Array
from station.stretch import Stretch
from station.thrust_span import first_motion, thrust_end, top_speed_mps
from station.vertical_motion import TRUSTED_MACH

APOGEE_HALF_WINDOW_S = 2.0
SPIKE_S = 0.6
SPIKE_PEAK_S = 0.12
STRETCH_S = 0.3
# Fired sooner than this before apogee it hardly holds anything before it, at so slow a speed.
EARLY_FIRING_S = 0.7
# A charge that nobody reported: not sooner than this before apogee, not near the speed of sound.
EARLIEST_CHARGE_S = 8.0
FASTEST_CHARGE_MPS = 150.0
# Whose it was is not known either: what opened later than this it did not throw out.
GAS_OPENS_WITHIN_S = 2.5
EARLY_HALF_WINDOW_S = 1.0
# A top that a silence may have hidden is seen after all where so many readings of each side are in the fit.
LEAST_EACH_SIDE = 4
COAST_GUARD_S = 0.25
# With a parachute out at the top: the third-order bend (m/s^3) of a drogue's drag at 5 to 15 m/s sideways, and what is
# left out (s; measured on virtual flights, no source).
BEND_CUBIC = 1.0
BEND_CUBIC_SIGMA = 1.0
BEND_MODEL_SIGMA_S = 0.035
BEND_ROUNDS = 12
BEND_LONGEST_STEP_S = 0.3
HOLD_BEFORE_S = 3.0
HOLD_AFTER_S = 4.0
# After so long a fall (49 m/s without air) what slows it is plain in the heights, be it the airframe or a parachute
# that came out tangled; sooner the fall is taken for a free one.
FREE_FALL_S = 5.0
# A hold that is noticed late is looked for from its charge's firing on.
LATE_SEEN_S = 10.0
# A parachute's first moments, before its drag is one drag area's.
SETTLING_S = 0.8
LONGEST_FALL_S = 7.0
# An opening out of a dive has settled after so long; the last moments may be the landing's; s and m.
SETTLES_S = 1.2
LANDS_S = 0.2
LEAST_SEEN_FALL_M = 3.0
LAST_RATE_SIGMA_M = 0.35
# The rate of a whole stretch lies within this ratio of what was seen live.
MOST_RATE_RATIO = 2.5
SETTLED_SHARE = 0.08
# A silence (ms) after an opening, and what the rate that it promised may be off by: less than a further parachute.
GAP_MS = 1000.0
SAME_RATE_RATIO = 1.4
# A rate that another round of the fit moves by less (m/s) is found.
SAME_RATE_MPS = 1e-4
# Two rates are told apart over so long a fall on each side of a firing (s) ...
PARTED_LEAST_S = 1.5
PARTED_MOST_S = 8.0
# ... from when what came out holds (s).
TAKES_HOLD_S = 2.0
FREE_FALL_MPS = 200.0
LEAST_FORCE_SHARE = 0.5
# A silence hid the liftoff that is known no better; a top speed that strays by more then, from what the coast after it
# makes of it, is not the readings' own.
SEEN_SIGMA_S = 0.1
# By pressure alone, after a silence of a second about the liftoff, the fit would put it where it likes.
HIDDEN_SIGMA_S = 0.29
MOST_SPEED_STRAY = 0.02
# ... and where the filter knew the speed at burnout no better than by this part of it, nothing told how fast it was.
GUESSED_SHARE = 0.12


def refine_flight(pipeline: Pipeline, curve: FlownCurve | None) -> RefinedFlight:
    """Refine the events and the descent of a pipeline that has taken all its lines.

    `curve` is what was flown, its times from the first event's; None where nothing was.
    """
    if curve is None:
        return RefinedFlight((), (), None, None)
    return _Refiner(pipeline, curve).refined()


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches, those made one that a silence parted before the first rate was borne out, and that agree in rate.

    As it happened, what came down after the silence could have been another parachute.
    """
    found: list[Stretch] = []
    for stretch in stretches:
        if found and _goes_on(found[-1], stretch):
            stretch = found.pop().with_its_rest(stretch)
        found.append(stretch)
    return found


def _goes_on(last: Stretch, stretch: Stretch) -> bool:
    if (
        last.opened_ms is None
        or last.is_borne_out
        or stretch.opened_ms is None
        or stretch.start_ms - last.end_ms < GAP_MS
    ):
        return False
    if last.rate_mps is None or stretch.rate_mps is None:
        return False
    return 1.0 / SAME_RATE_RATIO < stretch.rate_mps / last.rate_mps < SAME_RATE_RATIO


def _is_within(t_s: Array) -> bool:
    """Zero lies well inside these times."""
    return min(int((t_s < 0.0).sum()), int((t_s > 0.0).sum())) >= LEAST_EACH_SIDE


class _Refiner:
    def __init__(self, pipeline: Pipeline, curve: FlownCurve) -> None:
        self.pipeline = pipeline
        tracker: FlightTracker = pipeline.tracker
        self.events = {event.name: event for event in tracker.events}
        self.stretches = tracker.stretches()
        self.origin_ms = tracker.events[0].t_ms
        track = tracker.track
        self.curve = curve
        self.t, self.h, self.sigma, self.force = curve.t_s, curve.altitude_m, curve.sigma_m, curve.gained_mps2
        self.live_t = np.array([(e.t_ms - self.origin_ms) / 1000.0 for e in track])
        self.live_h = np.array([e.altitude_m for e in track])
        self.live_v = np.array([e.velocity_mps for e in track])
        self.live_a = np.array([e.acceleration_mps2 for e in track])
        self.by_force = False
        self.lag_s = PORT_LAG_S
        self.at_odds = False
        self.max_speed = tracker.fastest_mps
        self.max_acceleration: float | None = float(self.live_a.max())
        self.reported_s = [
            (c.fired_ms - self.origin_ms) / 1000.0
            for c in pipeline.channels.reports(pipeline.unit)
            if c.fired_ms is not None
        ]
        self.fired_s = with_unreported(self.reported_s, self._gas_s())

    def _gas_s(self) -> list[float]:
        """When the heights show a charge's gas; where the rocket is fast it may be the shock at the ports."""
        apogee = self.events.get(EventName.APOGEE)
        if apogee is None:
            return []
        look = self.t > self._seconds(apogee) - EARLIEST_CHARGE_S
        touchdown = self.events.get(EventName.TOUCHDOWN)
        if touchdown is not None:
            look &= self.t < self._seconds(touchdown)
        t, velocity = self.t[look], self.curve.velocity_mps[look]
        slow = np.abs(velocity) < FASTEST_CHARGE_MPS
        return gas_moments_s(t[slow], self.h[look][slow], self.sigma[look][slow], velocity[slow])

    def refined(self) -> RefinedFlight:
        apogee = self.events.get(EventName.APOGEE)
        if apogee is not None:
            self._climb(self._seconds(apogee))
            self._apogee(self._seconds(self.events[EventName.APOGEE]))
        if self._speed_is_a_guess():
            self.max_speed = self.max_acceleration = None
        self.stretches = [part for stretch in _joined(self.stretches) for part in self._parted(stretch)]
        stretches = tuple(self._stretch(i) for i in range(len(self.stretches)))
        order = (EventName.LIFTOFF, EventName.BURNOUT, EventName.APOGEE, EventName.TOUCHDOWN)
        return RefinedFlight(
            widened_events(
                [self.events[name] for name in order if name in self.events],
                by_force=self.by_force,
                near_sound=bool((self.curve.mach > TRUSTED_MACH).any()),
                at_odds=self.at_odds,
            ),
            widened_stretches(stretches, at_odds=self.at_odds),
            self.max_speed,
            self.max_acceleration,
        )

    def _speed_is_a_guess(self) -> bool:
        """A silence hid the liftoff, and neither pressure nor force has told the speed by the end of the burn."""
        burnout = self.events.get(EventName.BURNOUT)
        if burnout is None or self.events[EventName.LIFTOFF].sigma_s <= HIDDEN_SIGMA_S:
            return False
        now = min(self.pipeline.tracker.track, key=lambda estimate: abs(estimate.t_ms - burnout.called_t_ms))
        return now.velocity_sigma_mps > GUESSED_SHARE * abs(now.velocity_mps)

    def _seconds(self, event: Event) -> float:
        return (event.t_ms - self.origin_ms) / 1000.0

    def _move(
        self,
        name: EventName,
        t_s: float,
        sigma_s: float,
        altitude_m: float | None = None,
        velocity_mps: float | None = None,
    ) -> None:
        event = self.events[name]
        self.events[name] = replace(
            event,
            t_ms=self.origin_ms + 1000.0 * t_s,
            sigma_s=sigma_s,
            altitude_m=event.altitude_m if altitude_m is None else altitude_m,
            altitude_sigma_m=event.altitude_sigma_m if altitude_m is None else None,
            velocity_mps=event.velocity_mps if velocity_mps is None else velocity_mps,
        )

    def _climb(self, apogee_s: float) -> None:
        burnout = self.events.get(EventName.BURNOUT)
        if burnout is None or not burnout.height_is_known:
            return  # A silence hid its end: nothing is left to fit.
        end_s = min([apogee_s, *(f for f in self.fired_s if f > 0.0)])
        climb = (self.t >= -0.5) & (self.t <= end_s)
        known = np.isfinite(self.force[climb])
        if known.size and known.mean() > LEAST_FORCE_SHARE:
            self.by_force = True
            self._climb_with_force(climb, burnout)
        else:
            self._climb_by_pressure(end_s, burnout)

    def _climb_with_force(self, climb: NDArray[np.bool_], burnout: Event) -> None:
        sigma = self.sigma.copy()
        sigma[climb] = np.where(self._slow(climb), self.sigma[climb], np.inf)
        known = climb & np.isfinite(self.force)
        fit = fit_force_climb(self.t[known], self.force[known], self.h[known], sigma[known])
        self.lag_s, self.at_odds = fit.lag_s, fit.is_at_odds
        crossing_s = self._seconds(burnout)
        burn_s = max(LEAST_BURN_S, crossing_s)
        top_mps = top_speed_mps(fit, burn_s)
        live_mps = self.max_speed
        hidden = self.events[EventName.LIFTOFF].sigma_s > SEEN_SIGMA_S
        if hidden and live_mps is not None and abs(top_mps / live_mps - 1.0) > MOST_SPEED_STRAY:
            return  # The push in the silence is anybody's guess: what the filter made of the heights after it stands.
        self.max_speed = top_mps
        self.max_acceleration = float(fit.acceleration_mps2.max())
        begun = first_motion(fit, burn_s)
        if begun is not None:
            self._move(EventName.LIFTOFF, begun.t_s, begun.sigma_s)
        end = thrust_end(fit, crossing_s, burn_s)
        at_s = crossing_s if end is None else end.t_s
        self._move(
            EventName.BURNOUT,
            at_s,
            burnout.sigma_s if end is None else end.sigma_s,
            altitude_m=float(np.interp(at_s, fit.t_s, fit.altitude_m)),
            velocity_mps=float(np.interp(at_s, fit.t_s, fit.velocity_mps)),
        )

    def _slow(self, use: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Which of the samples in use were taken well below the speed of sound, where the pressure is trusted."""
        return np.asarray(self.curve.velocity_mps[use] <= TRUSTED_MACH * self.curve.sound_mps[use])

    def _without_spikes(self, use: NDArray[np.bool_], spoilt_s: float = SPIKE_S) -> NDArray[np.bool_]:
        """The samples in use but for those that a firing charge has spoilt, for so long."""
        for fired in self.fired_s:
            use = use & ((self.t < fired) | (self.t > fired + spoilt_s))
        return use

    def _climb_by_pressure(self, end_s: float, burnout: Event) -> None:
        if self.events[EventName.LIFTOFF].sigma_s > HIDDEN_SIGMA_S:
            return  # A silence hid its beginning: what the filter made of the heights after it stands.
        called_s = self._coasting_from(end_s, (burnout.called_t_ms - self.origin_ms) / 1000.0)
        coast = self._coast(called_s, end_s)
        if coast is None:
            return
        shocked = self._shocked(end_s)
        if shocked.any():
            # The little of the boost that is left to fit can tell nothing of the coast.
            coast = replace(coast, covariance=coast.covariance * 1e-3)
        near = (self.t > -1.0) & (self.t < called_s + 0.3) & ~shocked
        fit = fit_boost(self.t[near], self.h[near], self.sigma[near], coast, (-0.6, 0.5), (0.15, called_s + 0.15))
        if fit is None:
            return
        # What the pressure shows happened a little before.
        self._move(EventName.LIFTOFF, fit.liftoff_s - self.lag_s, fit.liftoff_sigma_s)
        self._move(
            EventName.BURNOUT,
            fit.burnout_s - self.lag_s,
            fit.burnout_sigma_s,
            altitude_m=fit.burnout_altitude_m,
            velocity_mps=fit.burnout_velocity_mps,
        )
        self.max_speed = fit.max_speed_mps
        self.max_acceleration = fit.max_acceleration_mps2

    def _coasting_from(self, end_s: float, called_s: float) -> float:
        """When it was surely coasting: not before it was fastest, if burnout was called too soon."""
        climb = self.live_t <= end_s
        fastest_s = float(self.live_t[int(np.argmax(self.live_v[climb]))])
        return fastest_s + COAST_GUARD_S if fastest_s > called_s else called_s

    def _shocked(self, end_s: float) -> NDArray[np.bool_]:
        """Which samples the nearness of the speed of sound may have spoilt; nothing but the pressure says how fast."""
        climb = self.t <= end_s
        shocked = np.zeros(len(self.t), dtype=bool)
        shocked[climb] = ~self._slow(climb)
        fast = self.t[shocked]
        return shocked | ((self.t > fast.max()) & (self.t <= fast.max() + SPEED_SETTLES_S)) if fast.size else shocked

    def _coast(self, called_s: float, end_s: float) -> CoastFit | None:
        speed = float(np.interp(called_s, self.live_t, self.live_v))
        use = (self.t >= called_s) & (self.t <= end_s)
        slow = self._slow(use)
        t, h, sigma = self.t[use][slow], self.h[use][slow], self.sigma[use][slow]
        if len(t) < 6:
            return None
        return fit_coast(t, h, sigma, called_s, speed)

    def _apogee(self, apogee_s: float) -> None:
        """Near the top drag is all but nothing: h = H - g (t - T)^2 / 2, from burnout's end to the drogue's pull."""
        holds = [(s.opened_ms - self.origin_ms) / 1000.0 for s in self.stretches if s.opened_ms is not None]
        pulls = [f + STRETCH_S for f in self.fired_s if f > apogee_s - EARLY_FIRING_S]
        end_s = min([apogee_s + APOGEE_HALF_WINDOW_S, *pulls, *(h for h in holds if h > apogee_s - 0.5)])
        early = [f for f in self.fired_s if apogee_s - 8.0 < f <= apogee_s - EARLY_FIRING_S]
        start_s = apogee_s - APOGEE_HALF_WINDOW_S
        if early:
            # A drogue already out: no free fall, so only the bend next to the top counts, and its curvature is fitted.
            start_s = max(early[-1] + STRETCH_S, apogee_s - EARLY_HALF_WINDOW_S)
            end_s = min(end_s, apogee_s + EARLY_HALF_WINDOW_S)
        burnout = self.events.get(EventName.BURNOUT)
        if burnout is not None:
            start_s = max(start_s, self._seconds(burnout) + COAST_GUARD_S)
        use = self._without_spikes((self.t >= start_s) & (self.t <= max(end_s, apogee_s)))
        t, h, sigma = self.t[use] - apogee_s, self.h[use], self.sigma[use]
        if self.events[EventName.APOGEE].altitude_sigma_m is not None and not _is_within(t):
            return  # A silence hid it: what was reckoned from the climb before stands.
        if len(t) < 6:
            return
        if early:
            self._apogee_of_bend(apogee_s, t, h, sigma)
            return
        bend = h + 0.5 * G0_MPS2 * t * t
        basis = np.stack([np.ones_like(t), G0_MPS2 * t], axis=1)
        weight = 1.0 / sigma**2
        for _ in range(6):
            normal = basis.T @ (weight[:, None] * basis)
            try:
                top, late = np.linalg.solve(normal, basis.T @ (weight * bend))
            except np.linalg.LinAlgError:
                return
            scaled = (bend - basis @ np.array([top, late])) / sigma
            spread = spread_of(scaled, least=1.0)
            weight = (root_weight(scaled, spread) / sigma) ** 2
        covariance = np.linalg.inv(normal) * spread**2
        if abs(late) > 1.5:
            return
        peak = float(top) + 0.5 * G0_MPS2 * float(late) ** 2
        self._move(
            EventName.APOGEE,
            apogee_s + float(late) - self.lag_s,
            max(0.01, float(covariance[1, 1]) ** 0.5),
            altitude_m=peak,
        )

    def _apogee_of_bend(self, apogee_s: float, t: Array, h: Array, sigma: Array) -> None:
        """The top of a climb that a parachute already brakes: h = H - g s^2 / 2 + c s^3 with s = t - T.

        At the top there is no vertical speed and so no vertical drag, whatever the speed sideways; what drag does
        before and after it is of third order. How high it was, a parabola of any curvature tells better: it takes in
        some of what is of higher order still.
        """
        if t[-1] - t[0] < 0.5:
            return
        curve, slope, level = np.polyfit(t, h, 2, w=1.0 / sigma)
        if curve >= -0.5:
            return
        top, late, cubic = float(np.interp(0.0, t, h)), 0.0, BEND_CUBIC
        normal = np.eye(3)
        for _ in range(BEND_ROUNDS):
            s = t - late
            slopes = np.stack([np.ones_like(s), G0_MPS2 * s - 3.0 * cubic * s * s, s**3], axis=1) / sigma[:, None]
            off = (h - top + 0.5 * G0_MPS2 * s * s - cubic * s**3) / sigma
            normal = slopes.T @ slopes
            normal[2, 2] += BEND_CUBIC_SIGMA**-2
            pull = slopes.T @ off
            pull[2] -= (cubic - BEND_CUBIC) * BEND_CUBIC_SIGMA**-2
            change = np.linalg.solve(normal, pull)
            top, cubic = top + float(change[0]), cubic + float(change[2])
            late += min(BEND_LONGEST_STEP_S, max(-BEND_LONGEST_STEP_S, float(change[1])))
        if abs(late) > 1.0:
            return
        sigma_s = max(0.02, float(np.linalg.inv(normal)[1, 1]) ** 0.5)
        self._move(
            EventName.APOGEE,
            apogee_s + late - self.lag_s,
            float(np.hypot(sigma_s, BEND_MODEL_SIGMA_S)),
            altitude_m=float(level - slope**2 / (4.0 * curve)),
        )

    def _parted(self, stretch: Stretch) -> list[Stretch]:
        """The stretch in two where the fall before a charge's firing and the one after it plainly differ in rate.

        A parachute that came out tangled may add so little drag that it is not noticed as it happens.
        """
        if stretch.opened_ms is None or stretch.rate_mps is None:
            return [stretch]
        begin_s = (stretch.opened_ms - self.origin_ms) / 1000.0 + SETTLING_S
        touchdown = self.events.get(EventName.TOUCHDOWN)
        end_s = (stretch.end_ms - self.origin_ms) / 1000.0
        if touchdown is not None:
            end_s = min(end_s, self._seconds(touchdown))
        for fired_s in self.fired_s:
            if fired_s - begin_s < PARTED_LEAST_S or end_s - fired_s < PARTED_LEAST_S + TAKES_HOLD_S:
                continue
            since_s, until_s = max(begin_s, fired_s - PARTED_MOST_S), min(end_s, fired_s + TAKES_HOLD_S + PARTED_MOST_S)
            before, after = self._mean_rate(since_s, fired_s), self._mean_rate(fired_s + TAKES_HOLD_S, until_s)
            if before is None or after is None or not 0.0 < after < CHANGED_FRACTION * before:
                continue
            at_m = float(np.interp(fired_s + STRETCH_S, self.live_t, self.live_h))
            at_ms = self.origin_ms + 1000.0 * (fired_s + STRETCH_S)
            at_pad_density = pad_density_ratio(at_m) ** 0.5
            slowed = replace(
                stretch,
                start_ms=at_ms,
                opened_ms=at_ms,
                opened_sigma_s=STRETCH_S,
                opened_altitude_m=at_m,
                speed_at_opening_mps=before * at_pad_density,
                rate_mps=after * at_pad_density,
                mean_rate_mps=after,
                steady_s=end_s - fired_s - TAKES_HOLD_S,
                called_ms=self.origin_ms + 1000.0 * (fired_s + TAKES_HOLD_S + PARTED_LEAST_S),
                promises=tuple(promise for promise in stretch.promises if promise[0] > at_ms),
                fastest_mps=before * at_pad_density,
            )
            held = replace(
                stretch,
                end_ms=at_ms,
                rate_mps=before * at_pad_density,
                mean_rate_mps=before,
                steady_s=fired_s - begin_s,
                promises=tuple(promise for promise in stretch.promises if promise[0] <= at_ms),
            )
            return [held, slowed]
        return [stretch]

    def _stretch(self, index: int) -> Stretch:
        stretch = self.stretches[index]
        if index + 1 == len(self.stretches) and not stretch.is_steady:
            stretch = self._seen_low(stretch)
        if stretch.opened_ms is None or stretch.rate_mps is None:
            return stretch
        opened_s = (stretch.opened_ms - self.origin_ms) / 1000.0
        end_s = (stretch.end_ms - self.origin_ms) / 1000.0
        touchdown = self.events.get(EventName.TOUCHDOWN)
        if touchdown is not None:
            end_s = min(end_s, self._seconds(touchdown))
        later = [f for f in self.fired_s if opened_s + 1.0 < f < end_s + LATE_SEEN_S]
        last = index + 1 == len(self.stretches)
        end_s = end_s - 0.2 if last else min([end_s - 0.6, *later])
        stretch = self._with_rate(stretch, opened_s, end_s)
        if stretch.opened_sigma_s > 0.6:
            return stretch  # a gap hid it: the curve says no more
        return self._hold(index, stretch, opened_s, end_s)

    def _seen_low(self, stretch: Stretch) -> Stretch:
        """The stretch with the rate of its last moments: what opened low down was all seen, once the landing is known.

        While it came down, it could not be told from a landing.
        """
        touchdown = self.events.get(EventName.TOUCHDOWN)
        if touchdown is None or stretch.opened_ms is None:
            return stretch
        start_s = (stretch.opened_ms - self.origin_ms) / 1000.0 + SETTLES_S
        end_s = self._seconds(touchdown) - LANDS_S
        rate_mps = self._mean_rate(start_s, end_s)
        if rate_mps is None or rate_mps * (end_s - start_s) < LEAST_SEEN_FALL_M:
            return stretch
        seen_s = end_s - start_s
        sigma_mps = max(0.1, LAST_RATE_SIGMA_M / seen_s)
        return replace(stretch, rate_mps=rate_mps, rate_sigma_mps=sigma_mps, mean_rate_mps=rate_mps, steady_s=seen_s)

    def _with_rate(self, stretch: Stretch, opened_s: float, end_s: float) -> Stretch:
        """The stretch with its rate from the curve; what has not settled yet is judged by where it was going."""
        assert stretch.rate_mps is not None
        scale = pad_density_ratio(stretch.opened_altitude_m) ** -0.5
        settling = self._fall(
            opened_s + SETTLING_S, min(end_s, opened_s + SETTLING_S + LONGEST_FALL_S), stretch.rate_mps
        )
        rate = stretch.rate_mps
        settled_s = opened_s + SETTLING_S
        fitted = (G0_MPS2 / settling.drag_per_m) ** 0.5 if settling is not None and settling.drag_per_m > 0.0 else 0.0
        # A fit from a speed that was not known well may run away from what was plain to see.
        if settling is not None and 1.0 / MOST_RATE_RATIO < fitted / rate < MOST_RATE_RATIO:
            rate = fitted
            at = np.arange(settled_s, min(end_s, settled_s + LONGEST_FALL_S), 0.1)
            if len(at):
                slow = np.abs(settling.at(at)[1] / (rate * scale) + 1.0) < SETTLED_SHARE
                settled_s = float(at[int(np.argmax(slow))]) if slow.any() else end_s
        mean_rate = self._mean_rate(settled_s, end_s)
        if mean_rate is None and settling is None and EventName.TOUCHDOWN in self.events:
            # Too short a fall before the ground: what the live filter saw was the landing as well.
            return replace(stretch, rate_mps=None, mean_rate_mps=None, steady_s=0.0)
        if mean_rate is None:
            return replace(stretch, rate_mps=rate, mean_rate_mps=rate * scale)
        middle_m = float(np.interp(0.5 * (settled_s + end_s), self.t, self.h))
        return replace(stretch, rate_mps=mean_rate * pad_density_ratio(middle_m) ** 0.5, mean_rate_mps=mean_rate)

    def _fall(self, start_s: float, end_s: float, carried_mps: float) -> CoastFit | None:
        """The fall between two times, as one drag area makes it."""
        use = self._without_spikes((self.t >= start_s) & (self.t <= end_s))
        t, h, sigma = self.t[use], self.h[use], self.sigma[use]
        if len(t) < 8 or t[-1] - t[0] < 0.8:
            return None
        velocity = float(np.interp(start_s, self.live_t, self.live_v))
        return fit_fall(t, h, sigma, float(t[0]), velocity, max(2.0, carried_mps))

    def _fall_before(
        self, start_s: float, end_s: float, before: Stretch | None, apogee_s: float
    ) -> tuple[float, float]:
        """Velocity (m/s) at the start, and the speed (m/s) that the drag then would carry, before a parachute."""
        earliest_s = apogee_s
        if before is not None and before.opened_ms is not None:
            earliest_s = (before.opened_ms - self.origin_ms) / 1000.0 + SETTLING_S
        carried = before.rate_mps if before is not None and before.rate_mps is not None else FREE_FALL_MPS
        fall = self._fall(max(earliest_s, start_s - HOLD_BEFORE_S), max(end_s, start_s + 0.5), carried)
        if fall is None or fall.drag_per_m <= 0.0:
            return self._fall_at(start_s)
        height, velocity = fall.at(np.array([start_s]))
        thin = pad_density_ratio(float(height[0]))
        return float(velocity[0]), min(FREE_FALL_MPS, (G0_MPS2 / (fall.drag_per_m * thin)) ** 0.5)

    def _fall_at(self, t_s: float) -> tuple[float, float]:
        """The same by the live estimate."""
        velocity = float(np.interp(t_s, self.live_t, self.live_v))
        acceleration = float(np.interp(t_s, self.live_t, self.live_a))
        drag_g = min(2.0, max(0.02, 1.0 + acceleration / G0_MPS2))
        return velocity, max(1.0, abs(velocity)) / drag_g**0.5

    def _mean_rate(self, start_s: float, end_s: float) -> float | None:
        use = self._without_spikes((self.t >= start_s) & (self.t <= end_s))
        t, h = self.t[use], self.h[use]
        if len(t) < 8 or t[-1] - t[0] < 1.0:
            return None
        # Tukey's biweight (common practice): a charge whose firing was not heard leaves its spike in.
        weight = np.ones_like(t)
        slope = 0.0
        for _ in range(8):
            middle, level = (weight @ t) / weight.sum(), (weight @ h) / weight.sum()
            last, slope = slope, float((weight * (t - middle)) @ h / ((weight * (t - middle)) @ (t - middle)))
            if abs(slope - last) < SAME_RATE_MPS:
                break
            off = h - level - slope * (t - middle)
            weight = root_weight(off, spread_of(off, least=1e-3)) ** 2
        return -slope

    def _hold(self, index: int, stretch: Stretch, opened_s: float, end_s: float) -> Stretch:
        apogee_s = self._seconds(self.events[EventName.APOGEE])
        before = self.stretches[index - 1] if index else None
        first = before is None or before.opened_ms is None
        fired = [
            f
            for f in self.fired_s
            if -0.5 < opened_s - f < (LATE_SEEN_S if f in self.reported_s else GAS_OPENS_WITHIN_S)
        ]
        earliest_s, latest_s = opened_s - 2.5, opened_s + 1.0
        if fired:
            earliest_s, latest_s = min(earliest_s, fired[-1]), max(latest_s, fired[-1] + 1.0)
        start_s = apogee_s if first else min(opened_s - HOLD_BEFORE_S, earliest_s - 0.5)
        if first and opened_s - apogee_s > FREE_FALL_S:
            start_s = min(opened_s - HOLD_BEFORE_S, earliest_s - 0.5)
        # The height of a charge's spike is no guide, how it fades is known well enough to be fitted.
        use = self._without_spikes((self.t >= start_s) & (self.t <= min(opened_s + HOLD_AFTER_S, end_s)), SPIKE_PEAK_S)
        t, h, sigma = self.t[use], self.h[use], self.sigma[use]
        if len(t) < 8 or stretch.rate_mps is None:
            return stretch
        scale = pad_density_ratio(stretch.opened_altitude_m) ** -0.5
        if first and start_s == apogee_s:
            v0 = G0_MPS2 * (apogee_s - float(t[0]))
            carry_before = None
        else:
            v0, carry_before = self._fall_before(float(t[0]), fired[-1] if fired else opened_s - 1.0, before, apogee_s)
        fit = fit_hold(
            t,
            h,
            sigma,
            v0,
            carry_before,
            stretch.rate_mps * scale,
            (max(earliest_s, float(t[0]) - (1.0 if first else 0.0)), min(latest_s, end_s)),
            fired[-1] if fired else None,
            [f for f in self.fired_s if t[0] - 1.0 < f < t[-1]],
        )
        if fit is None:
            return stretch
        # By the live estimate, for the readings here may be those of the charge's spike.
        at_m = float(np.interp(fit.t_s, self.live_t, self.live_h))
        fell_mps = -float(np.interp(fit.t_s - STRETCH_S, self.live_t, self.live_v))
        return replace(
            stretch,
            speed_at_opening_mps=max(stretch.speed_at_opening_mps, fell_mps * pad_density_ratio(at_m) ** 0.5),
            opened_ms=self.origin_ms + 1000.0 * fit.t_s,
            opened_sigma_s=max(0.05, fit.sigma_s),
            opened_altitude_m=at_m,
        )
