"""How the fall goes on once the main is due, while it is not held as a main holds it: what can be said of it yet."""

from station.held_main import PLACE_MARGIN_FRACTION, PLACE_MARGIN_M
from station.parachute_case import NEEDED_AFTER_S, PLAIN_LIVE_S, PLAINLY_SLOWER_FRACTION, ParachuteCase
from station.parachute_rates import CHANGED_FRACTION, DROGUE_FASTEST_MPS
from station.seen_fall import LEAST_MEAN_MS
from station.stretch import PLAINLY_OVER_FRACTION, Stretch, plainly_over_mps
from station.touchdown import GROUND_NEAR_M

# Slower by so much than a main may be, and its rate not known yet: it slows down still.
STILL_SLOWS_FRACTION = 0.8
# A speed is not known that may err by this part of the fall before.
UNSURE_FRACTION = 0.3
# A mean of so many metres over the time that it was seen for may be within the limit; in the first moments, which hold
# the filling, as much as makes any rate plain.
NEAR_LIMIT_M = 2.0
# ... by so much where the rate of its hold is known.
NEAR_LIMIT_KNOWN_M = 1.0
FILLED_S = 2.5
# Speeds after a silence are rough for a moment: the mean of so long tells what it lately fell at ...
NEWEST_MS = 2000.0
# ... and shows that it slows on where it is under this part of the mean since the main was due.
SLOWS_ON_FRACTION = 0.93
# Live, whether the mean has changed is looked at so often, and once known is believed until the mean is past the edge
# by so much of what it was before, the other way; what lies near the edge is decided after so long.
LOOK_MS = 500.0
EDGE_FRACTION = 0.04
NEAR_THE_EDGE_LOOKS = 6
# The first looks may see the filling: that nothing slowed the fall must be plainer by them.
FILLING_LOOKS = 2
FILLING_FRACTION = 0.1


def still_slows(case: ParachuteCase, before: float | None, now: float | None, newest: Stretch | None) -> bool:
    """Live: the fall has slowed since the main was due, and to which rate is not known yet.

    A hold that is promised to be plainly slower is the main's then; without one nothing can be said.
    """
    if case.facts.over or case.facts.track[-1].altitude_m < GROUND_NEAR_M:
        return False  # what stops it there is the ground
    if before is None:
        return newest is not None and not newest.is_steady
    if now is not None and (now < CHANGED_FRACTION * before or (newest is not None and newest.is_steady)):
        return False  # its rate is known
    last = case.facts.track[-1]
    if now is not None:
        # Once it has gone on as before for a while, a gust is no opening.
        is_slower = last.velocity_sigma_mps - last.velocity_mps <= PLAINLY_SLOWER_FRACTION * before
    else:
        is_unsure = last.velocity_sigma_mps > UNSURE_FRACTION * before
        is_slower = is_unsure or -last.velocity_mps <= CHANGED_FRACTION * before
    if not is_slower:
        return False
    if newest is not None and case.keeps_under(newest, PLAINLY_SLOWER_FRACTION * before):
        case.choose(newest)
        case.holds = True
    return True


def has_slowed(case: ParachuteCase, due_ms: float, before_mps: float, now_mps: float | None) -> bool | None:
    """The mean since a while after the main was due is less than before; None, live, while that is not decided.

    Gusts carry a mean near the edge to and fro: live it stays as it was found until it plainly is otherwise.
    """
    slowed = now_mps is not None and now_mps < CHANGED_FRACTION * before_mps
    if case.facts.over:
        return slowed
    start_ms = due_ms + 1000.0 * NEEDED_AFTER_S
    first_ms = max(start_ms + LEAST_MEAN_MS, due_ms + 1000.0 * needed_live_s(case, due_ms, before_mps))
    looks = int((case.fall.clear_of_ground_ms(due_ms) - first_ms) / LOOK_MS) + 1
    found: bool | None = None
    was_looked_at = False
    for look in range(looks):
        mean_mps = case.fall.mean_mps(start_ms, first_ms + look * LOOK_MS)
        if mean_mps is None:
            continue
        was_looked_at = True
        past_the_edge = mean_mps / before_mps - CHANGED_FRACTION
        over = FILLING_FRACTION if found is None and look < FILLING_LOOKS else EDGE_FRACTION
        if not -EDGE_FRACTION <= past_the_edge <= over or (found is None and look >= NEAR_THE_EDGE_LOOKS):
            found = past_the_edge < 0.0
    newest = case.facts.track[-1]
    if found is not None or newest.altitude_m < GROUND_NEAR_M:
        return slowed if found is None else found
    # Before the first look only a fall that goes on as it was is decided on.
    lately_mps = case.fall.mean_mps(newest.t_ms - LEAST_MEAN_MS, newest.t_ms) if now_mps is None else now_mps
    goes_on = not was_looked_at and (lately_mps or 0.0) > (CHANGED_FRACTION + FILLING_FRACTION) * before_mps
    return False if goes_on else None


def slows_on(case: ParachuteCase, due_ms: float, before_mps: float, mean_mps: float) -> bool:
    """It surely falls at less than the mean since the main was due, or it may still be on the way to a main's rate."""
    newest, hold = case.facts.track[-1], case.stretch
    if newest.altitude_m < GROUND_NEAR_M:
        return False
    if hold is not None and not hold.is_known and before_mps > DROGUE_FASTEST_MPS:
        return True  # out of a dive, all of it is later
    if hold is None and -newest.velocity_mps < STILL_SLOWS_FRACTION * case.fastest_mps:
        return True
    lately_ms = newest.t_ms - NEWEST_MS
    if lately_ms > due_ms + 1000.0 * NEEDED_AFTER_S + LEAST_MEAN_MS:
        lately_mps = case.fall.mean_mps(lately_ms, newest.t_ms)
        if lately_mps is not None and lately_mps >= SLOWS_ON_FRACTION * mean_mps:
            return False  # its newest speed alone, after a silence, is a rough one
    return newest.velocity_sigma_mps - newest.velocity_mps < CHANGED_FRACTION * mean_mps


def is_near_the_limit(case: ParachuteCase, due_ms: float, mean_mps: float) -> bool:
    """What fell at that mean since the main was due may be within the limit yet, by what is known of its hold."""
    hold = case.stretch
    if hold is not None and hold.rate_mps is not None and hold.rate_mps <= case.fastest_mps:
        return True  # the mean has the dive before it in it
    if hold is not None and hold.is_known:
        return not _came_over_the_limit(case, due_ms)
    seen_s = (case.facts.track[-1].t_ms - due_ms) / 1000.0 - NEEDED_AFTER_S
    if seen_s < FILLED_S:
        return plainly_over_mps(mean_mps, seen_s) <= case.fastest_mps
    return mean_mps / (1.0 + PLAINLY_OVER_FRACTION) - NEAR_LIMIT_M / seen_s <= case.fastest_mps


def _came_over_the_limit(case: ParachuteCase, due_ms: float) -> bool:
    """The mean since the main was due came to be over the limit, and has not been within it since."""
    start_ms = due_ms + 1000.0 * NEEDED_AFTER_S
    looks = int((case.fall.clear_of_ground_ms(due_ms) - start_ms - LEAST_MEAN_MS) / LOOK_MS) + 1
    is_over = False
    for look in range(looks):
        look_ms = start_ms + LEAST_MEAN_MS + look * LOOK_MS
        mean_mps = case.fall.mean_mps(start_ms, look_ms)
        if mean_mps is not None:
            margin_mps = 0.0 if is_over else 1000.0 * NEAR_LIMIT_KNOWN_M / (look_ms - start_ms)
            is_over = mean_mps - margin_mps > case.fastest_mps
    return is_over


def may_hold_yet(case: ParachuteCase, hold: Stretch | None) -> bool:
    """The rate of the hold is not known yet, or what it falls at now surely is a main's."""
    newest = case.facts.track[-1]
    if newest.altitude_m < GROUND_NEAR_M:
        return False
    is_young = hold is not None and hold.opened_ms is not None and not hold.is_known
    return is_young or newest.velocity_sigma_mps - newest.velocity_mps <= case.fastest_mps


def may_be_above_it(case: ParachuteCase) -> bool:
    """Live: the altimeter, by its own reckoning, may not have come down to the main's height yet."""
    height = case.main_height_m
    lowest_m = None if height is None else height * (1.0 - PLACE_MARGIN_FRACTION) - PLACE_MARGIN_M
    return lowest_m is not None and case.facts.track[-1].altitude_m > lowest_m


def needed_live_s(case: ParachuteCase, due_ms: float, before_mps: float | None) -> float:
    """How long must have been seen, live, for a verdict against it: half of a short way down must do."""
    at = case.fall.at(due_ms)
    if at is None or before_mps is None or before_mps <= 0.0:
        return PLAIN_LIVE_S
    return min(PLAIN_LIVE_S, max(NEEDED_AFTER_S, 0.5 * at.altitude_m / before_mps))
