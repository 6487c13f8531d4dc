"""The highest speed of a climb with an accelerometer, better known with every sample of the coast.

While the motor burns the accelerometer's integral tells the speed: its scale (2 % in data sheets), what lost lines hide
of the push, and the lean stay in it. The coast knows the same speed by other means: heights that lose speed to gravity
and drag alone began at one speed only. `CoastDrag` joins both by their variances and says, with each sample, how fast
the rocket was when the fit began; gravity and drag carry that back over the moments to burnout.
"""

from collections.abc import Sequence
from math import hypot

from station.atmosphere import G0_MPS2, density_ratio
from station.coast_drag import CoastDrag, drag_rise, mach_at
from station.estimator import VerticalFilter
from station.liftoff import Sample
from station.vertical_motion import PORT_LAG_S

# The accelerometer's scale (data sheets: 2 % at the most), which its own noise does not show.
SCALE_SIGMA = 0.02
LEAST_SIGMA_MPS = 0.5
FORCE_SIGMA_MPS2 = 0.5
# What is left open of the ports' lag, as height while fast (common practice, no source).
LAG_SIGMA_S = 0.012
# A fit that begins so long after burnout (the pressure was not trusted) is not carried back: the drag near the speed of
# sound is not known that well. What it corrects is taken to have been as wrong at burnout.
CARRIED_LONGEST_S = 0.6
# A fit that is lost before it has lasted so long has told nothing.
PROVES_S = 1.0
# The longest tail of thrust, less than drag and weight, that is looked back over.
TAIL_LONGEST_S = 1.5


class TopSpeed:
    """Begun when burnout is called by the accelerometer; `mps` is the highest speed as it is known by now."""

    def __init__(
        self, flown: Sequence[Sample], burnout_ms: float, known_mps: float, state: VerticalFilter, pad_kelvin: float
    ) -> None:
        """`flown`: the samples so far; `known_mps`: the highest speed of the filter, `state` the filter now."""
        self.mps = max(known_mps, state.v)
        self._known_mps = self.mps
        self._kelvin = pad_kelvin
        self._out_ms, self._tail_mps = _end_of_push(flown, burnout_ms)
        self._coast = self._begun(flown[-1].t_ms, state)
        self._given_up = False

    def take(self, t_ms: float, altitude_m: float, noise_m: float, state: VerticalFilter) -> None:
        """Take a height (m, with its noise) of the coast that can be trusted; `state` is the filter after it."""
        if state.v > self._known_mps:
            self._known_mps = state.v
        if self._given_up:
            return
        coast = self._coast
        # The ports lag behind the climb.
        coast.take(t_ms, altitude_m + PORT_LAG_S * state.v, noise_m * noise_m)
        if not coast.lost:
            self.mps = self._carried_back(coast)
            return
        self._given_up = True
        if t_ms - coast.start_ms < 1000.0 * PROVES_S:
            self.mps = self._known_mps

    def wait(self, t_ms: float, state: VerticalFilter) -> None:
        """A sample of the coast whose pressure cannot be trusted: the fit is to begin after it."""
        if not self._given_up:
            self._coast = self._begun(t_ms, state)
            if state.v > self._known_mps:
                self._known_mps = self.mps = state.v

    def _begun(self, t_ms: float, state: VerticalFilter) -> CoastDrag:
        sigma_m = hypot(state.phh**0.5, LAG_SIGMA_S * state.v)
        sigma_mps = hypot(state.pvv**0.5, SCALE_SIGMA * state.v, LEAST_SIGMA_MPS)
        coast = CoastDrag(t_ms, state.h, state.v, sigma_m, sigma_mps, self._kelvin)
        coast.take_deceleration(state.a, 2.0 * state.paa**0.5 + FORCE_SIGMA_MPS2)
        self._begun_m, self._begun_mps = state.h, state.v
        return coast

    def _carried_back(self, coast: CoastDrag) -> float:
        """The speed at burnout, and what was lost by then since the highest one."""
        back_s = 0.001 * (coast.start_ms - self._out_ms)
        if back_s > CARRIED_LONGEST_S:
            return self._known_mps + coast.start_mps - self._begun_mps
        height, speed = self._begun_m, coast.start_mps
        density = density_ratio(height - 0.5 * back_s * speed, self._kelvin)
        k = coast.drag_per_m * density * drag_rise(mach_at(height, speed, self._kelvin))
        # Midpoint rule: the drag changes along the way back with the speed.
        middle = speed + 0.5 * back_s * (G0_MPS2 + k * speed * speed)
        return speed + back_s * (G0_MPS2 + k * middle * middle) + self._tail_mps


def _end_of_push(flown: Sequence[Sample], burnout_ms: float) -> tuple[float, float]:
    """(When the motor went out, ms, the speed lost before that to drag and weight in the tail of the thrust, m/s).

    It went out between two samples: nothing says when, so halfway.
    """
    before = [s for s in flown[-200:] if burnout_ms - 1000.0 * TAIL_LONGEST_S < s.t_ms < burnout_ms - 1.0]
    if not before:
        return burnout_ms, 0.0
    after_ms = next((s.t_ms for s in flown[-200:] if s.t_ms >= burnout_ms - 1.0), burnout_ms)
    out_ms = later_ms = 0.5 * (before[-1].t_ms + after_ms)
    lost = later = 0.0
    for s in reversed(before):
        gained = s.gained_mps2
        if gained is None or gained >= 0.0:
            break
        lost -= 0.0005 * (gained + (later or gained)) * (later_ms - s.t_ms)
        later_ms, later = s.t_ms, gained
    return out_ms, lost
