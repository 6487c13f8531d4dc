"""The highest point, from the heights around it: a free fall's parabola, or the bend that a parachute leaves of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.atmosphere import G0_MPS2
from station.biweight import root_weight, spread_of
from station.columns import Array
from station.flight_state import Event
from station.flown_record import COAST_GUARD_S, STRETCH_S, FlownRecord
from station.stretch import Stretch

APOGEE_HALF_WINDOW_S = 2.0
# Fired sooner than this before apogee it hardly holds anything before it, at so slow a speed.
EARLY_FIRING_S = 0.7
EARLY_HALF_WINDOW_S = 1.0
# A top that a silence may have hidden is seen after all where so many readings of each side are in the fit.
LEAST_EACH_SIDE = 4
# With a parachute out at the top: the third-order bend (m/s^3) of a drogue's drag at 5 to 15 m/s sideways, and what is
# left out (s; measured on virtual flights, no source).
BEND_CUBIC = 1.0
BEND_CUBIC_SIGMA = 1.0
BEND_MODEL_SIGMA_S = 0.035
BEND_ROUNDS = 12
BEND_LONGEST_STEP_S = 0.3


@dataclass(frozen=True, slots=True)
class Peak:
    """When the pressure was least (s, as the record counts), its standard deviation (s) and the height then (m)."""

    t_s: float
    sigma_s: float
    altitude_m: float


def fit_peak(record: FlownRecord, apogee: Event, burnout: Event | None, stretches: Sequence[Stretch]) -> Peak | None:
    """The highest point from the heights around it; None where too little was heard of them.

    Near the top drag is all but nothing: h = H - g (t - T)^2 / 2, from burnout's end to the drogue's pull.
    """
    apogee_s = record.seconds(apogee.t_ms)
    holds = [record.seconds(s.opened_ms) for s in stretches if s.opened_ms is not None]
    pulls = [f + STRETCH_S for f in record.fired_s if f > apogee_s - EARLY_FIRING_S]
    end_s = min([apogee_s + APOGEE_HALF_WINDOW_S, *pulls, *(h for h in holds if h > apogee_s - 0.5)])
    early = [f for f in record.fired_s if apogee_s - 8.0 < f <= apogee_s - EARLY_FIRING_S]
    start_s = apogee_s - APOGEE_HALF_WINDOW_S
    if early:
        # A drogue already out: no free fall, so only the bend next to the top counts, and its curvature is fitted.
        start_s = max(early[-1] + STRETCH_S, apogee_s - EARLY_HALF_WINDOW_S)
        end_s = min(end_s, apogee_s + EARLY_HALF_WINDOW_S)
    if burnout is not None:
        start_s = max(start_s, record.seconds(burnout.t_ms) + COAST_GUARD_S)
    use = record.without_spikes((record.t >= start_s) & (record.t <= max(end_s, apogee_s)))
    t, h, sigma = record.t[use] - apogee_s, record.h[use], record.sigma[use]
    if apogee.altitude_sigma_m is not None and not _is_within(t):
        return None  # A silence hid it: what was reckoned from the climb before stands.
    if len(t) < 6:
        return None
    if early:
        return _peak_of_bend(apogee_s, t, h, sigma)
    bend = h + 0.5 * G0_MPS2 * t * t
    basis = np.stack([np.ones_like(t), G0_MPS2 * t], axis=1)
    weight = 1.0 / sigma**2
    for _ in range(6):
        normal = basis.T @ (weight[:, None] * basis)
        try:
            top, late = np.linalg.solve(normal, basis.T @ (weight * bend))
        except np.linalg.LinAlgError:
            return None
        scaled = (bend - basis @ np.array([top, late])) / sigma
        spread = spread_of(scaled, least=1.0)
        weight = (root_weight(scaled, spread) / sigma) ** 2
    covariance = np.linalg.inv(normal) * spread**2
    if abs(late) > 1.5:
        return None
    peak = float(top) + 0.5 * G0_MPS2 * float(late) ** 2
    return Peak(apogee_s + float(late), max(0.01, float(covariance[1, 1]) ** 0.5), peak)


def _peak_of_bend(apogee_s: float, t: Array, h: Array, sigma: Array) -> Peak | None:
    """The top of a climb that a parachute already brakes: h = H - g s^2 / 2 + c s^3 with s = t - T.

    At the top there is no vertical speed and so no vertical drag, whatever the speed sideways; what drag does
    before and after it is of third order. How high it was, a parabola of any curvature tells better: it takes in
    some of what is of higher order still.
    """
    if t[-1] - t[0] < 0.5:
        return None
    curve, slope, level = np.polyfit(t, h, 2, w=1.0 / sigma)
    if curve >= -0.5:
        return None
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
        return None
    sigma_s = max(0.02, float(np.linalg.inv(normal)[1, 1]) ** 0.5)
    return Peak(apogee_s + late, float(np.hypot(sigma_s, BEND_MODEL_SIGMA_S)), float(level - slope**2 / (4.0 * curve)))


def _is_within(t_s: Array) -> bool:
    """Zero lies well inside these times."""
    return min(int((t_s < 0.0).sum()), int((t_s > 0.0).sum())) >= LEAST_EACH_SIDE
