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

from station.atmosphere import G0_MPS2, LAPSE_K_PER_M, metres_per_pascal, speed_of_sound_mps
from station.charge_spike import GATE_LEAST_M, GATE_SIGMAS, ChargeSpike
from station.estimator import VerticalFilter
from station.flight_state import Phase

JERK_DENSITY = {
    Phase.WAITING: 4.0,
    Phase.THRUST: 2500.0,
    Phase.COAST: 1.0,
    Phase.DESCENT: 3.0,
    Phase.DOWN: 4.0,
}
# With an accelerometer the thrust's own wiggles are seen, so the model may follow them.
JERK_DENSITY_FORCE = {Phase.THRUST: 40_000.0, Phase.COAST: 20.0}
STEP_SIGMA_MPS2 = {Phase.WAITING: 3.0, Phase.THRUST: 60.0, Phase.COAST: 15.0, Phase.DESCENT: 25.0, Phase.DOWN: 10.0}
FADE_S = 0.15
STEP_SCORE = 3.2
# A fall under a main changes by no more than the loss of its parachute would change it.
LETS_GO_G = 0.6
SLOW_FALL_MPS = 7.0
# A single reading says no more than this, however far off it is.
MOST_NORMALISED = 4.0
STEP_LAG_S = 0.2
STEP_REST_MS = 200.0
FORCE_NOISE_FRACTION = 0.03
FORCE_NOISE_MPS2 = 0.6
PORT_LAG_S = 0.015
PORT_LAG_SIGMA_S = 0.02
PORT_LAG_STAYS_S = 0.5
SOFT_GATE_SIGMAS = 3.0
SPIKE_OVER_SIGMAS = 1.0
SPIKE_LONGEST_MS = 1100.0
SPIKE_GROWS_MS = 60.0
SPIKE_GROWTH = 1.25
LOOSE_SPEED_MPS = 120.0
LOOSE_ACCELERATION_MPS2 = 40.0
DRAG_COURSE_LEAST_MPS = 6.0
COURSE_STEP_S = 0.15
COURSE_LONGEST_S = 4.0
UNSEEN_S = 0.4
# Gas from a charge that fired in a longer silence is most likely gone.
LONG_UNSEEN_S = 1.5
FREE_FALL_RETURN_S = 0.3
# What seems to brake a rocket that no longer falls is an error that goes sooner.
BRAKED_RETURN_S = 0.1
# Pressure is not trusted above this Mach number (velocity lockout, common practice, no source) ...
TRUSTED_MACH = 0.75
# With nothing else to go by it is used a little longer: the shock is not at the ports before about Mach 0.8.
TRUSTED_MACH_PRESSURE_ALONE = 0.83
# ... nor until this long after coming back below it.
TRUST_AGAIN_MS = 400.0
TRANSONIC_SIGMA_M = 120.0
# A member of an enumeration costs fourteen times as much to look up as a name of the module.
_THRUST = Phase.THRUST
_COAST = Phase.COAST
_DESCENT = Phase.DESCENT


class VerticalMotion:
    """A `VerticalFilter` with the judgement around it.

    `trusted`: near the speed of sound the last pressure did not count. `accepted`: it was not refused as a spike.
    """

    __slots__ = (
        "_bias",
        "_charge",
        "_spike_m",
        "_spike_ms",
        "_stepped_ms",
        "_steps_are_felt",
        "_untrusted_until_ms",
        "accepted",
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
        self._spike_m = 0.0
        self._spike_ms = -1e12
        self._stepped_ms = -1e12
        self._steps_are_felt = False
        self._untrusted_until_ms = -1e12

    def move(self, t_ms: float, pressure_pa: float, altitude_m: float, gained_mps2: float | None, phase: Phase) -> None:
        """Take one sample: pressure, the height it stands for, specific force less its value at rest."""
        state = self.state
        dt = (t_ms - self.t_ms) / 1000.0
        self.t_ms = t_ms
        climbing = phase is _THRUST or phase is _COAST
        if gained_mps2 is not None and climbing:
            state.predict(dt, JERK_DENSITY_FORCE[phase])
            sigma = FORCE_NOISE_MPS2 + FORCE_NOISE_FRACTION * abs(gained_mps2 + G0_MPS2)
            state.update_acceleration(gained_mps2, sigma * sigma)
        elif self._charge is not None:
            pass  # its members are moved one by one
        elif phase is _COAST or phase is _DESCENT:
            self._predict_along_drag(dt, phase)
        else:
            state.predict(dt, JERK_DENSITY[phase])
        kelvin = self.pad_kelvin - LAPSE_K_PER_M * state.h if state.h > 0.0 else self.pad_kelvin
        if kelvin < 200.0:
            kelvin = 200.0
        self.noise_m = noise_m = self.noise_pa * metres_per_pascal(pressure_pa, kelvin)
        variance = noise_m * noise_m
        if climbing:
            mach = TRUSTED_MACH if gained_mps2 is not None else TRUSTED_MACH_PRESSURE_ALONE
            if state.v > mach * speed_of_sound_mps(kelvin):
                self._untrusted_until_ms = t_ms + TRUST_AGAIN_MS
            if t_ms < self._untrusted_until_ms:
                self.trusted = False
                if gained_mps2 is None:
                    state.update_altitude(altitude_m, variance + TRANSONIC_SIGMA_M**2)
                return
            if gained_mps2 is not None:
                # The ports lag behind a climb by a time that is not known; the accelerometer does not. That error
                # stays as it is for a while, so that more readings do not tell more.
                altitude_m += PORT_LAG_S * state.v
                variance += (PORT_LAG_SIGMA_S * state.v) ** 2 * max(1.0, PORT_LAG_STAYS_S / dt if dt > 0.0 else 1.0)
        self.trusted = True
        self._steps_are_felt = climbing and gained_mps2 is not None
        self._take_altitude(t_ms, dt, altitude_m, variance, phase)

    def _predict_along_drag(self, dt: float, phase: Phase) -> None:
        predict_along_drag(self.state, dt, phase, JERK_DENSITY[phase])
        if dt > UNSEEN_S:
            # Whatever happened in the silence, a parachute among it, happened somewhere in the middle.
            self.state.allow_step(self._step_sigma_mps2(phase), 0.5 * dt)

    def _take_altitude(self, t_ms: float, dt: float, altitude_m: float, variance: float, phase: Phase) -> None:
        """Update, unless the innovation says that something other than motion moved the pressure.

        A firing charge moves the pressure in the bay at once and it decays; a rocket's height cannot jump. So a
        sudden innovation is refused until the reading has come back to the predicted course. One that grows is motion
        after all, and one that stays is a filter that was wrong.
        """
        state = self.state
        self.accepted = True
        if self._charge is not None:
            self._during_charge(t_ms, dt, altitude_m, variance, phase)
            return
        innovation, spread = state.altitude_innovation(altitude_m, variance)
        sigma = spread**0.5
        size = innovation if innovation >= 0.0 else -innovation
        if self._spike_m != 0.0:
            self._during_spike(t_ms, innovation, size, variance, phase)
            if not self.accepted:
                return
        elif size > GATE_LEAST_M and size > GATE_SIGMAS * self._gate_sigma_m(dt, sigma, variance, phase):
            self._bias = 0.0
            self.accepted = False
            if phase is _DESCENT:
                self._charge = ChargeSpike(t_ms, state, altitude_m, variance)
                self.state = self._charge.motion()
            else:
                self._spike_m = innovation
                self._spike_ms = t_ms
            return
        else:
            if size > SOFT_GATE_SIGMAS * sigma:
                variance *= (size / (SOFT_GATE_SIGMAS * sigma)) ** 2
            if not self._steps_are_felt:
                self._watch_step(t_ms, dt, innovation / sigma, phase)
        state.update_altitude(altitude_m, variance)

    def _gate_sigma_m(self, dt: float, sigma_m: float, variance: float, phase: Phase) -> float:
        """What a reading's innovation is measured by: its standard deviation.

        After a silence in the descent a charge's gas is within what the motion may have done meanwhile. There the
        reading's own noise counts, for both are weighed then.
        """
        if phase is _DESCENT and UNSEEN_S < dt < LONG_UNSEEN_S:
            return min(sigma_m, sqrt(variance))
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

    def _watch_step(self, t_ms: float, dt: float, normalised: float, phase: Phase) -> None:
        weight = dt / (FADE_S + dt)
        bias = self._bias = self._bias + weight * (max(-MOST_NORMALISED, min(MOST_NORMALISED, normalised)) - self._bias)
        # The fading mean of white unit innovations has variance weight / (2 - weight).
        if bias * bias * (2.0 - weight) > STEP_SCORE * STEP_SCORE * weight and t_ms - self._stepped_ms > STEP_REST_MS:
            if bias > 0.0 and phase is _THRUST:
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
        if phase is _DESCENT and state.v > 0.0 and state.a > 0.0:
            # Nothing brakes but by the fall itself; how much drag the fall meets again after it is not known.
            drag = state.a + G0_MPS2
            state.predict(step, density + drag * drag / BRAKED_RETURN_S, -drag / BRAKED_RETURN_S)
            left -= step
            continue
        jerk = _drag_course(state, phase)
        fade = _drag_fade(state, step) if jerk else 1.0
        state.predict(step, density, jerk)
        if fade < 1.0:
            state.fade_acceleration(fade)
        left -= step


def _drag_fade(state: VerticalFilter, step_s: float) -> float:
    """How much of an error in the acceleration is left after a step: d(da/dt)/da = 2 (2 a + g) / v."""
    change = 2.0 * (2.0 * state.a + G0_MPS2) / state.v * step_s
    return 1.0 if change >= 0.0 else max(0.5, 1.0 + change)


def _drag_course(state: VerticalFilter, phase: Phase) -> float:
    """Mean jerk (m/s^3) while drag alone shapes the acceleration; 0 where too slow to tell."""
    v, a = state.v, state.a
    drag = a + G0_MPS2
    if drag * v > 0.0:
        # Nothing pushes along the motion: towards free fall.
        return -drag / FREE_FALL_RETURN_S if phase is _DESCENT and v > 1.0 else 0.0
    if -DRAG_COURSE_LEAST_MPS < v < DRAG_COURSE_LEAST_MPS:
        if phase is not _DESCENT or a <= 0.0:
            return 0.0
        # Too slow to tell by how much, but what brakes a slow fall is soon over.
        v = -DRAG_COURSE_LEAST_MPS
    jerk = 2.0 * drag * a / v
    limit = 3.0 * abs(drag)
    return max(-limit, min(limit, jerk))
