"""From samples to phase, events and the descent's stretches: the estimator with the detectors around it.

Pure, one sample at a time. The process noise follows the phase, for a burning motor and a rocket under a parachute are
not equally predictable; the values are tuned on virtual flights.
"""

from math import hypot, inf, sqrt
from typing import Final

from station.ascent import ApogeeDetector, AscentLimits, BurnoutDetector
from station.atmosphere import G0_MPS2, KELVIN_AT_ZERO_C, isa_altitude_m
from station.descent import DescentLimits, DescentTracker
from station.doubted_liftoff import DoubtedLiftoff, Heard
from station.estimator import VerticalFilter
from station.event_sigmas import BURNOUT_NEAR_SOUND_S
from station.flight_state import Basis, Estimate, Event, EventName, Phase, TakenBack
from station.hidden_liftoff import FELT_PUSH_MPS2, state_after_hidden_liftoff
from station.liftoff import Liftoff, LiftoffDetector, Sample
from station.pad import STANDARD_TEMPERATURE_C, PadReference
from station.records import new_tuple
from station.stretch import Stretch
from station.stuck_force import StuckForce
from station.top_speed import TopSpeed
from station.unseen_top import (
    LONG_SILENCE_MS,
    SILENT_MS,
    UnseenTop,
    climbing_still,
    falling_since,
    foretold_top,
    lost_from,
    turning_at,
)
from station.vertical_motion import VerticalMotion

STILL_MPS: Final = 2.0
AT_TOUCHDOWN_MS: Final = 400.0
UNSEEN_START_S: Final = 0.1
FOUND_SPEED_FRACTION: Final = 0.06
GUESSED_SPEED_FRACTION: Final = 0.25
FOUND_SPEED_MS: Final = 600.0
FORCE_RECENT_MS: Final = 500.0
SETTLED_SPEED_FRACTION: Final = 0.03
SETTLED_LATEST_S: Final = 1.5
CARRIED_BACK_LONGEST_S: Final = 2.5
TRACK_AFTER_DOWN_MS: Final = 30_000.0
# What seems to have ended so soon after a silence ended in it.
AFTER_SILENCE_MS: Final = 1500.0
# An apogee called so soon after a silence, by speeds that are hardly known yet, is dated by the coast before it.
NEAR_SILENCE_MS: Final = 1500.0
# A push that is felt by pressure: an acceleration by so many standard deviations.
FELT_PUSH_SIGMAS: Final = 2.0
# Standard deviations of a burnout called by pressure alone; faster than this the shock at the ports hides it.
BURNOUT_BY_PRESSURE_S: Final = 0.3
NEAR_SOUND_MPS: Final = 250.0
# What an accelerometer says that may be stuck is refuted by pressure where the speeds differ by so much.
STUCK_APART_MPS: Final = 5.0
STUCK_SIGMAS: Final = 3.0
# It surely climbs at a speed of so many standard deviations.
LOST_SIGMAS: Final = 4.0
# Looking a member up in its enum takes a tenth of a microsecond each time: once is enough.
_WAITING, _THRUST, _COAST = Phase.WAITING, Phase.THRUST, Phase.COAST
_DESCENT, _DOWN = Phase.DESCENT, Phase.DOWN


class FlightTracker:
    """Owns the filter and the phase.

    `events`, `track` and `flown` (the samples of the flight as they came, for the check after landing; from liftoff
    on without readings gone wrong, and without the forces of an accelerometer that was found stuck) only ever grow,
    until a liftoff is taken back: then they begin anew, and `taken_back` has one more.
    """

    __slots__ = (
        "_apogee", "_burnout", "_doubt", "_force_is_dead", "_foretold", "_liftoff",
        "_lost", "_silence", "_speed_found_ms", "_speed_settled", "_start", "_stuck", "_top_speed", "charge_ms",
        "descent", "estimate", "events", "fastest_mps", "flown", "highest_m", "last_force_ms", "last_sample_ms",
        "limits", "motion", "pad", "phase", "taken_back", "track",
    )  # fmt: skip

    def __init__(self, pad: PadReference) -> None:
        self.pad = pad
        self.taken_back: list[TakenBack] = []
        self.last_sample_ms: float | None = None
        self.limits = AscentLimits()
        self._liftoff = LiftoffDetector()
        self._begin()

    def _begin(self) -> None:
        """Nothing of a flight is known yet."""
        self.phase = Phase.WAITING
        self.events: list[Event] = []
        self.track: list[Estimate] = []
        self.flown: list[Sample] = []
        self.motion: VerticalMotion | None = None
        self.estimate: Estimate | None = None
        self.highest_m: float | None = None
        self.fastest_mps: float | None = None
        self.descent: DescentTracker | None = None
        self.last_force_ms: float | None = None
        self._force_is_dead = False
        self._stuck = StuckForce()
        # The motion as it was when (ms) it began.
        self._start: tuple[float, VerticalFilter] | None = None
        # When a charge last fired, by its gas on the ports or by the altimeter's report.
        self.charge_ms = -1e12
        self._speed_settled = False
        self._speed_found_ms = 0.0
        self._doubt: DoubtedLiftoff | None = None
        self._top_speed: TopSpeed | None = None
        self._burnout = BurnoutDetector(self.limits)
        self._apogee = ApogeeDetector(self.limits)
        # Since when (ms), and from what height (m), it has not surely been seen to climb, because of a silence.
        self._lost: tuple[float, float] | None = None
        # The last silence in the boost (ms from, to, height m before it), until a push is felt after it.
        self._silence: tuple[float, float, float] | None = None
        # What a silence that ended near the top made be foretold, and when (ms) it ended.
        self._foretold: tuple[UnseenTop, float] | None = None

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

    def stretches(self) -> list[Stretch]:
        """The descent's stretches; what looks like one after touchdown is only the rocket lying still."""
        if self.descent is None:
            return []
        found = self.descent.all_stretches()
        touchdown = self.event(EventName.TOUCHDOWN)
        if touchdown is None:
            return found
        return [s for s in found if s is found[0] or s.start_ms < touchdown.t_ms - AT_TOUCHDOWN_MS]

    def take(
        self, t_ms: float, pressure_pa: float, temperature_c: float | None, axial_mps2: float | None
    ) -> Estimate | None:
        """Take one sample; returns the new estimate, or None when no reference is known yet or it is late."""
        last_ms = self.last_sample_ms
        if last_ms is not None and t_ms <= last_ms:
            return None
        self.last_sample_ms = t_ms
        phase = self.phase
        if phase is _WAITING:
            return self._take_waiting(t_ms, pressure_pa, temperature_c, axial_mps2)
        # From here on what nearly every sample of a flight needs, in one piece.
        sample = self._sample(t_ms, pressure_pa, axial_mps2)
        _, _, altitude_m, gained = sample
        if gained is not None and (phase is _THRUST or phase is _COAST):
            assert axial_mps2 is not None
            stuck_ms = self._stuck.since(t_ms, axial_mps2)
            if stuck_ms is not None and self._forget_force(stuck_ms):
                sample = self._sample(t_ms, pressure_pa, None)
                gained = None
        motion = self.motion
        assert motion is not None
        if t_ms - motion.t_ms > SILENT_MS and (phase is _THRUST or phase is _COAST):
            motion = self.motion = self._over_silence(t_ms, pressure_pa, altitude_m, gained, motion)
            phase = self.phase
        else:
            motion.move(t_ms, pressure_pa, altitude_m, gained, phase)
        if gained is not None:
            self.last_force_ms = t_ms
        if motion.is_odd:
            self.estimate = motion.state.estimate(t_ms)
            return self.estimate
        is_kept = phase is not _DOWN or t_ms - self.events[-1].t_ms < TRACK_AFTER_DOWN_MS
        if is_kept:
            self.flown.append(sample)
        if phase is _DESCENT:
            self._watch_descent(t_ms, altitude_m, motion)
        elif phase is not _DOWN:
            self._watch_climb(t_ms, altitude_m, gained, motion)
        if self._doubt is not None:
            self._weigh(self._doubt, Heard(t_ms, pressure_pa, temperature_c, axial_mps2), sample)
            if self.phase is _WAITING:
                return self._publish(t_ms)
        state = motion.state
        estimate = self.estimate = state.estimate(t_ms)
        if is_kept:
            self.track.append(estimate)
        if self.highest_m is None or state.h > self.highest_m:
            self.highest_m = state.h
        if self._top_speed is None and (phase is not _DESCENT or state.v > 0.0):
            self._note_speed(estimate)
        return estimate

    def feel(self, t_ms: float, axial_mps2: float) -> None:
        """Take a line whose pressure is no reading of its own: until the top its force counts all the same."""
        motion, phase, rest = self.motion, self.phase, self.pad.rest_mps2
        if motion is None or rest is None or self._force_is_dead or not 0.0 < t_ms - motion.t_ms <= SILENT_MS:
            return
        gained = axial_mps2 - rest
        if phase is _WAITING:
            sample = self._liftoff.ring[-1]._replace(t_ms=t_ms, gained_mps2=gained)
            self._look_for_liftoff(sample, self.pad.altitude_variance_m2**0.5)
        if not (phase is _THRUST or phase is _COAST):
            return
        motion.feel(t_ms, gained, phase)
        self.last_force_ms = t_ms
        if phase is _THRUST:
            self._watch_burnout(t_ms, gained, motion.state)

    def hear_fired(self, fired_ms: float) -> None:
        """The altimeter reported that a charge fired then: a parachute may open soon, and no more is said by it."""
        self.charge_ms = max(self.charge_ms, fired_ms)
        if self.descent is not None:
            self.descent.charge_ms = self.charge_ms

    def restarted(self) -> None:
        """The altimeter began anew: a liftoff called before stays."""
        if self._doubt is not None:
            self._doubt.restarted()

    def _sample(self, t_ms: float, pressure_pa: float, axial_mps2: float | None) -> Sample:
        pad = self.pad
        rest = pad.rest_mps2
        gained = None if axial_mps2 is None or rest is None or self._force_is_dead else axial_mps2 - rest
        # `pad.altitude_m`, written out: one call less a sample
        altitude_m = (isa_altitude_m(pressure_pa) - pad.isa_altitude_m) * pad.ratio
        return new_tuple(Sample, (t_ms, pressure_pa, altitude_m, gained))

    # -- waiting -------------------------------------------------------------------------------------------

    def _take_waiting(
        self, t_ms: float, pressure_pa: float, temperature_c: float | None, axial_mps2: float | None
    ) -> Estimate | None:
        pad = self.pad
        pad.take(t_ms, pressure_pa, temperature_c, axial_mps2)
        if pad.pressure_pa is None:
            return None
        sample = self._sample(t_ms, pressure_pa, axial_mps2)
        noise_m = pad.altitude_variance_m2**0.5
        self._wait(sample, noise_m)
        self._look_for_liftoff(sample, noise_m)
        return self._publish(t_ms)

    def _look_for_liftoff(self, sample: Sample, noise_m: float) -> None:
        pad = self.pad
        found = self._liftoff.take(sample, noise_m, pad.excursion_m, pad.swell_m, pad.surge_m)
        if found is not None:
            self._lift_off(found, sample)

    def _wait(self, sample: Sample, noise_m: float) -> None:
        pad = self.pad
        motion = self.motion
        if motion is None:
            first = VerticalFilter(sample.altitude_m, altitude_sigma_m=noise_m)
            self.motion = VerticalMotion(sample.t_ms, first, pad.noise_pa, self._kelvin())
        else:
            motion.noise_pa = pad.noise_pa
            motion.move(*sample, self.phase)

    def _kelvin(self) -> float:
        temperature = self.pad.air_temperature_c
        return KELVIN_AT_ZERO_C + (STANDARD_TEMPERATURE_C if temperature is None else temperature)

    def _weigh(self, doubt: DoubtedLiftoff, heard: Heard, sample: Sample) -> None:
        taken_back = doubt.take(heard, sample)
        if taken_back is None:
            if doubt.over:
                self._doubt = None
            return
        # It has been waiting all the time: the wait goes on with what was heard meanwhile.
        self.taken_back.append(taken_back)
        self._begin()
        self.pad.unsettle()
        for each in doubt.heard:
            self.pad.take(*each)
            waited = self._sample(each.t_ms, each.pressure_pa, each.axial_mps2)
            self._wait(waited, self.pad.altitude_variance_m2**0.5)
            self._liftoff.hear(waited)

    def _lift_off(self, found: Liftoff, sample: Sample) -> None:
        pad = self.pad
        self._force_is_dead = found.force_was_still
        ring = (
            [s._replace(gained_mps2=None) for s in self._liftoff.ring] if found.force_was_still else self._liftoff.ring
        )
        self._doubt = DoubtedLiftoff(found.t_ms, sample.t_ms, ring)
        pad.settle(found.t_ms - 100.0)
        self.phase = Phase.THRUST
        self.events.append(Event(EventName.LIFTOFF, found.t_ms, 0.0, 0.0, found.sigma_s, Basis.ESTIMATED, sample.t_ms))
        # Go over the last moments again, now as the start of a flight: at rest until first motion, and then the
        # acceleration is whatever the motor makes of it.
        start = VerticalFilter(altitude_sigma_m=0.3, velocity_sigma_mps=0.5, acceleration_sigma_mps2=80.0)
        start_ms = found.t_ms
        if found.sigma_s > UNSEEN_START_S:
            # A gap hid the start: it begins with the first heights seen, and the motor may have burnt out meanwhile.
            heights = [(s.t_ms, pad.altitude_m(s.pressure_pa)) for s in ring if s.t_ms > found.t_ms]
            seen_ms = heights[0][0]
            silent_ms = 1000.0 * sqrt(12.0) * found.sigma_s
            start = state_after_hidden_liftoff(heights, found.t_ms, silent_ms, ring[-1].gained_mps2)
            start_ms = seen_ms
            self._speed_found_ms = seen_ms + FOUND_SPEED_MS
            if silent_ms > SILENT_MS:
                self._silence = seen_ms - silent_ms, seen_ms, 0.0
            if silent_ms > LONG_SILENCE_MS:
                self._lost = seen_ms - silent_ms, 0.0
        self._start = start_ms, start.copied()
        motion = self.motion = VerticalMotion(start_ms, start, pad.noise_pa, self._kelvin())
        rest_sigma = pad.altitude_variance_m2**0.5
        for s in ring:
            altitude_m = pad.altitude_m(s.pressure_pa)
            self.flown.append(Sample(s.t_ms, s.pressure_pa, altitude_m, s.gained_mps2))
            if s.t_ms < start_ms or s.t_ms <= found.t_ms:
                self.track.append(Estimate(s.t_ms, altitude_m, 0.0, 0.0, rest_sigma, 0.3, 0.5))
                continue
            motion.move(s.t_ms, s.pressure_pa, altitude_m, s.gained_mps2, self.phase)
            if s.gained_mps2 is not None:
                self.last_force_ms = s.t_ms
                self._burnout.hear(s.t_ms, s.gained_mps2)
            if s is not ring[-1]:
                self._publish(s.t_ms)

    # -- flying --------------------------------------------------------------------------------------------

    def _forget_force(self, since_ms: float) -> bool:
        """The accelerometer has said one thing since then: the climb again, from there on by pressure alone.

        True if that makes it another: then the accelerometer counts no more. Else a steady thrust may well feel so.
        """
        assert self._start is not None
        assert self.motion is not None
        flown = [s if s.t_ms < since_ms else s._replace(gained_mps2=None) for s in self.flown]
        start_ms, start = self._start
        motion = VerticalMotion(start_ms, start.copied(), self.pad.noise_pa, self._kelvin())
        coast_ms = self.events[-1].t_ms if self.phase is _COAST else inf
        for s in flown:
            if s.t_ms > start_ms:
                motion.move(*s, _THRUST if s.t_ms < coast_ms else _COAST)
        felt = self.motion.state
        apart_mps = abs(motion.state.v - felt.v)
        if apart_mps < max(STUCK_APART_MPS, STUCK_SIGMAS * sqrt(motion.state.pvv + felt.pvv)):
            return False
        self._force_is_dead = True
        self.flown[:] = flown
        self.motion = motion
        known = [estimate for estimate in self.track if estimate.t_ms < since_ms]
        self.highest_m = max([motion.state.h, *(estimate.altitude_m for estimate in known)])
        if self._top_speed is None:
            self.fastest_mps = max((estimate.velocity_mps for estimate in known), default=None)
            self._speed_settled = False
        return True

    def _watch_climb(self, t_ms: float, altitude_m: float, gained: float | None, motion: VerticalMotion) -> None:
        state = motion.state
        if self.phase is _COAST:
            top_speed = self._top_speed
            if top_speed is not None:
                if motion.trusted:
                    top_speed.take(t_ms, altitude_m, motion.noise_m, state)
                else:
                    top_speed.wait(t_ms, state)
                self.fastest_mps = top_speed.mps
        else:
            self._watch_burnout(t_ms, gained, state)
        if motion.trusted:
            if not motion.accepted:
                self.charge_ms = t_ms
            self._watch_apogee(t_ms, state)

    def _watch_burnout(self, t_ms: float, gained: float | None, state: VerticalFilter) -> None:
        if self._silence is not None and _still_pushes(gained, state):
            self._silence = None
        if gained is not None:
            at_ms = self._burnout.by_force(t_ms, gained, state.v)
        elif t_ms < self._speed_found_ms and state.pvv > (FOUND_SPEED_FRACTION * state.v) ** 2:
            return  # a gap hid the start: what looks like slowing down may be a first guess of the speed put right
        else:
            at_ms = self._burnout.by_filter(t_ms, state, (t_ms - self.events[0].t_ms) / 1000.0)
        if at_ms is None:
            return
        self.phase = Phase.COAST
        sigma_s = 0.03
        if gained is None:
            near_sound = max(state.v, self.fastest_mps or 0.0) > NEAR_SOUND_MPS
            sigma_s = BURNOUT_NEAR_SOUND_S if near_sound else BURNOUT_BY_PRESSURE_S
        altitude_sigma_m: float | None = None
        altitude_m = state.h - 0.001 * state.v * (t_ms - at_ms)
        if self._silence is not None and at_ms < self._silence[1] + AFTER_SILENCE_MS:
            # Somewhere in the silence, for no push was felt after it.
            begun_ms, end_ms, altitude_m = self._silence
            sigma_s = hypot(sigma_s, 0.001 * (end_ms - begun_ms) / sqrt(12.0))
            at_ms, altitude_sigma_m = max(0.5 * (begun_ms + end_ms), self.events[-1].t_ms), inf
        self.events.append(
            Event(EventName.BURNOUT, at_ms, altitude_m, state.v, sigma_s, Basis.ESTIMATED, t_ms, altitude_sigma_m)
        )
        if gained is not None and self.motion is not None:
            self._top_speed = TopSpeed(self.flown, at_ms, self.fastest_mps or 0.0, state, self.motion.pad_kelvin)

    def _watch_apogee(self, t_ms: float, state: VerticalFilter) -> None:
        if state.v > LOST_SIGMAS * sqrt(state.pvv):
            self._lost = None  # it still climbs
        found = self._apogee.take(t_ms, state)
        if found is None:
            return
        at_ms, top_m, sigma_s = found
        altitude_sigma_m = None
        if self._foretold is not None and at_ms < self._foretold[1] + NEAR_SILENCE_MS:
            top = self._foretold[0]
            at_ms, top_m, sigma_s, altitude_sigma_m = top.t_ms, top.altitude_m, top.sigma_s, top.altitude_sigma_m
        elif self._lost is not None:
            # Somewhere in the silence, or since, it turned round, at least as high as it was heard to be.
            lost_ms, lost_m = self._lost
            span_ms = max(0.0, at_ms - lost_ms)
            at_ms = max(lost_ms + 0.5 * span_ms, self.events[-1].t_ms)
            sigma_s = hypot(sigma_s, 0.001 * span_ms / sqrt(12.0))
            top_m, altitude_sigma_m = max(lost_m, top_m), inf
        self._over_the_top(t_ms, at_ms, top_m, sigma_s, altitude_sigma_m, self._lost)

    def _over_the_top(
        self,
        t_ms: float,
        at_ms: float,
        top_m: float,
        sigma_s: float,
        altitude_sigma_m: float | None,
        heard: tuple[float, float] | None,
    ) -> None:
        """By the sample at `t_ms` the rocket has passed its highest point.

        `heard` is the last height (ms, m) before a silence that may hide the landing as well.
        """
        event = Event(EventName.APOGEE, at_ms, top_m, 0.0, sigma_s, Basis.ESTIMATED, t_ms, altitude_sigma_m)
        self.events.append(event)
        self.phase = Phase.DESCENT
        self.descent = DescentTracker(DescentLimits(), at_ms, top_m)
        self.descent.charge_ms = self.charge_ms
        if heard is not None:
            self.descent.ground.heights.append(heard)

    def _over_silence(
        self, t_ms: float, pressure_pa: float, altitude_m: float, gained: float | None, motion: VerticalMotion
    ) -> VerticalMotion:
        """Take the first sample after a silence in the climb, which may have hidden the highest point."""
        heard_ms, state, phase, noise_m = motion.t_ms, motion.state, self.phase, motion.noise_m
        is_long = t_ms - heard_ms > LONG_SILENCE_MS
        anew: VerticalFilter | None = None
        is_lost = False
        if phase is _COAST:
            top = foretold_top(heard_ms, state, motion.pad_kelvin, self.charge_ms)
            if is_long and top.is_refuted_by(altitude_m):
                is_lost = True
            elif top.is_past(t_ms):
                heard = heard_ms, state.h
                self._over_the_top(t_ms, top.t_ms, top.altitude_m, top.sigma_s, top.altitude_sigma_m, heard)
                if is_long:
                    anew = falling_since(top, t_ms, altitude_m, noise_m)
            elif is_long and top.is_near(t_ms):
                self._foretold = top, t_ms
                anew = turning_at(top, t_ms, altitude_m, noise_m)
            elif is_long:
                anew = climbing_still(heard_ms, state, motion.pad_kelvin, t_ms, altitude_m, noise_m)
                is_lost = anew is None
        else:
            is_lost = True
            self._silence = heard_ms, t_ms, state.h
        if is_lost:
            self._lost = self._lost or (heard_ms, state.h)
            if is_long:
                anew = lost_from(heard_ms, state, t_ms, altitude_m, noise_m)
        if anew is not None:
            begun = VerticalMotion(t_ms, anew, motion.noise_pa, motion.pad_kelvin)
            begun.noise_m = noise_m
            return begun
        motion.move(t_ms, pressure_pa, altitude_m, gained, phase)
        return motion

    def _watch_descent(self, t_ms: float, altitude_m: float, motion: VerticalMotion) -> None:
        descent, state = self.descent, motion.state
        assert descent is not None
        descent.take(t_ms, state)
        if not motion.accepted:
            self.charge_ms = descent.charge_ms = t_ms
            return
        descent.ground.heights.append((t_ms, altitude_m))
        if not -STILL_MPS < state.v < STILL_MPS:
            return
        found = descent.touchdown(t_ms, motion.noise_m)
        if found is not None:
            at_ms, sigma_s = found
            self.events.append(Event(EventName.TOUCHDOWN, at_ms, state.h, 0.0, sigma_s, Basis.ESTIMATED, t_ms))
            self.phase = Phase.DOWN

    def _publish(self, t_ms: float) -> Estimate:
        """The estimate after a sample of the wait or of the liftoff."""
        motion = self.motion
        assert motion is not None
        estimate = self.estimate = motion.state.estimate(t_ms)
        if self.phase is not _WAITING:
            self.track.append(estimate)
            if self.highest_m is None or estimate.altitude_m > self.highest_m:
                self.highest_m = estimate.altitude_m
            self._note_speed(estimate)
        return estimate

    def _note_speed(self, estimate: Estimate) -> None:
        """Keep the highest speed.

        With an accelerometer the filter knows it at once, and the coast corrects it (`TopSpeed`). Pressure alone shows
        it late and wavering, so what counts before is speed less its standard deviation, and once the coast is known
        well its speed carried back to burnout along the drag.
        """
        velocity = estimate.velocity_mps
        if estimate.velocity_sigma_mps > GUESSED_SPEED_FRACTION * velocity > 0.0:
            return  # after a silence a first guess, no more
        if self.last_force_ms is not None and estimate.t_ms - self.last_force_ms < FORCE_RECENT_MS:
            self._speed_settled = True
        elif self.phase is _THRUST:
            # An accelerometer that fell silent in the boost leaves the rest of it to the pressure.
            self._speed_settled = False
            velocity -= estimate.velocity_sigma_mps
        elif self.phase is _COAST and not self._speed_settled:
            since_s = (estimate.t_ms - self.events[-1].t_ms) / 1000.0
            if estimate.velocity_sigma_mps < SETTLED_SPEED_FRACTION * velocity or since_s > SETTLED_LATEST_S:
                self._speed_settled = True
                if since_s > CARRIED_BACK_LONGEST_S or not self.events[-1].height_is_known:
                    return  # a silence: how it slowed down meanwhile, or since when, is not known
                slowing = max(G0_MPS2, min(-estimate.acceleration_mps2, 8.0 * G0_MPS2))
                self.fastest_mps = velocity + slowing * max(0.0, since_s)
        else:
            return
        if velocity > (self.fastest_mps or 0.0):
            self.fastest_mps = velocity


def _still_pushes(gained: float | None, state: VerticalFilter) -> bool:
    if gained is not None:
        return gained > FELT_PUSH_MPS2
    return state.a > FELT_PUSH_SIGMAS * sqrt(state.paa)
