"""From samples to phase, events and the descent's stretches: the estimator with the detectors around it.

Pure, one sample at a time. The process noise follows the phase, for a burning motor and a rocket under a parachute are
not equally predictable; the values are tuned on virtual flights.
"""

from collections.abc import Sequence

from station.ascent import ApogeeDetector, AscentLimits, BurnoutDetector
from station.atmosphere import (
    G0_MPS2,
    KELVIN_AT_ZERO_C,
    LAPSE_K_PER_M,
    metres_per_pascal,
    speed_of_sound_mps,
)
from station.descent import DescentLimits, DescentTracker
from station.estimator import VerticalFilter
from station.flight_state import Basis, Estimate, Event, EventName, Phase
from station.liftoff import Liftoff, LiftoffDetector, Sample
from station.pad import STANDARD_TEMPERATURE_C, PadReference

JERK_WAITING = 4.0
JERK_THRUST_BARO = 4000.0
JERK_THRUST_FORCE = 40_000.0
JERK_COAST = 30.0
JERK_COAST_FORCE = 200.0
JERK_DESCENT = 120.0
FORCE_NOISE_FRACTION = 0.03
FORCE_NOISE_MPS2 = 0.6
DRAG_MODEL_LEAST_SPEED_MPS = 25.0
GATE_SIGMAS = 5.0
GATE_LEAST_M = 3.0
SOFT_GATE_SIGMAS = 3.0
REFUSED_LONGEST_MS = 450.0
RING_BEFORE_S = 2.0
TRANSONIC_SIGMA_M = 120.0
TRACK_AFTER_DOWN_MS = 30_000.0
LONGEST_STEP_S = 30.0


class FlightTracker:
    """Owns the filter and the phase; `events` and `track` only ever grow."""

    def __init__(self, pad: PadReference) -> None:
        self.pad = pad
        self.phase = Phase.WAITING
        self.events: list[Event] = []
        self.track: list[Estimate] = []
        self.filter: VerticalFilter | None = None
        self.estimate: Estimate | None = None
        self.highest_m: float | None = None
        self.fastest_mps: float | None = None
        self.descent: DescentTracker | None = None
        self.last_sample_ms: float | None = None
        self.refused = 0
        self.limits = AscentLimits()
        self._liftoff = LiftoffDetector()
        self._burnout = BurnoutDetector(self.limits)
        self._apogee = ApogeeDetector(self.limits)
        self._refused_since: float | None = None
        self._untrusted_until_ms = 0.0
        self._metres_per_pa = metres_per_pascal(101325.0, 288.15)
        self._sound_mps = 340.0
        self._pad_kelvin = 288.15
        self._force_used = False
        self._ground_m = 0.0

    @property
    def liftoff_ms(self) -> float | None:
        """Time of first motion, or None while waiting."""
        return self.events[0].t_ms if self.events else None

    def event(self, name: EventName) -> Event | None:
        """The event of that name, if it has been called."""
        for event in self.events:
            if event.name is name:
                return event
        return None

    def take(
        self, t_ms: float, pressure_pa: float, temperature_c: float | None, axial_mps2: float | None
    ) -> Estimate | None:
        """Take one sample; returns the new estimate, or None when no reference is known yet or it is late."""
        if self.last_sample_ms is not None and t_ms <= self.last_sample_ms:
            return None
        self.last_sample_ms = t_ms
        if self.phase is Phase.WAITING:
            self.pad.take(t_ms, pressure_pa, temperature_c, axial_mps2)
            if self.pad.pressure_pa is None:
                return None
        altitude_m = self.pad.altitude_m(pressure_pa)
        rest = self.pad.rest_mps2
        gained = axial_mps2 - rest if axial_mps2 is not None and rest is not None else None
        if self.phase is Phase.WAITING:
            self._wait(Sample(t_ms, pressure_pa, altitude_m, gained))
        else:
            self._fly(t_ms, pressure_pa, altitude_m, gained)
        return self._publish(t_ms)

    # -- waiting -------------------------------------------------------------------------------------------

    def _wait(self, sample: Sample) -> None:
        variance = self.pad.altitude_variance_m2
        state = self.filter
        if state is None:
            self.filter = VerticalFilter(sample.altitude_m, altitude_sigma_m=variance**0.5)
            self.estimate = self.filter.estimate(sample.t_ms)
        else:
            assert self.estimate is not None
            state.predict(min(LONGEST_STEP_S, (sample.t_ms - self.estimate.t_ms) / 1000.0), JERK_WAITING)
            self._take_altitude(state, sample.t_ms, sample.altitude_m, variance)
        found = self._liftoff.take(sample, variance**0.5, self.pad.excursion_m)
        if found is not None:
            self._lift_off(found, sample)

    def _lift_off(self, found: Liftoff, sample: Sample) -> None:
        ring: Sequence[Sample] = tuple(self._liftoff.ring)
        self.pad.settle(found.t_ms - 100.0)
        temperature = self.pad.air_temperature_c
        self._pad_kelvin = KELVIN_AT_ZERO_C + (STANDARD_TEMPERATURE_C if temperature is None else temperature)
        self.phase = Phase.THRUST
        self.events.append(Event(EventName.LIFTOFF, found.t_ms, 0.0, 0.0, found.sigma_s, Basis.ESTIMATED, sample.t_ms))
        # Go over the last moments again, now as the start of a flight.
        self.filter = state = VerticalFilter(
            0.0, 0.0, 0.0, altitude_sigma_m=0.3, velocity_sigma_mps=0.3, acceleration_sigma_mps2=0.5
        )
        last_ms = found.t_ms
        first = True
        for s in ring:
            if s.t_ms <= found.t_ms:
                rest_sigma = self.pad.altitude_variance_m2**0.5
                self.track.append(Estimate(s.t_ms, s.altitude_m, 0.0, 0.0, rest_sigma, 0.3, 0.5))
                continue
            state.predict((s.t_ms - last_ms) / 1000.0, self._jerk(s.gained_mps2 is not None))
            if first:
                # Ignition: the acceleration is whatever the motor makes of it.
                state.loosen(0.0, 1.0, 80.0**2)
                first = False
            last_ms = s.t_ms
            self._measure(s.t_ms, s.pressure_pa, self.pad.altitude_m(s.pressure_pa), s.gained_mps2, state)
            if s is not sample:
                self._publish(s.t_ms)

    # -- flying --------------------------------------------------------------------------------------------

    def _fly(self, t_ms: float, pressure_pa: float, altitude_m: float, gained: float | None) -> None:
        state = self.filter
        assert state is not None
        assert self.estimate is not None
        dt = min(LONGEST_STEP_S, (t_ms - self.estimate.t_ms) / 1000.0)
        state.predict(dt, self._jerk(gained is not None), self._drag_jerk(state, dt))
        trusted = self._measure(t_ms, pressure_pa, altitude_m, gained, state)
        phase = self.phase
        if phase is Phase.THRUST:
            self._watch_burnout(t_ms, gained, state)
        if phase in (Phase.THRUST, Phase.COAST):
            if trusted:
                self._watch_apogee(t_ms, state)
        elif phase is Phase.DESCENT:
            self._watch_descent(t_ms, altitude_m, state)

    def _jerk(self, with_force: bool) -> float:
        if self.phase is Phase.THRUST:
            return JERK_THRUST_FORCE if with_force else JERK_THRUST_BARO
        if self.phase is Phase.COAST:
            return JERK_COAST_FORCE if with_force else JERK_COAST
        if self.phase is Phase.DESCENT:
            return JERK_DESCENT
        return JERK_WAITING

    def _drag_jerk(self, state: VerticalFilter, dt: float) -> float:
        """In the coast drag falls with the square of the speed: da/dt = -d(k v^2)/dt = 2 (a + g) a / v."""
        if self.phase is not Phase.COAST or state.v < DRAG_MODEL_LEAST_SPEED_MPS:
            return 0.0
        drag = -(state.a + G0_MPS2)
        if drag <= 0.0:
            return 0.0
        return min(2.0 * drag * -state.a / state.v, 0.5 * drag / dt if dt > 0.0 else 0.0)

    def _measure(
        self, t_ms: float, pressure_pa: float, altitude_m: float, gained: float | None, state: VerticalFilter
    ) -> bool:
        """Take in what the sample says; False while pressure cannot be trusted (near the speed of sound)."""
        kelvin = max(200.0, self._pad_kelvin - LAPSE_K_PER_M * max(0.0, state.h))
        self._metres_per_pa = metres_per_pascal(pressure_pa, kelvin)
        variance = (self.pad.noise_pa * self._metres_per_pa) ** 2
        phase = self.phase
        if gained is not None and phase in (Phase.THRUST, Phase.COAST):
            sigma = FORCE_NOISE_MPS2 + FORCE_NOISE_FRACTION * abs(gained + G0_MPS2)
            state.update_acceleration(gained, sigma * sigma)
            self._force_used = True
        if phase in (Phase.THRUST, Phase.COAST):
            if state.v > self.limits.trusted_mach * speed_of_sound_mps(kelvin):
                self._untrusted_until_ms = t_ms + 1000.0 * self.limits.trust_again_s
            if t_ms < self._untrusted_until_ms:
                if gained is None:
                    state.update_altitude(altitude_m, variance + TRANSONIC_SIGMA_M**2)
                return False
        self._take_altitude(state, t_ms, altitude_m, variance)
        return True

    def _take_altitude(self, state: VerticalFilter, t_ms: float, altitude_m: float, variance: float) -> None:
        """Update, unless the innovation says that something other than motion moved the pressure."""
        innovation, spread = state.altitude_innovation(altitude_m, variance)
        sigma = spread**0.5
        size = abs(innovation)
        if size > max(GATE_SIGMAS * sigma, GATE_LEAST_M):
            self.refused += 1
            if self._refused_since is None:
                self._refused_since = t_ms
            if t_ms - self._refused_since < REFUSED_LONGEST_MS:
                return
            # So long is no spike: the filter was wrong, not the sensor.
            state.loosen(size * size, size * size, size * size)
        else:
            self._refused_since = None
            if size > SOFT_GATE_SIGMAS * sigma:
                variance *= (size / (SOFT_GATE_SIGMAS * sigma)) ** 2
        state.update_altitude(altitude_m, variance)

    def _watch_burnout(self, t_ms: float, gained: float | None, state: VerticalFilter) -> None:
        at_ms = self._burnout.by_force(t_ms, gained) if gained is not None else self._burnout.by_filter(t_ms, state)
        if at_ms is None:
            return
        self.phase = Phase.COAST
        back_s = (t_ms - at_ms) / 1000.0
        self.events.append(
            Event(
                EventName.BURNOUT,
                at_ms,
                state.h - state.v * back_s,
                state.v,
                0.03 if gained is not None else 0.3,
                Basis.ESTIMATED,
                t_ms,
            )
        )

    def _watch_apogee(self, t_ms: float, state: VerticalFilter) -> None:
        found = self._apogee.take(t_ms, state)
        if found is None:
            return
        at_ms, top_m, sigma_s = found
        self.events.append(Event(EventName.APOGEE, at_ms, top_m, 0.0, sigma_s, Basis.ESTIMATED, t_ms))
        self.phase = Phase.DESCENT
        self.descent = DescentTracker(DescentLimits(), at_ms, top_m)

    def _watch_descent(self, t_ms: float, altitude_m: float, state: VerticalFilter) -> None:
        assert self.descent is not None
        self.descent.take(t_ms, state)
        noise_m = self.pad.noise_pa * self._metres_per_pa
        found = self.descent.touchdown(t_ms, altitude_m, noise_m)
        if found is not None:
            at_ms, sigma_s = found
            self.events.append(Event(EventName.TOUCHDOWN, at_ms, state.h, 0.0, sigma_s, Basis.ESTIMATED, t_ms))
            self.phase = Phase.DOWN

    def _publish(self, t_ms: float) -> Estimate | None:
        state = self.filter
        if state is None:
            return None
        estimate = self.estimate = state.estimate(t_ms)
        if self.phase is Phase.WAITING:
            return estimate
        if self.phase is not Phase.DOWN or t_ms - self.events[-1].t_ms < TRACK_AFTER_DOWN_MS:
            self.track.append(estimate)
        if self.highest_m is None or estimate.altitude_m > self.highest_m:
            self.highest_m = estimate.altitude_m
        if self.fastest_mps is None or estimate.velocity_mps > self.fastest_mps:
            self.fastest_mps = estimate.velocity_mps
        return estimate
