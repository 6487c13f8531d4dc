"""When the motor began to push and when it had burnt out, by the accelerometer, to better than a sample's gap.

A reading says that there was no thrust yet, the next one that there is: it came somewhere between. The momentum tells
where, for the speed gained between the two is known from all the rest of the climb (`station/force_fit.py`): held at
one level until some moment and at the other from then on, the acceleration must make just that speed.
"""

from dataclasses import dataclass

import numpy as np

from station.atmosphere import DENSITY_SCALE_M, G0_MPS2
from station.columns import Array
from station.force_fit import ForceClimb
from station.median import median_of

# Surely more than noise and handling: the motor pushes.
PUSHED_MPS2 = 8.0
# Motors come up and tail off within about so much of their burn (common practice, no source).
RISE_SHARE = 0.02
TAIL_SHARE = 0.06
# A motor may tail off for long: where no thrust is left so soon after the crossing, the burn has ended.
THRUST_GONE_S = (0.25, 0.6, 1.1, 1.8)
ALL_GONE_S = 0.15
THRUST_END_SHARE = 0.05
DRAG_SEEN_S = 1.0
DRAG_LINE_SAMPLES = 8
# What the levels about a gap leave open of a moment inside it, as a share of the gap: thrust changes along the burn.
GAP_SHARE = 0.15


@dataclass(frozen=True, slots=True)
class Moment:
    """When something happened (s), and the standard deviation that the accelerometer leaves of it (s)."""

    t_s: float
    sigma_s: float


def first_motion(climb: ForceClimb, burn_s: float) -> Moment | None:
    """When thrust first lifted the rocket; None if the climb shows no beginning of it."""
    a, t = climb.acceleration_mps2, climb.t_s
    pushed = a > PUSHED_MPS2
    found = np.flatnonzero(pushed[1:-1] & pushed[2:]) + 1
    if found.size == 0 or pushed[0]:
        return None
    k = int(found[0])
    gap_s = float(t[k] - t[k - 1])
    since_s = float(climb.velocity_mps[k] - climb.velocity_mps[k - 1]) / float(a[k])
    rise_s = RISE_SHARE * burn_s
    # A straight rise to the level seen makes half the speed of that level held.
    since_s = since_s + 0.5 * rise_s if since_s > 0.5 * rise_s else 2.0 * since_s
    steepness = float((a[k + 1] - a[k]) / (t[k + 1] - t[k]))
    if steepness > 0.0:
        # Still rising: thrust comes up at least as steeply as it goes on.
        since_s = min(since_s, float(a[k]) / steepness)
    sigma_s = min(climb.gain_sigma_mps(k - 1) / float(a[k]), gap_s / 12.0**0.5)
    return Moment(float(t[k]) - min(gap_s, max(0.0, since_s)), sigma_s)


def thrust_end(climb: ForceClimb, crossing_s: float, burn_s: float) -> Moment | None:
    """Where thrust, that is specific force plus drag, falls below 5 % of its peak, near where the speed peaks."""
    for gone_s in THRUST_GONE_S:
        thrust = _thrust(climb, crossing_s, gone_s)
        if thrust is None:
            return None
        t = climb.t_s[: len(thrust)]
        level = THRUST_END_SHARE * float(np.sort(thrust)[-2:].min())
        about = np.abs(t - crossing_s - gone_s) < ALL_GONE_S
        above = np.flatnonzero((thrust > level) & (t < crossing_s + gone_s))
        if above.size == 0 or above[-1] + 1 >= len(t):
            return None
        if not about.any() or thrust[about].mean() < level:
            return _end_between(climb, thrust, int(above[-1]), level, burn_s)
    return None


def _thrust(climb: ForceClimb, crossing_s: float, gone_s: float) -> Array | None:
    """Thrust per mass (m/s^2) at the climb's first readings, if there is none from so long after the crossing on.

    Drag per mass is k v^2 at the density of the height. A straight line in time does for k: it changes fast near the
    speed of sound. None where too little of the coast was seen.
    """
    t, force = climb.t_s, climb.acceleration_mps2 + G0_MPS2
    pull = climb.velocity_mps**2 * np.exp(-climb.altitude_m / DENSITY_SCALE_M)
    begins_s = crossing_s + gone_s
    after = (t > begins_s) & (t < begins_s + DRAG_SEEN_S)
    if after.sum() < 3 or pull[after].min() <= 0.0:
        return None
    usual = max(0.0, median_of(-force[after] / pull[after]))
    drag = np.full_like(t, usual)
    if after.sum() >= DRAG_LINE_SAMPLES:
        late = np.maximum(t - begins_s, -DRAG_SEEN_S)
        basis = np.column_stack([pull[after], (pull * late)[after]])
        (now, growth), *_ = np.linalg.lstsq(basis, -force[after], rcond=None)
        drag = np.clip(now + growth * late, 0.5 * usual, 2.0 * usual)
    thrust: Array = (force + drag * pull)[t < crossing_s + 3.0]
    return thrust


def _end_between(climb: ForceClimb, thrust: Array, i: int, level: float, burn_s: float) -> Moment:
    """Where thrust falls through a level between reading i and the next."""
    fall = fall_between(climb, i, burn_s)
    gap_s = float(climb.t_s[i + 1] - climb.t_s[i])
    lost = float(thrust[i]) - max(0.0, float(thrust[i + 1]))
    share = min(1.0, max(0.0, (float(thrust[i]) - level) / max(lost, 1e-6)))
    at_s = fall.begins_s + share * (fall.ends_s - fall.begins_s)
    return Moment(at_s, float(np.hypot(fall.sigma_s, GAP_SHARE * gap_s)))


@dataclass(frozen=True, slots=True)
class Fall:
    """Where in a gap the acceleration falls, in a straight line, from one reading's level to the next one's (s)."""

    begins_s: float
    ends_s: float
    sigma_s: float


def fall_between(climb: ForceClimb, i: int, burn_s: float) -> Fall:
    """The fall of the acceleration from reading i to the next that makes the speed gained between them."""
    start_s, gap_s = float(climb.t_s[i]), float(climb.t_s[i + 1] - climb.t_s[i])
    high = float(climb.acceleration_mps2[i])
    low = min(float(climb.acceleration_mps2[i + 1]), high - 1.0)
    gained = float(climb.velocity_mps[i + 1] - climb.velocity_mps[i])
    middle_s = min(gap_s, max(0.0, (gained - low * gap_s) / (high - low)))
    half_s = min(middle_s, gap_s - middle_s, 0.5 * TAIL_SHARE * burn_s)
    sigma_s = min(climb.gain_sigma_mps(i) / (high - low), gap_s / 12.0**0.5)
    return Fall(start_s + middle_s - half_s, start_s + middle_s + half_s, sigma_s)


def top_speed_mps(climb: ForceClimb, burn_s: float) -> float:
    """The highest speed, between readings too: it peaks where the acceleration falls through zero."""
    v, a, t = climb.velocity_mps, climb.acceleration_mps2, climb.t_s
    k = int(np.argmax(v))
    top = float(v[k])
    for i in (k - 1, k):
        if i < 0 or i + 1 >= len(t) or a[i] <= 0.0 or a[i + 1] >= 0.0:
            continue
        fall = fall_between(climb, i, burn_s)
        high, low = float(a[i]), float(a[i + 1])
        held_s, falling_s = fall.begins_s - float(t[i]), (fall.ends_s - fall.begins_s) * high / (high - low)
        top = max(top, float(v[i]) + high * (held_s + 0.5 * falling_s))
    return top
