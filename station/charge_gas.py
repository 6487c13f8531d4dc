"""When a charge's gas pressed on the bay, from the heights alone: what the altimeter did not report, or was not heard.

A firing charge moves the pressure in the bay by some hundred pascals between two readings, and the gas leaves within a
second. No motion does that: even a parachute that brakes with 30 g changes the height by 1.5 m in a tenth of a second
beside what the speed makes of it.
"""

from collections.abc import Iterable

import numpy as np

from station.columns import Array

# A jump of so much (100 Pa) and over so many standard deviations of the noise, between readings that are so close.
LEAST_JUMP_M = 8.0
LEAST_SIGMAS = 8.0
LONGEST_STEP_S = 0.12
# One reading may stray: the next one must still be off by this part; by less where it comes later (s), for gas leaves.
STAYS_SHARE = 0.25
LATER_S = 0.06
LATER_SHARE = 0.1
# The jumps of the same charge, up to its peak and back.
SAME_CHARGE_S = 0.8


def gas_moments_s(t_s: Array, altitude_m: Array, sigma_m: Array, velocity_mps: Array) -> list[float]:
    """Moments (s, ascending) at which gas came; all arrays of one length, times ascending, velocities + up."""
    step_s = np.diff(t_s)
    jump_m = np.diff(altitude_m) - velocity_mps[:-1] * step_s
    limit_m = np.maximum(LEAST_JUMP_M, LEAST_SIGMAS * sigma_m[1:])
    found: list[float] = []
    jumps = (np.abs(jump_m) > limit_m) & (step_s <= LONGEST_STEP_S)
    for k in np.flatnonzero(jumps):
        if found and t_s[k + 1] - found[-1] < SAME_CHARGE_S:
            continue
        if k > 0 and jumps[k - 1]:
            continue  # back from a reading that strayed
        before_m, after = altitude_m[k], k + 2
        if after < len(t_s) and t_s[after] - t_s[k + 1] <= LONGEST_STEP_S:
            share = STAYS_SHARE if t_s[after] - t_s[k + 1] <= LATER_S else LATER_SHARE
            left_m = altitude_m[after] - before_m - velocity_mps[k] * (t_s[after] - t_s[k])
            if left_m * jump_m[k] < share * jump_m[k] ** 2:
                continue
        found.append(0.5 * float(t_s[k] + t_s[k + 1]))
    return found


def with_unreported(reported_s: Iterable[float], gas_s: Iterable[float]) -> list[float]:
    """Every firing once (s, ascending): as it was reported, and the gas that no report explains."""
    known = sorted(reported_s)
    more = [moment_s for moment_s in gas_s if all(abs(moment_s - fired_s) > SAME_CHARGE_S for fired_s in known)]
    return sorted([*known, *more])
