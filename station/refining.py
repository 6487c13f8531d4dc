"""After landing: every event looked at again with the whole curve before and after it; here the climb."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from station.apogee_fit import fit_peak
from station.boost_fit import LEAST_BURN_S, fit_boost
from station.coast_fit import CoastFit, fit_coast
from station.event_sigmas import widened_events, widened_stretches
from station.flight_state import Event, EventName
from station.flown_curve import SPEED_SETTLES_S, FlownCurve
from station.flown_record import COAST_GUARD_S, FlownRecord
from station.force_fit import PORT_LAG_S, fit_force_climb
from station.pipeline import Pipeline
from station.refined_descent import refine_descent
from station.refined_flight import RefinedFlight
from station.thrust_span import first_motion, thrust_end, top_speed_mps
from station.vertical_motion import TRUSTED_MACH

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


class _Refiner:
    def __init__(self, pipeline: Pipeline, curve: FlownCurve) -> None:
        tracker = pipeline.tracker
        self.track = tracker.track
        self.record = FlownRecord(pipeline, curve)
        self.events = {event.name: event for event in tracker.events}
        self.stretches = tracker.stretches()
        self.by_force = False
        self.lag_s = PORT_LAG_S
        self.at_odds = False
        self.max_speed = tracker.fastest_mps
        self.max_acceleration: float | None = float(self.record.live_a.max())

    def refined(self) -> RefinedFlight:
        apogee = self.events.get(EventName.APOGEE)
        if apogee is not None:
            self._climb(self.record.seconds(apogee.t_ms))
            peak = fit_peak(self.record, apogee, self.events.get(EventName.BURNOUT), self.stretches)
            if peak is not None:
                self._move(EventName.APOGEE, peak.t_s - self.lag_s, peak.sigma_s, altitude_m=peak.altitude_m)
        if self._speed_is_a_guess():
            self.max_speed = self.max_acceleration = None
        stretches = refine_descent(self.record, self.events, self.stretches)
        order = (EventName.LIFTOFF, EventName.BURNOUT, EventName.APOGEE, EventName.TOUCHDOWN)
        return RefinedFlight(
            widened_events(
                [self.events[name] for name in order if name in self.events],
                by_force=self.by_force,
                near_sound=bool((self.record.curve.mach > TRUSTED_MACH).any()),
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
        now = min(self.track, key=lambda estimate: abs(estimate.t_ms - burnout.called_t_ms))
        return now.velocity_sigma_mps > GUESSED_SHARE * abs(now.velocity_mps)

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
            t_ms=self.record.origin_ms + 1000.0 * t_s,
            sigma_s=sigma_s,
            altitude_m=event.altitude_m if altitude_m is None else altitude_m,
            altitude_sigma_m=event.altitude_sigma_m if altitude_m is None else None,
            velocity_mps=event.velocity_mps if velocity_mps is None else velocity_mps,
        )

    def _climb(self, apogee_s: float) -> None:
        burnout = self.events.get(EventName.BURNOUT)
        if burnout is None or not burnout.height_is_known:
            return  # A silence hid its end: nothing is left to fit.
        end_s = min([apogee_s, *(f for f in self.record.fired_s if f > 0.0)])
        climb = (self.record.t >= -0.5) & (self.record.t <= end_s)
        known = np.isfinite(self.record.force[climb])
        if known.size and known.mean() > LEAST_FORCE_SHARE:
            self.by_force = True
            self._climb_with_force(climb, burnout)
        else:
            self._climb_by_pressure(end_s, burnout)

    def _climb_with_force(self, climb: NDArray[np.bool_], burnout: Event) -> None:
        sigma = self.record.sigma.copy()
        sigma[climb] = np.where(self._slow(climb), self.record.sigma[climb], np.inf)
        known = climb & np.isfinite(self.record.force)
        fit = fit_force_climb(self.record.t[known], self.record.force[known], self.record.h[known], sigma[known])
        self.lag_s, self.at_odds = fit.lag_s, fit.is_at_odds
        crossing_s = self.record.seconds(burnout.t_ms)
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
        return np.asarray(self.record.curve.velocity_mps[use] <= TRUSTED_MACH * self.record.curve.sound_mps[use])

    def _climb_by_pressure(self, end_s: float, burnout: Event) -> None:
        if self.events[EventName.LIFTOFF].sigma_s > HIDDEN_SIGMA_S:
            return  # A silence hid its beginning: what the filter made of the heights after it stands.
        called_s = self._coasting_from(end_s, self.record.seconds(burnout.called_t_ms))
        coast = self._coast(called_s, end_s)
        if coast is None:
            return
        shocked = self._shocked(end_s)
        if shocked.any():
            # The little of the boost that is left to fit can tell nothing of the coast.
            coast = replace(coast, covariance=coast.covariance * 1e-3)
        t, h, sigma = self.record.t, self.record.h, self.record.sigma
        near = (t > -1.0) & (t < called_s + 0.3) & ~shocked
        fit = fit_boost(t[near], h[near], sigma[near], coast, (-0.6, 0.5), (0.15, called_s + 0.15))
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
        climb = self.record.live_t <= end_s
        fastest_s = float(self.record.live_t[int(np.argmax(self.record.live_v[climb]))])
        return fastest_s + COAST_GUARD_S if fastest_s > called_s else called_s

    def _shocked(self, end_s: float) -> NDArray[np.bool_]:
        """Which samples the nearness of the speed of sound may have spoilt; nothing but the pressure says how fast."""
        t = self.record.t
        climb = t <= end_s
        shocked = np.zeros(len(t), dtype=bool)
        shocked[climb] = ~self._slow(climb)
        fast = t[shocked]
        return shocked | ((t > fast.max()) & (t <= fast.max() + SPEED_SETTLES_S)) if fast.size else shocked

    def _coast(self, called_s: float, end_s: float) -> CoastFit | None:
        speed = float(np.interp(called_s, self.record.live_t, self.record.live_v))
        use = (self.record.t >= called_s) & (self.record.t <= end_s)
        slow = self._slow(use)
        t, h, sigma = self.record.t[use][slow], self.record.h[use][slow], self.record.sigma[use][slow]
        if len(t) < 6:
            return None
        return fit_coast(t, h, sigma, called_s, speed)
