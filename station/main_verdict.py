"""Did the main hold the fall below its height, or the one parachute that there is? The descent and the report tell."""

from station.flight_state import Verdict
from station.held_main import judge_held_main
from station.late_opening import UNSEEN_S
from station.parachute_case import (
    JUST_BEGUN,
    LANDS_MS,
    NEEDED_AFTER_S,
    PLAIN_LIVE_S,
    PLAINLY_SLOWER_FRACTION,
    ParachuteCase,
)
from station.parachute_rates import BARE_AIRFRAME_MPS, CHANGED_FRACTION, SURELY_BARE_MPS
from station.slowing_main import (
    has_slowed,
    is_near_the_limit,
    may_be_above_it,
    may_hold_yet,
    needed_live_s,
    slows_on,
    still_slows,
)
from station.stretch import KNOWN_S, Stretch

REPORT_MARGIN_MS = 600.0
OPENED_MARGIN_MS = 300.0
# Seen for so long between the two, what goes on after a silence is another hold.
BROKE_OFF_S = 0.5
# What is so far above where it came to rest, before it did, is no bounce.
ABOVE_REST_M = 2.5


def judge_main(case: ParachuteCase) -> Verdict | None:
    """The verdict on the main of a flight whose apogee is known; live, None until the evidence is in."""
    slow = case.first_slow()
    due_ms = case.main_due_ms()
    if slow is not None:
        return _by_its_hold(case, slow, due_ms)
    if due_ms is not None:
        return _without_hold(case, due_ms)
    return _motor_without_hold(case) if case.by_motor else _too_fast_somewhere(case)


def _by_its_hold(case: ParachuteCase, slow: Stretch, due_ms: float | None) -> Verdict | None:
    facts = case.facts
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
    return judge_held_main(case, slow)


def _without_hold(case: ParachuteCase, due_ms: float) -> Verdict | None:
    """It was due, and nothing held the fall as a main does."""
    facts = case.facts
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
    if still_slows(case, before, now, hold):
        return None
    # What lies on the ground shows nothing of what it came down under.
    down_ms = case.fall.clear_of_ground_ms(due_ms)
    if facts.touchdown is not None:
        down_ms = min(down_ms, facts.touchdown.t_ms)
    seen_enough = case.fall.was_seen(due_ms, down_ms, NEEDED_AFTER_S)
    bare_mps = _bare_mps(case, due_ms + 1000.0 * NEEDED_AFTER_S, down_ms) if rate is None and seen_enough else None
    if bare_mps is not None and bare_mps > BARE_AIRFRAME_MPS:
        case.say_fired()
        where = " near the ground" if facts.over else ""
        case.reasons.append(f"The fall still was at {bare_mps:.0f} m/s{where}: no main held it.")
        return Verdict.NO_EFFECT
    # Live, what only promises a rate yet must be plainly slower.
    slower_fraction = CHANGED_FRACTION if facts.over or (hold and hold.is_steady) else PLAINLY_SLOWER_FRACTION
    slowed = hold is not None and case.keeps_under(hold, slower_fraction * (before or 0.0))
    if slowed and not facts.over:
        case.choose(hold)
        case.holds = True
    if not seen_enough or rate is None:
        return case.open_question("Too little of the descent below the main's height was observed.")
    is_plain = facts.over or case.fall.was_seen(due_ms, down_ms, needed_live_s(case, due_ms, before))
    case.say_fired()
    is_slower = before is not None and has_slowed(case, due_ms, before, now)
    if before is not None and now is not None and is_slower:
        # A hold with its first moments is the same one, from when it began.
        if hold is None or after is None or not _is_since(case, after, due_ms) or after.end_ms == hold.end_ms:
            case.choose(hold)  # None: the change is plain, its moment is not
        case.holds = case.stretch is not None
        if now <= case.fastest_mps:
            return case.open_question("The descent slowed, but from when a parachute held the fall was not seen.")
        if not facts.over and (
            not is_plain or slows_on(case, due_ms, before, now) or is_near_the_limit(case, due_ms, now)
        ):
            return None
        case.rate_before_mps, case.rate_after_mps = before, now
        return _too_fast(case, before, now)
    if not facts.over and case.fired_ms is None and may_be_above_it(case):
        return None
    if rate <= case.fastest_mps or (slowed and now is None) or _began_to_hold(case, due_ms):
        return case.open_question(JUST_BEGUN)
    if not facts.over and (is_slower is None or not is_plain or may_hold_yet(case, after)):
        return None
    case.reasons.append(f"The descent went on at {rate:.1f} m/s: no main held the fall.")
    return Verdict.NO_EFFECT


def _bare_mps(case: ParachuteCase, after_ms: float, down_ms: float) -> float | None:
    """How fast it fell when last seen above the ground; live the most that it did, for that stays so."""
    return case.fall.last_mps(after_ms) if case.facts.over else case.fall.fastest_mps(after_ms, down_ms)


def _began_to_hold(case: ParachuteCase, after_ms: float) -> bool:
    """Looked back on: just above the ground the fall was plainly slowed, too late to show a rate."""
    last_ms = case.last_fall_ms(after_ms)
    if not case.facts.over:
        return False
    if last_ms > after_ms and case.fall.is_slowed_by(PLAINLY_SLOWER_FRACTION, last_ms):
        return True
    # Nearer to the ground than heights are sure of, it is still plain from where it came to rest, and when.
    touchdown = case.facts.touchdown
    if touchdown is None or touchdown.sigma_s > UNSEEN_S:
        return False
    then_ms = touchdown.t_ms - LANDS_MS - 2000.0 * touchdown.sigma_s
    then = case.fall.at(then_ms)
    is_above = then is not None and then.altitude_m > touchdown.altitude_m + ABOVE_REST_M
    return is_above and then_ms > after_ms and case.fall.is_slower_than_lately(PLAINLY_SLOWER_FRACTION, then_ms)


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
