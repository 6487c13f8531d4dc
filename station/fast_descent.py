"""Does the rocket come in without its parachute? Said as soon as the fall shows what no parachute in time lets it show.

Speeds are brought to the air density of the pad, as in `descent`. Two kinds of evidence:

- bare: it falls faster than `BARE_MPS` and nothing holds it. A parachute that comes out within two seconds of apogee
  keeps every fall below that (20 m/s by then, some more while the canopy fills).
- overdue: `MAIN_TAKES_S` after it came down past the main's height the fall is still faster than any main's. With one
  parachute the place is the apogee. Where the main's height is not known, `LOW_M` above the pad is too low for every
  main.

The estimate of the speed may be ten metres a second wrong for a moment after a charge's spike or a gap. So the height
lost in `MEAN_S` or more counts, less `SURE_SIGMAS` of its standard deviation. The warning stays for `LINGER_S` over a
doubtful moment and goes at once when the fall is plainly slower. A main that held acquits the fall, until the rocket
has been faster again for `LETS_GO_S` than gusts under it make it.

Limits are common practice, no source, checked on virtual flights (`tests/benchmarks/outlook_table.py`).
"""

from bisect import bisect_left
from collections.abc import Collection, Sequence
from enum import StrEnum
from math import hypot

from station.atmosphere import pad_density_ratio
from station.flight_state import Estimate
from station.records import Role
from station.stretch import Stretch

BARE_MPS = 34.0
UNDER_MAIN_MPS = 11.0
OVER_PLAN = 1.6
MAIN_TAKES_S = 2.0
ONE_PARACHUTE_TAKES_S = 4.5
LOW_M = 30.0
LANDED_M = 5.0
SURE_SIGMAS = 2.0
MEAN_S = 0.6
LINGER_S = 2.0
# A hold that has lasted for so long acquits the fall until it was so much faster than it for so long.
SETTLES_S = 2.5
LETS_GO_S = 2.0
LETS_GO_RATIO = 1.3
SLOWER_FRACTION = 0.8


class FastDescent(StrEnum):
    """Why a descent is called fast."""

    BARE = "bare"
    OVERDUE = "overdue"


def fast_descent(
    track: Sequence[Estimate],
    hold: Stretch,
    *,
    apogee_t_ms: float,
    roles: Collection[Role],
    main_height_m: float | None,
    planned_main_mps: float | None = None,
) -> FastDescent | None:
    """Judge a descent: the estimates so far (the last one is now) and the stretch of it that is going on.

    `roles`: the parachutes planned. `main_height_m`: true metres above the pad, None if not known.
    """
    if not track:
        return None
    held_mps = hold.rate_mps if hold.opened_ms is not None else None
    held = hold.opened_ms is not None and (held_mps is None or held_mps < BARE_MPS)
    if not held and _falls_faster(track, BARE_MPS, apogee_t_ms):
        return FastDescent.BARE
    under_main = max(UNDER_MAIN_MPS, OVER_PLAN * planned_main_mps if planned_main_mps is not None else 0.0)
    if held_mps is not None and hold.is_steady and held_mps < under_main and not _lets_go(track, hold, under_main):
        return None
    due_ms = _due_ms(track, apogee_t_ms, roles, main_height_m)
    if due_ms is None or track[-1].altitude_m < LANDED_M:
        return None
    return FastDescent.OVERDUE if _falls_faster(track, under_main, due_ms) else None


def _lets_go(track: Sequence[Estimate], hold: Stretch, under_main_mps: float) -> bool:
    """What held the fall holds it no more: it is fast again, and for longer than gusts and swinging last."""
    limit_mps = max(under_main_mps, LETS_GO_RATIO * (hold.rate_mps or 0.0))
    settled_ms = (hold.opened_ms or hold.start_ms) + 1000.0 * SETTLES_S
    return _falls_faster(track, limit_mps, settled_ms, mean_s=LETS_GO_S)


def _due_ms(
    track: Sequence[Estimate], apogee_t_ms: float, roles: Collection[Role], main_height_m: float | None
) -> float | None:
    """By when the main should hold; None when it is not its turn yet or there is none."""
    if Role.MAIN not in roles:
        return None
    if Role.DROGUE not in roles:
        return apogee_t_ms + 1000.0 * ONE_PARACHUTE_TAKES_S
    place_m = LOW_M if main_height_m is None else main_height_m
    descent = bisect_left(track, apogee_t_ms, key=lambda e: e.t_ms)
    passed = bisect_left(track, -place_m, lo=descent, key=lambda e: -e.altitude_m)
    if passed == len(track):
        return None
    at_ms = track[passed].t_ms
    if passed > descent and track[passed - 1].altitude_m > place_m:
        # Between the two, in a gap too.
        above, below = track[passed - 1], track[passed]
        share = (above.altitude_m - place_m) / (above.altitude_m - below.altitude_m)
        at_ms = above.t_ms + share * (below.t_ms - above.t_ms)
    return at_ms + (0.0 if main_height_m is None else 1000.0 * MAIN_TAKES_S)


def _falls_faster(track: Sequence[Estimate], limit_mps: float, since_ms: float, *, mean_s: float = MEAN_S) -> bool:
    """It has fallen surely faster than the limit since then, now or a moment ago, and is not plainly slower now."""
    now = track[-1]
    scale = pad_density_ratio(now.altitude_m) ** 0.5
    if (now.velocity_sigma_mps - now.velocity_mps) * scale < SLOWER_FRACTION * limit_mps:
        return False
    start = len(track) - 1
    for end in range(len(track) - 1, 0, -1):
        last = track[end]
        while start > 0 and last.t_ms - track[start].t_ms < 1000.0 * mean_s:
            start -= 1
        first = track[start]
        seconds = (last.t_ms - first.t_ms) / 1000.0
        if seconds < mean_s or first.t_ms < since_ms or now.t_ms - last.t_ms > 1000.0 * LINGER_S:
            return False
        unsure_m = SURE_SIGMAS * hypot(first.altitude_sigma_m, last.altitude_sigma_m)
        if (first.altitude_m - last.altitude_m - unsure_m) * scale > limit_mps * seconds:
            return True
    return False
