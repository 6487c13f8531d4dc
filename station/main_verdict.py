"""Did the main hold the fall below its height, or the one parachute that there is? The descent and the report tell."""

from math import hypot

from station.flight_state import Verdict
from station.parachute_case import JUST_BEGUN, NEEDED_AFTER_S, PLAIN_LIVE_S, PLAINLY_SLOWER_FRACTION, ParachuteCase
from station.parachute_rates import (
    BARE_AIRFRAME_MPS,
    CHANGED_FRACTION,
    DROGUE_FASTEST_MPS,
    SURELY_BARE_MPS,
    main_sure_mps,
)
from station.seen_fall import LEAST_MEAN_MS
from station.stretch import KNOWN_S, PLAINLY_OVER_FRACTION, STEADY_S, Stretch
from station.touchdown import GROUND_NEAR_M

EARLY_BEFORE_FIRING_MS = 1500.0
FASTER_BEFORE_RATIO = 1.4
PLACE_MARGIN_M = 25.0
PLACE_MARGIN_FRACTION = 0.12
REPORT_MARGIN_MS = 600.0
OPENED_MARGIN_MS = 300.0
# Slower by so much than a main may be, and its rate not known yet: it slows down still.
STILL_SLOWS_FRACTION = 0.8
# A speed is not known that may err by this part of the fall before.
UNSURE_FRACTION = 0.3
# A main opens low down: this soon after apogee, this near its height, it has come out with or for the drogue.
STRAIGHT_AFTER_APOGEE_MS = 5000.0
STRAIGHT_AFTER_APOGEE_SHARE = 0.85
# A mean of so many metres over the time that it was seen for may be within the limit.
NEAR_LIMIT_M = 2.0
# Speeds after a silence are rough for a moment: the mean of so long tells what it lately fell at ...
LATELY_MS = 2000.0
# ... and shows that it slows on where it is under this part of the mean since the main was due.
SLOWS_ON_FRACTION = 0.93
# Live, whether the mean has changed is looked at so often, and once known is believed until the mean is past the edge
# by so much of what it was before, the other way; what lies near the edge is decided after so long.
LOOK_MS = 500.0
EDGE_FRACTION = 0.04
NEAR_THE_EDGE_LOOKS = 6
# Seen for so long between the two, what goes on after a silence is another hold.
BROKE_OFF_S = 0.5


def judge_main(case: ParachuteCase) -> Verdict | None:
    """The verdict on the main of a flight whose apogee is known; live, None until the evidence is in."""
    facts = case.facts
    assert facts.apogee is not None
    slow = case.first_slow()
    due_ms = case.main_due_ms()
    if slow is not None:
        index = case.index(slow)
        case.before = facts.stretches[index - 1] if index > 0 else None
        later = next((s for s in facts.stretches[index + 1 :] if case.is_slow(s) and s.is_steady), None)
        if not slow.is_steady and later is not None:
            slow = slow.with_its_rest(later)
        if case.before is not None and due_ms is not None and _opens_into(case, case.before, slow, due_ms):
            slow = case.before.with_its_rest(slow)
            case.before = facts.stretches[index - 2] if index > 1 else None
        case.stretch = slow
        case.holds = True
        if not case.is_known(slow):
            return case.open_question(JUST_BEGUN)
        return _held(case, slow)
    if due_ms is None:
        if case.by_motor:
            return _motor_without_hold(case)
        return _too_fast_somewhere(case)
    after = case.stretch_after(due_ms, None)
    case.choose(after)
    rate = None if after is None else after.rate_mps
    if case.fired_ms is None and case.known_not_fired(due_ms + REPORT_MARGIN_MS):
        case.reasons.append("The altimeter was heard below the main's height and said that this channel had not fired.")
        if rate is not None:
            case.reasons.append(f"The rocket came down at {rate:.1f} m/s.")
        return Verdict.NOT_FIRED
    before, now = case.rate_about(due_ms)
    hold = _hold_since(case, due_ms)
    if _still_slows(case, before, now, hold):
        return None
    # What lies on the ground shows nothing of what it came down under.
    down_ms = case.fall.clear_of_ground_ms(due_ms)
    if facts.touchdown is not None:
        down_ms = min(down_ms, facts.touchdown.t_ms)
    seen_enough = case.fall.was_seen(due_ms, down_ms, NEEDED_AFTER_S)
    near_ground = case.fall.last_mps(due_ms + 1000.0 * NEEDED_AFTER_S) if rate is None and seen_enough else None
    if near_ground is not None and near_ground > BARE_AIRFRAME_MPS:
        case.say_fired()
        case.reasons.append(f"The fall still was at {near_ground:.0f} m/s near the ground: no main held it.")
        return Verdict.NO_EFFECT
    slowed = hold is not None and case.keeps_under(hold, CHANGED_FRACTION * (before or 0.0))
    if slowed and not facts.over:
        case.choose(hold)
        case.holds = True
    if not seen_enough or rate is None:
        return case.open_question("Too little of the descent below the main's height was observed.")
    is_plain = facts.over or case.fall.was_seen(due_ms, down_ms, _needed_live_s(case, due_ms, before))
    case.say_fired()
    has_slowed = before is not None and now is not None and _has_slowed(case, due_ms, before, now)
    if before is not None and now is not None and has_slowed:
        if after is None or after.opened_ms is None or not _is_since(case, after, due_ms):
            case.choose(hold)  # None: the change is plain, its moment is not
        case.holds = case.stretch is not None
        if now <= case.fastest_mps:
            return case.open_question("The descent slowed, but from when a parachute held the fall was not seen.")
        if not facts.over and (not is_plain or _slows_on(case, before, now) or _is_near_the_limit(case, due_ms, now)):
            return None
        case.rate_before_mps, case.rate_after_mps = before, now
        return _too_fast(case, before, now)
    if not facts.over and case.fired_ms is None and _may_be_above_it(case):
        return None
    if rate <= case.fastest_mps or (slowed and now is None) or _began_to_hold(case, due_ms):
        return case.open_question(JUST_BEGUN)
    if not facts.over and (has_slowed is None or not is_plain or _may_hold_yet(case, after)):
        return None
    case.reasons.append(f"The descent went on at {rate:.1f} m/s: no main held the fall.")
    return Verdict.NO_EFFECT


def _held(case: ParachuteCase, slow: Stretch) -> Verdict | None:
    facts = case.facts
    assert facts.apogee is not None
    assert slow.opened_ms is not None
    rate = slow.rate_mps
    assert rate is not None  # it was found slow by it
    opened_ms = slow.opened_ms
    sure_ms = opened_ms + 3000.0 * slow.opened_sigma_s
    height = case.main_height_m
    as_what = "as its parachute does" if case.by_motor else "as a main does"
    case.reasons.append(f"{case.since(slow)} the descent was held at {rate:.1f} m/s, {as_what}.")
    most = main_sure_mps(facts.pad_density_kgpm3, with_drogue=_drogue_held_before(case))
    if not case.is_surely_under(slow, most):
        return case.open_question("That is too near the most that a main should come down at to tell.")
    if case.has_let_go(slow, case.last_fall_ms(opened_ms)):
        return Verdict.TOO_FAST
    if case.by_motor or (case.alone and height is None):
        return Verdict.CONFIRMED
    fired = case.fired_ms
    if height is None and fired is None and not case.alone and _straight_after_apogee(case, slow):
        case.reasons.append("That was straight after apogee, the drogue's place and not the main's.")
        return Verdict.EARLY
    if fired is not None and sure_ms < fired - EARLY_BEFORE_FIRING_MS:
        before_mps = case.fall.mean_mps(opened_ms + EARLY_BEFORE_FIRING_MS, fired)
        if facts.over and before_mps is not None and case.at_pad_mps(before_mps, fired) > FASTER_BEFORE_RATIO * rate:
            # The rate is that of after the firing: what held before it was another.
            return case.open_question("But from when that rate held the fall was not seen.")
        case.reasons.append(
            f"That was {(fired - opened_ms) / 1000.0:.1f} s before its channel fired: it was already out."
        )
        return Verdict.EARLY
    high = height is not None and slow.opened_altitude_m > (height * (1.0 + PLACE_MARGIN_FRACTION) + PLACE_MARGIN_M)
    if high and slow.opened_sigma_s < 1.0:
        case.reasons.append(
            f"That was {slow.opened_altitude_m:.0f} m up, well above the main's height of {height:.0f} m."
        )
        return Verdict.EARLY
    if fired is None and case.known_not_fired(sure_ms):
        case.reasons.append("The altimeter said after it that this channel had not fired.")
        return Verdict.EARLY
    case.say_fired()
    return Verdict.CONFIRMED


def _began_to_hold(case: ParachuteCase, after_ms: float) -> bool:
    """Looked back on: just above the ground the fall was plainly being slowed, too late to show a rate."""
    last_ms = case.last_fall_ms(after_ms)
    return case.facts.over and last_ms > after_ms and case.fall.is_slowed_by(PLAINLY_SLOWER_FRACTION, last_ms)


def _motor_without_hold(case: ParachuteCase) -> Verdict | None:
    facts = case.facts
    assert facts.apogee is not None
    end_ms = facts.last_sample_ms or facts.apogee.t_ms
    fast = case.fall.fastest_at_pad_mps(facts.apogee.t_ms, end_ms)
    last = facts.stretches[-1] if facts.stretches else None
    needed_s = NEEDED_AFTER_S if facts.over else PLAIN_LIVE_S
    case.choose(last)
    rate = None if last is None else last.rate_mps
    if rate is not None and rate > case.fastest_mps and last is not None and last.steady_s > needed_s:
        case.holds = rate < BARE_AIRFRAME_MPS
        case.reasons.append(f"The rocket came down at {rate:.1f} m/s, too fast for its parachute.")
        return Verdict.TOO_FAST if rate < BARE_AIRFRAME_MPS else Verdict.NO_EFFECT
    fell_past = fast is not None and case.fell_past(fast, BARE_AIRFRAME_MPS, SURELY_BARE_MPS, end_ms)
    touchdown_ms = facts.touchdown.t_ms if facts.over and facts.touchdown is not None else None
    seen = touchdown_ms is not None and case.fall.was_seen(facts.apogee.t_ms, touchdown_ms, NEEDED_AFTER_S)
    if (fell_past or seen) and _began_to_hold(case, facts.apogee.t_ms):
        return case.open_question(JUST_BEGUN)
    if fell_past or seen:
        case.reasons.append("The descent shows no parachute that held.")
        return Verdict.NO_EFFECT
    return case.open_question("Too little of the descent was observed.")


def _too_fast_somewhere(case: ParachuteCase) -> Verdict | None:
    """Where neither the main's height nor its firing was heard: what took over from the drogue is its hold."""
    slower = case.slowed_again()
    if slower is None or slower.rate_mps is None:
        return case.open_question("The main's height was not seen to be reached.")
    case.choose(slower)
    case.holds = True
    case.say_fired()
    return _too_fast(case, (case.before.rate_mps if case.before else None) or 0.0, slower.rate_mps)


def _too_fast(case: ParachuteCase, before_mps: float, now_mps: float) -> Verdict:
    case.reasons.append(
        f"The descent slowed from {before_mps:.1f} only to {now_mps:.1f} m/s; a main should hold it at no more than "
        f"{case.fastest_mps:.1f} m/s."
    )
    return Verdict.TOO_FAST


def _needed_live_s(case: ParachuteCase, due_ms: float, before_mps: float | None) -> float:
    """How long must have been seen, live, for a verdict against it: half of a short way down must do."""
    at = case.fall.at(due_ms)
    if at is None or before_mps is None or before_mps <= 0.0:
        return PLAIN_LIVE_S
    return min(PLAIN_LIVE_S, max(NEEDED_AFTER_S, 0.5 * at.altitude_m / before_mps))


def _slows_on(case: ParachuteCase, before_mps: float, mean_mps: float) -> bool:
    """It surely falls at less than the mean since the main was due, or it may still be on the way to a main's rate."""
    newest, hold = case.facts.track[-1], case.stretch
    if newest.altitude_m < GROUND_NEAR_M:
        return False
    if hold is not None and not hold.is_known and before_mps > DROGUE_FASTEST_MPS:
        return True  # out of a dive, all of it is later
    if hold is None and -newest.velocity_mps < STILL_SLOWS_FRACTION * case.fastest_mps:
        return True
    lately_mps = case.fall.mean_mps(newest.t_ms - LATELY_MS, newest.t_ms)
    if lately_mps is not None and lately_mps >= SLOWS_ON_FRACTION * mean_mps:
        return False
    return newest.velocity_sigma_mps - newest.velocity_mps < CHANGED_FRACTION * mean_mps


def _has_slowed(case: ParachuteCase, due_ms: float, before_mps: float, now_mps: float) -> bool | None:
    """The mean since a while after the main was due is less than before; None, live, while that is not decided.

    Gusts carry a mean near the edge to and fro: live it stays as it was found until it plainly is otherwise.
    """
    slowed = now_mps < CHANGED_FRACTION * before_mps
    if case.facts.over:
        return slowed
    start_ms = due_ms + 1000.0 * NEEDED_AFTER_S
    first_ms = max(start_ms + LEAST_MEAN_MS, due_ms + 1000.0 * _needed_live_s(case, due_ms, before_mps))
    looks = int((case.fall.clear_of_ground_ms(due_ms) - first_ms) / LOOK_MS) + 1
    found: bool | None = None
    was_looked_at = False
    for look in range(looks):
        mean_mps = case.fall.mean_mps(start_ms, first_ms + look * LOOK_MS)
        if mean_mps is None:
            continue
        was_looked_at = True
        past_the_edge = mean_mps / before_mps - CHANGED_FRACTION
        if abs(past_the_edge) > EDGE_FRACTION or (found is None and look >= NEAR_THE_EDGE_LOOKS):
            found = past_the_edge < 0.0
    is_open = was_looked_at and case.facts.track[-1].altitude_m > GROUND_NEAR_M
    return slowed if found is None and not is_open else found


def _is_near_the_limit(case: ParachuteCase, due_ms: float, mean_mps: float) -> bool:
    """What fell at that mean since the main was due may be within the limit, once the rate of its hold is known."""
    if case.stretch is not None and case.stretch.is_known:
        return False
    seen_s = (case.facts.track[-1].t_ms - due_ms) / 1000.0 - NEEDED_AFTER_S
    return mean_mps / (1.0 + PLAINLY_OVER_FRACTION) - NEAR_LIMIT_M / max(seen_s, STEADY_S) <= case.fastest_mps


def _may_hold_yet(case: ParachuteCase, hold: Stretch | None) -> bool:
    """The rate of the hold is not known yet, or what it falls at now surely is a main's."""
    newest = case.facts.track[-1]
    if newest.altitude_m < GROUND_NEAR_M:
        return False
    is_young = hold is not None and hold.opened_ms is not None and not hold.is_known
    return is_young or newest.velocity_sigma_mps - newest.velocity_mps <= case.fastest_mps


def _still_slows(case: ParachuteCase, before: float | None, now: float | None, newest: Stretch | None) -> bool:
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


def _hold_since(case: ParachuteCase, due_ms: float) -> Stretch | None:
    """The newest hold that began after the main was due, at a rate that is known or promised."""
    since = [s for s in case.facts.stretches if _is_since(case, s, due_ms) and s.rate_mps is not None]
    if len(since) > 1 and _opens_into(case, since[-2], since[-1], due_ms):
        return since[-2].with_its_rest(since[-1])
    return since[-1] if since else None


def _opens_into(case: ParachuteCase, first: Stretch, slow: Stretch, due_ms: float) -> bool:
    """The first moments of the main's hold were taken for one of their own, at a rate that never was known.

    Nothing but a silence, if anything, was between the two.
    """
    if not _is_since(case, first, due_ms) or first.steady_s >= KNOWN_S:
        return False
    return slow.start_ms <= first.end_ms or not case.fall.was_seen(first.end_ms, slow.start_ms, BROKE_OFF_S)


def _is_since(case: ParachuteCase, stretch: Stretch, due_ms: float) -> bool:
    return stretch.opened_ms is not None and stretch.opened_ms > due_ms - OPENED_MARGIN_MS


def _drogue_held_before(case: ParachuteCase) -> bool:
    before = case.before
    if before is None or before.opened_ms is None or before.rate_mps is None:
        return False
    return before.is_steady and before.rate_mps <= DROGUE_FASTEST_MPS


def _may_be_above_it(case: ParachuteCase) -> bool:
    """Live: the altimeter, by its own reckoning, may not have come down to the main's height yet."""
    height = case.main_height_m
    lowest_m = None if height is None else height * (1.0 - PLACE_MARGIN_FRACTION) - PLACE_MARGIN_M
    return lowest_m is not None and case.facts.track[-1].altitude_m > lowest_m


def _straight_after_apogee(case: ParachuteCase, stretch: Stretch) -> bool:
    apogee = case.facts.apogee
    return (
        apogee is not None
        and stretch.opened_ms is not None
        and apogee.height_is_known
        and stretch.opened_ms + 1000.0 * hypot(stretch.opened_sigma_s, apogee.sigma_s)
        < apogee.t_ms + STRAIGHT_AFTER_APOGEE_MS
        and stretch.opened_altitude_m > STRAIGHT_AFTER_APOGEE_SHARE * apogee.altitude_m
    )
