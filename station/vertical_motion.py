"""The estimator as it flies: process noise by phase, spikes refused, steps in acceleration noticed, Mach lockout.

A burning motor, a coasting rocket and one under a parachute are smooth for seconds and then change their acceleration
at once. One process noise for both is either slow or noisy. So the noise is kept low, the mean of the recent normalised
innovations is watched (the fading average of Bar-Shalom, Li and Kirubarajan 2001, section 11.2, from memory), and
when it leaves its bounds a step of acceleration a short while ago is allowed for:

    P += sigma^2 u u^T,  u = (lag^2/2, lag, 1)

Between steps drag gives the acceleration a known course: with drag per mass D = a + g proportional to v^2,
da/dt = 2 (a + g) a / v. In the descent a reading that cannot be motion is weighed by `charge_spike`.
"""

from math import sqrt
from typing import Final

from station.atmosphere import G0_MPS2, GAS_CONSTANT_AIR, LAPSE_K_PER_M, metres_per_pascal, speed_of_sound_mps
from station.charge_spike import GATE_LEAST_M, GATE_SIGMAS, ChargeSpike
from station.estimator import VerticalFilter
from station.flight_state import Phase
from station.passing_shock import PassingShock

JERK_DENSITY: Final = {
    Phase.WAITING: 4.0,
    Phase.THRUST: 2500.0,
    Phase.COAST: 1.0,
    Phase.DESCENT: 3.0,
    Phase.DOWN: 4.0,
}
# With an accelerometer the thrust's own wiggles are seen, so the model may follow them.
JERK_DENSITY_FORCE: Final = {Phase.THRUST: 40_000.0, Phase.COAST: 20.0}
STEP_SIGMA_MPS2: Final = {
    Phase.WAITING: 3.0,
    Phase.THRUST: 60.0,
    Phase.COAST: 15.0,
    Phase.DESCENT: 25.0,
    Phase.DOWN: 10.0,
}
# So far off (1 800 Pa at the ground), once or twice, is a reading gone wrong; a third time it is believed.
ODD_M: Final = 150.0
ODD_SIGMAS: Final = 20.0
MOST_ODD: Final = 2
FADE_S: Final = 0.15
STEP_SCORE: Final = 3.2
_STEP_SCORE_SQUARED: Final = STEP_SCORE * STEP_SCORE
# A fall under a main changes by no more than the loss of its parachute would change it.
LETS_GO_G: Final = 0.6
SLOW_FALL_MPS: Final = 7.0
# A single reading says no more than this, however far off it is.
MOST_NORMALISED: Final = 4.0
STEP_LAG_S: Final = 0.2
STEP_REST_MS: Final = 200.0
# What is first felt after a silence may have moved the rocket meanwhile, but no more than a parachute would.
JOLT_MOST_MPS: Final = 10.0
FORCE_NOISE_FRACTION: Final = 0.03
FORCE_NOISE_MPS2: Final = 0.6
PORT_LAG_S: Final = 0.015
PORT_LAG_SIGMA_S: Final = 0.02
PORT_LAG_STAYS_S: Final = 0.5
SOFT_GATE_SIGMAS: Final = 3.0
SPIKE_OVER_SIGMAS: Final = 1.0
SPIKE_LONGEST_MS: Final = 1100.0
SPIKE_GROWS_MS: Final = 60.0
SPIKE_GROWTH: Final = 1.25
LOOSE_SPEED_MPS: Final = 120.0
LOOSE_ACCELERATION_MPS2: Final = 40.0
DRAG_COURSE_LEAST_MPS: Final = 6.0
COURSE_STEP_S: Final = 0.15
COURSE_LONGEST_S: Final = 4.0
UNSEEN_S: Final = 0.4
# Gas from a charge that fired in a longer silence is most likely gone.
LONG_UNSEEN_S: Final = 1.5
FREE_FALL_RETURN_S: Final = 0.3
# What seems to brake a rocket that no longer falls is an error that goes sooner.
BRAKED_RETURN_S: Final = 0.1
# Pressure is not trusted above this Mach number (velocity lockout, common practice, no source) ...
TRUSTED_MACH: Final = 0.75
# With nothing else to go by it is used a little longer: the shock is not at the ports before about Mach 0.8.
TRUSTED_MACH_PRESSURE_ALONE: Final = 0.83
# ... nor until this long after coming back below it, by pressure alone in the coast until the heights show it.
TRUST_AGAIN_MS: Final = 400.0
# Slower than this it is below both in the coldest air that is reckoned with (200 K, 284 m/s), and nobody need look.
_SURELY_SLOW_MPS: Final = 200.0
TRANSONIC_SIGMA_M: Final = 120.0
# With pressure alone, `passing_shock` says when; if nothing it knows of shows, the speed does after so long. Until then
# the pressure counts for little: its error stays for seconds, so that more readings do not tell more.
SHOCK_LONGEST_MS: Final = 4000.0
SHOCK_STAYS_S: Final = 4.0
# After a silence the speed may be so little known that the pressure must count near the speed of sound; its error is
# another after so long.
HARDLY_KNOWN_MPS: Final = 40.0
SHOCK_CHANGES_S: Final = 0.5
# A member of an enumeration costs fourteen times as much to look up as a name of the module.
_THRUST: Final = Phase.THRUST
_COAST: Final = Phase.COAST
_DESCENT: Final = Phase.DESCENT


class VerticalMotion:
    """A `VerticalFilter` with the judgement around it.

    `trusted`: near the speed of sound the last pressure did not count. `accepted`: it was not refused as a spike.
    `is_odd`: it was a reading gone wrong, of which nothing is to be made.
    """

    __slots__ = (
        "_bias",
        "_charge",
        "_odd",
        "_shock",
        "_spike_m",
        "_spike_ms",
        "_stepped_ms",
        "_untrusted_until_ms",
        "accepted",
        "is_odd",
        "noise_m",
        "noise_pa",
        "pad_kelvin",
        "state",
        "steps",
        "t_ms",
        "trusted",
    )

    def __init__(self, t_ms: float, state: VerticalFilter, noise_pa: float, pad_kelvin: float) -> None:
        self.state = state
        self.t_ms = t_ms
        self.noise_pa = noise_pa
        self.pad_kelvin = pad_kelvin
        self.noise_m = noise_pa * metres_per_pascal(101325.0, pad_kelvin)
        self.trusted = True
        self.accepted = True
        self.steps = 0
        self._bias = 0.0
        self._charge: ChargeSpike | None = None
        self._odd = 0
        self.is_odd = False
        self._shock = PassingShock()
        self._spike_m = 0.0
        self._spike_ms = -1e12
        self._stepped_ms = -1e12
        self._untrusted_until_ms = -1e12

    def move(self, t_ms: float, pressure_pa: float, altitude_m: float, gained_mps2: float | None, phase: Phase) -> None:
        """Take one sample: pressure, the height it stands for, specific force less its value at rest.

        Every line comes by here, so what it nearly always needs stands in one piece, without calls.
        """
        state = self.state
        dt = (t_ms - self.t_ms) / 1000.0
        self.t_ms = t_ms
        self.is_odd = False
        climbing = phase is _THRUST or phase is _COAST
        if gained_mps2 is not None and climbing:
            _step_by_force(state, dt, gained_mps2, phase)
        elif self._charge is not None:
            pass  # its members are moved one by one
        elif phase is _DESCENT or phase is _COAST:
            if 0.0 < dt <= COURSE_STEP_S:
                _step_along_drag(state, dt, phase, JERK_DENSITY[phase])
            else:
                self._predict_along_drag(dt, phase)
        else:
            state.predict(dt, JERK_DENSITY[phase])
        kelvin = self.pad_kelvin - LAPSE_K_PER_M * state.h if state.h > 0.0 else self.pad_kelvin
        if kelvin < 200.0:
            kelvin = 200.0
        # `metres_per_pascal`, written out
        self.noise_m = noise_m = self.noise_pa * (GAS_CONSTANT_AIR * kelvin / (pressure_pa * G0_MPS2))
        variance = noise_m * noise_m
        steps_are_felt = False
        if climbing:
            if not self._trusts(t_ms, altitude_m, kelvin, gained_mps2 is not None, phase):
                if gained_mps2 is None or state.pvv > HARDLY_KNOWN_MPS**2:
                    # With a force, but a speed hardly known: is it near the speed of sound at all? The shock moves no
                    # height so far as that speed may be off.
                    stays_s = SHOCK_CHANGES_S if gained_mps2 is not None else SHOCK_STAYS_S if phase is _COAST else 0.0
                    stays = stays_s / dt if 0.0 < dt < stays_s else 1.0
                    state.update_altitude(altitude_m, variance + TRANSONIC_SIGMA_M**2 * stays)
                return
            if self.state is not state:
                self.accepted = True
                return  # This reading is in the motion already that the heights have shown.
            if gained_mps2 is not None:
                # The ports lag behind a climb by a time that is not known; the accelerometer does not. That error
                # stays as it is for a while, so that more readings do not tell more.
                altitude_m += PORT_LAG_S * state.v
                variance += (PORT_LAG_SIGMA_S * state.v) ** 2 * max(1.0, PORT_LAG_STAYS_S / dt if dt > 0.0 else 1.0)
                steps_are_felt = True
        self.trusted = True
        self.accepted = True
        # Update, unless the innovation says that something other than motion moved the pressure: a rocket's height
        # cannot jump.
        if self._charge is not None:
            self._during_charge(t_ms, dt, altitude_m, variance, phase)
            return
        innovation = altitude_m - state.h
        size = innovation if innovation >= 0.0 else -innovation
        sigma = sqrt(state.phh + variance)
        if size > ODD_M and size > ODD_SIGMAS * sigma:
            if self._odd < MOST_ODD:
                # Neither a motion nor a charge's gas does that in so short a time: a reading gone wrong.
                self._odd += 1
                self.is_odd = True
                self.accepted = False
                return
        else:
            self._odd = 0
        if self._spike_m != 0.0:
            self._during_spike(t_ms, innovation, size, variance, phase)
            if not self.accepted:
                return
        elif size > GATE_LEAST_M and size > GATE_SIGMAS * self._gate_sigma_m(dt, sigma, variance, phase):
            self._refuse(t_ms, altitude_m, innovation, variance, phase)
            return
        else:
            if size > SOFT_GATE_SIGMAS * sigma:
                variance *= (size / (SOFT_GATE_SIGMAS * sigma)) ** 2
            if not steps_are_felt:
                normalised = innovation / sigma
                if normalised > MOST_NORMALISED:
                    normalised = MOST_NORMALISED
                elif normalised < -MOST_NORMALISED:
                    normalised = -MOST_NORMALISED
                weight = dt / (FADE_S + dt)
                bias = self._bias = self._bias + weight * (normalised - self._bias)
                # The fading mean of white unit innovations has variance weight / (2 - weight).
                if bias * bias * (2.0 - weight) > _STEP_SCORE_SQUARED * weight:
                    self._take_step(t_ms, phase)
        state.update_altitude(altitude_m, variance)

    def feel(self, t_ms: float, gained_mps2: float, phase: Phase) -> None:
        """Take a force (less its value at rest) without a pressure, in the climb."""
        _step_by_force(self.state, (t_ms - self.t_ms) / 1000.0, gained_mps2, phase)
        self.t_ms = t_ms

    def _trusts(self, t_ms: float, altitude_m: float, kelvin: float, has_force: bool, phase: Phase) -> bool:
        """Does the pressure of this sample of the climb count?"""
        v = self.state.v
        shock = self._shock
        most_mps = 0.0
        if v > _SURELY_SLOW_MPS or shock.is_about:
            mach = TRUSTED_MACH if has_force else TRUSTED_MACH_PRESSURE_ALONE
            most_mps = mach * speed_of_sound_mps(kelvin)
            if v > most_mps:
                self._untrusted_until_ms = t_ms + TRUST_AGAIN_MS
        self.trusted = t_ms >= self._untrusted_until_ms
        if has_force:
            return self.trusted
        if not self.trusted or shock.is_about:
            shock.hear(t_ms, altitude_m)
            self.trusted = self._has_passed(t_ms, shock, most_mps, phase)
            if self.trusted:
                shock.forget()
        return self.trusted

    def _has_passed(self, t_ms: float, shock: PassingShock, most_mps: float, phase: Phase) -> bool:
        """With pressure alone the heights must show that the shock has passed, but not for ever."""
        if t_ms - self._untrusted_until_ms > SHOCK_LONGEST_MS:
            return True
        if phase is _COAST:
            motion = shock.passed(self.noise_m, most_mps)
            if motion is None:
                return False
            # What was thought of the readings before rests on another motion.
            self.state = motion
            self._spike_m = self._bias = 0.0
            self._untrusted_until_ms = t_ms
            return True
        if t_ms < self._untrusted_until_ms:
            return False
        rise_mps = shock.rise_mps()
        return rise_mps is not None and 0.0 < rise_mps < most_mps

    def _predict_along_drag(self, dt: float, phase: Phase) -> None:
        predict_along_drag(self.state, dt, phase, JERK_DENSITY[phase])
        if dt > UNSEEN_S:
            # Whatever happened in the silence, a parachute among it, happened somewhere in the middle.
            self.state.allow_step(self._step_sigma_mps2(phase), 0.5 * dt)

    def _refuse(self, t_ms: float, altitude_m: float, innovation: float, variance: float, phase: Phase) -> None:
        """A sudden reading is refused until it has come back to the predicted course.

        A firing charge moves the pressure in the bay at once and it decays. One that grows is motion after all, and
        one that stays is a filter that was wrong.
        """
        self._bias = 0.0
        self.accepted = False
        if phase is _DESCENT:
            self._charge = ChargeSpike(t_ms, self.state, altitude_m, variance)
            self.state = self._charge.motion()
        else:
            self._spike_m = innovation
            self._spike_ms = t_ms

    def _gate_sigma_m(self, dt: float, sigma_m: float, variance: float, phase: Phase) -> float:
        """What a reading's innovation is measured by: its standard deviation.

        After a silence in the descent a charge's gas is within what the motion may have done meanwhile. There the
        reading's own noise counts, for both are weighed then.
        """
        if phase is _DESCENT and UNSEEN_S < dt < LONG_UNSEEN_S:
            return sqrt(variance)
        return sigma_m

    def _during_charge(self, t_ms: float, dt: float, altitude_m: float, variance: float, phase: Phase) -> None:
        """The bank tells gas from motion; when the gas has gone, its mean goes on alone."""
        charge = self._charge
        assert charge is not None

        def predict(member: VerticalFilter, opening: float) -> None:
            predict_along_drag(member, dt, phase, JERK_DENSITY[phase] + opening)

        charge.take(t_ms, altitude_m, variance, predict)
        self.state = charge.motion()
        self.accepted = charge.size_m() < variance**0.5
        if charge.is_over(t_ms, variance):
            self._charge = None

    def _during_spike(self, t_ms: float, innovation: float, size: float, variance: float, phase: Phase) -> None:
        spike = self._spike_m
        since_ms = t_ms - self._spike_ms
        back = innovation if spike > 0.0 else -innovation
        if back < SPIKE_OVER_SIGMAS * variance**0.5:
            # Back on course, or past it: what went on meanwhile was not seen.
            self._spike_m = 0.0
            self.state.allow_step(STEP_SIGMA_MPS2[phase], 0.0005 * since_ms)
        elif since_ms > SPIKE_LONGEST_MS or (since_ms > SPIKE_GROWS_MS and size > SPIKE_GROWTH * abs(spike)):
            self._spike_m = 0.0
            self.state.loosen(size * size, min(2.0 * size, LOOSE_SPEED_MPS) ** 2, LOOSE_ACCELERATION_MPS2**2)
        else:
            self.accepted = False
            if since_ms <= SPIKE_GROWS_MS and back > abs(spike):
                self._spike_m = innovation  # its peak fell between two samples

    def _step_sigma_mps2(self, phase: Phase) -> float:
        """How large a step of acceleration may be: an opening brakes with the square of the speed."""
        sigma = STEP_SIGMA_MPS2[phase]
        if phase is not _DESCENT:
            return sigma
        return min(sigma, G0_MPS2 * max(LETS_GO_G, (self.state.v / SLOW_FALL_MPS) ** 2))

    def _take_step(self, t_ms: float, phase: Phase) -> None:
        """The mean of the innovations has left its bounds: a step of acceleration, unless one was just allowed for."""
        if t_ms - self._stepped_ms <= STEP_REST_MS or (self._bias > 0.0 and phase is _THRUST):
            return  # thrust ends at once; it does not grow at once a second time
        self.steps += 1
        self._stepped_ms = t_ms
        self._bias = 0.0
        self.state.allow_step(self._step_sigma_mps2(phase), STEP_LAG_S)


def predict_along_drag(state: VerticalFilter, dt: float, phase: Phase, density: float) -> None:
    """Move a state on by `dt` seconds (not too far along a course that errors would carry away)."""
    left = min(dt, COURSE_LONGEST_S)
    if left < dt:
        state.predict(dt - left, density)
    while left > 0.0:
        step = left if left < COURSE_STEP_S else COURSE_STEP_S
        _step_along_drag(state, step, phase, density)
        left -= step


def _step_by_force(state: VerticalFilter, dt_s: float, gained_mps2: float, phase: Phase) -> None:
    """Move on, and take the force that was felt by then."""
    if dt_s > UNSEEN_S and phase is _COAST:
        # Along drag, not along a line to the force that is felt now: a charge's jolt is no deceleration that has grown
        # all the time. What it may have done to the motion meanwhile the pressure shows.
        predict_along_drag(state, dt_s, phase, JERK_DENSITY[phase])
        change = gained_mps2 - state.a
        moved_mps = min(0.5 * abs(change) * dt_s, JOLT_MOST_MPS)
        state.loosen((moved_mps * dt_s / 3.0) ** 2, moved_mps * moved_mps, change * change)
    else:
        state.predict(dt_s, JERK_DENSITY_FORCE[phase])
    sigma = FORCE_NOISE_MPS2 + FORCE_NOISE_FRACTION * abs(gained_mps2 + G0_MPS2)
    state.update_acceleration(gained_mps2, sigma * sigma)


def _step_along_drag(state: VerticalFilter, dt: float, phase: Phase, density: float) -> None:
    """Move a state on by a short step, with the mean jerk (m/s^3) of a motion whose acceleration drag alone shapes.

    An error in the acceleration fades with it: d(da/dt)/da = 2 (2 a + g) / v.
    """
    v, a = state.v, state.a
    drag = a + G0_MPS2
    if drag * v > 0.0:
        # Nothing pushes along the motion: towards free fall.
        if phase is not _DESCENT:
            jerk = 0.0
        elif v > 0.0 and a > 0.0:
            # Nothing brakes but by the fall itself; how much drag the fall meets again after it is not known.
            state.predict(dt, density + drag * drag / BRAKED_RETURN_S, -drag / BRAKED_RETURN_S)
            return
        else:
            jerk = -drag / FREE_FALL_RETURN_S if v > 1.0 else 0.0
    elif v <= -DRAG_COURSE_LEAST_MPS or v >= DRAG_COURSE_LEAST_MPS:
        jerk = 2.0 * drag * a / v
    elif phase is not _DESCENT or a <= 0.0:
        jerk = 0.0  # too slow to tell
    else:
        # Too slow to tell by how much, but what brakes a slow fall is soon over.
        jerk = 2.0 * drag * a / -DRAG_COURSE_LEAST_MPS
    if jerk == 0.0:
        state.predict(dt, density)
        return
    limit = 3.0 * drag if drag > 0.0 else -3.0 * drag
    if drag * v <= 0.0:
        if jerk > limit:
            jerk = limit
        elif jerk < -limit:
            jerk = -limit
    fade = 1.0
    change = 2.0 * (2.0 * a + G0_MPS2) / v * dt if v != 0.0 else 0.0
    if change < 0.0:
        fade = 1.0 + change if change > -0.5 else 0.5
    state.predict(dt, density, jerk, fade)
