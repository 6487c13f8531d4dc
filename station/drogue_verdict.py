"""Did the drogue hold the fall from apogee to the main's height? What the descent and the altimeter's report show."""

from station.atmosphere import at_pad_mps
from station.deployment_facts import report_of
from station.flight_state import Verdict
from station.parachute_case import (
    JUST_BEGUN,
    NEEDED_AFTER_S,
    PLAIN_LIVE_S,
    PLAINLY_SLOWER_FRACTION,
    YOUNG_S,
    ParachuteCase,
)
from station.parachute_rates import BARE_AIRFRAME_MPS, CHANGED_FRACTION, DROGUE_SURE_MPS, SURELY_BARE_MPS
from station.records import Role
from station.seen_fall import SETTLED_S
from station.stretch import Stretch, plainly_over_mps

BOTH_AT_ONCE_MS = 2500.0
FELL_ON_FRACTION = 1.15
# A rate is not believed while it falls so much faster than a drogue is let: more than a gust makes.
OVER_IT_NOW = 1.05
# ... and what has settled at a tangled one's rate stays that until it is so much faster than a bare airframe may fall.
STILL_NOT_BARE = 1.05
# A drogue may be meant to come some seconds after apogee: in flight nothing is said of its not firing before.
LATEST_FIRING_MS = 4500.0
# ... and after its firing it opens within this, if at all.
LATEST_OPENING_MS = 4000.0
# Held for so long before the main's place: what slows the fall there is no main's.
HELD_FOR_MS = 800.0
# What fell like a bare airframe so long before a hold was not held by what only was slow to fill.
LONG_SINCE_MS = 2000.0


def judge_drogue(case: ParachuteCase) -> Verdict | None:
    """The verdict on the drogue of a flight whose apogee is known; live, None until the evidence is in."""
    facts = case.facts
    assert facts.apogee is not None
    start_ms = facts.apogee.t_ms if case.fired_ms is None else max(facts.apogee.t_ms, case.fired_ms)
    slower = case.slowed_again()
    due_ms = case.main_due_ms()
    if due_ms is None and slower is not None:
        due_ms = slower.opened_ms
    if due_ms is not None and due_ms < start_ms + BOTH_AT_ONCE_MS:
        due_ms = None  # both charges at once: all of the descent is after the main's
    main_ms = _main_took_over_ms(case)
    if main_ms is not None and (due_ms is None or main_ms < due_ms):
        due_ms = main_ms
    held = case.stretch_after(facts.apogee.t_ms, due_ms)
    case.choose(held)
    rate = None if held is None else held.rate_mps
    if held is not None and (
        _fell_on(case, held, due_ms)
        or _came_too_late(case, held, facts.apogee.t_ms)
        or _may_be_the_mains(case, held, facts.apogee.t_ms)
    ):
        held, rate = None, None
    if (
        held is not None
        and held.opened_ms is not None
        and rate is not None
        and case.keeps_under(held, case.fastest_mps)
    ):
        # What begins after a main has been seen is no drogue's.
        slow = case.first_slow()
        case.holds = case.alone or slow is None or slow.start_ms > held.start_ms
        if not case.is_known(held) or not case.has_shown_itself(held):
            return case.open_question(JUST_BEGUN)
        if case.falls_now_mps(held) > OVER_IT_NOW * case.fastest_mps:
            return None
        if not case.is_surely_under(held, DROGUE_SURE_MPS):
            return case.open_question(
                f"The descent was held at {rate:.0f} m/s, too near the {case.fastest_mps:.0f} m/s that a drogue "
                "should keep it under to tell."
            )
        if not case.alone and case.may_be_at_a_mains_rate(held):
            return None
        case.holds = True  # known so well it is the drogue's, whatever came before
        if case.known_not_fired(held.opened_ms):
            case.reasons.append(f"The descent was held at {rate:.1f} m/s although the channel had not fired.")
            return Verdict.EARLY
        case.reasons.append(f"{case.since(held)} the descent was held at {rate:.1f} m/s, as a drogue does.")
        if case.is_at_a_mains_rate(held) and not case.alone:
            case.reasons[-1] = (
                f"{case.since(held)} a parachute held the descent at {rate:.1f} m/s. That is a "
                "main's rate, so the main is out too and what the drogue itself carries cannot be seen."
            )
            case.say_fired()
            case.holds = False
            case.stretch = case.before = None
            return case.open_question("So the drogue was not observed.")
        if _one_fired_in_climb(case):
            return case.open_question("A charge fired in the climb; which one it was, was not heard.")
        if case.has_let_go(held, case.last_fall_ms(held.opened_ms) if due_ms is None else due_ms):
            return Verdict.TOO_FAST
        case.say_fired()
        return Verdict.CONFIRMED
    return _without_hold(case, held, rate, start_ms, due_ms)


def _without_hold(
    case: ParachuteCase, held: Stretch | None, rate: float | None, start_ms: float, due_ms: float | None
) -> Verdict | None:
    facts = case.facts
    end_ms = due_ms if due_ms is not None else (facts.last_sample_ms or start_ms)
    if facts.touchdown is not None:
        end_ms = min(end_ms, facts.touchdown.t_ms)
    # Live, what falls on past the main's place with no main in sight still shows what the drogue does not hold.
    main_holds = case.first_slow() is not None
    bare_ms = end_ms if facts.over or main_holds else max(end_ms, facts.last_sample_ms or end_ms)
    fast, fast_at_pad = case.fall.fastest_mps(start_ms, bare_ms), case.fall.fastest_at_pad_mps(start_ms, bare_ms)
    plainly_mps = max(case.fastest_mps, BARE_AIRFRAME_MPS)
    # What slows it in the end is no drogue where it is the main, or the fall was bare for so long.
    fell_past = (
        fast is not None
        and fast_at_pad is not None
        and (
            fast > SURELY_BARE_MPS
            or (main_holds and fast_at_pad > plainly_mps)
            or case.fell_past(fast_at_pad, case.fastest_mps, plainly_mps, bare_ms)
        )
        and case.fall.was_seen(start_ms, end_ms, NEEDED_AFTER_S)
    )
    if case.fired_ms is None and case.known_not_fired(start_ms + 1500.0):
        if facts.over or fell_past or case.known_not_fired(start_ms + LATEST_FIRING_MS):
            case.reasons.append("The altimeter was heard after apogee and said that this channel had not fired.")
            if fast is not None and fast > case.fastest_mps:
                case.reasons.append(f"The rocket came down at up to {fast:.0f} m/s.")
            return Verdict.NOT_FIRED
        return None
    settled_too_fast_mps = _settled_too_fast_mps(case, start_ms, end_ms)
    if held is not None and held.opened_ms is not None and rate is not None and rate > case.fastest_mps:
        slowed = case.keeps_under(held, BARE_AIRFRAME_MPS)
        # The main may be slowing it down already: what fell like a bare airframe before was not held.
        fast_mps = held.fastest_mps if facts.over else plainly_over_mps(held.fastest_mps, held.steady_s)
        case.holds = slowed and fast_mps <= BARE_AIRFRAME_MPS
        if case.is_known(held) if facts.over else held.steady_s >= PLAIN_LIVE_S:
            case.say_fired()
            case.reasons.append(
                f"The descent was slowed, but only to {rate:.0f} m/s; a drogue should hold it at no more than "
                f"{case.fastest_mps:.0f} m/s."
            )
            return Verdict.TOO_FAST if slowed else Verdict.NO_EFFECT
        if slowed and settled_too_fast_mps is None:
            return case.open_question(JUST_BEGUN)
    if settled_too_fast_mps is not None:
        case.say_fired()
        case.rate_after_mps = settled_too_fast_mps
        case.reasons.append(
            f"The fall settled at {settled_too_fast_mps:.0f} m/s; a drogue should hold it at no more than "
            f"{case.fastest_mps:.0f} m/s."
        )
        return Verdict.TOO_FAST
    if fell_past and held is not None and _held_in_the_end(case, held, fast_at_pad or 0.0):
        return case.open_question(JUST_BEGUN)
    if fell_past:
        case.say_fired()
        case.reasons.append(f"The fall went on to {fast:.0f} m/s: no drogue held it.")
        return Verdict.NO_EFFECT
    return case.open_question("The descent between apogee and the main's height was not observed enough.")


def _held_in_the_end(case: ParachuteCase, held: Stretch, fast_mps: float) -> bool:
    """Looked back on: it came too late to show at what rate it held, but the fall was plainly slower by then.

    Only between its own charge's firing and the main's place, well above the ground: else something else slowed it.
    """
    opened_ms, fired_ms, due_ms = held.opened_ms, case.fired_ms, case.main_due_ms()
    if not case.facts.over or opened_ms is None or fired_ms is None or due_ms is None or held.rate_mps is not None:
        return False
    if not fired_ms < opened_ms < due_ms - HELD_FOR_MS or due_ms > case.last_fall_ms(opened_ms):
        return False
    last = case.fall.at(due_ms)
    if last is None or fast_mps > SURELY_BARE_MPS:
        return False
    now_mps = at_pad_mps(-last.velocity_mps + last.velocity_sigma_mps, last.altitude_m)
    return now_mps < case.fastest_mps and now_mps < CHANGED_FRACTION * fast_mps


def _settled_too_fast_mps(case: ParachuteCase, start_ms: float, end_ms: float) -> float | None:
    """What the fall settled at, if that is over a drogue's limit and under a bare airframe's speed; else None.

    Live it stays so, once it was, until it plainly no longer is: gusts carry what is near an edge to and fro.
    """
    if case.facts.over:
        settled_mps = case.fall.settled_mps(start_ms, end_ms)
        return settled_mps if case.fastest_mps < (settled_mps or 0.0) < BARE_AIRFRAME_MPS else None
    found: float | None = None
    for speed_mps in case.fall.settled_so_far_mps(start_ms, end_ms):
        over_mps = case.fastest_mps if found else OVER_IT_NOW * case.fastest_mps
        is_so = over_mps < speed_mps < (STILL_NOT_BARE if found else 1.0) * BARE_AIRFRAME_MPS
        found = speed_mps if is_so else None
    return found


def _came_too_late(case: ParachuteCase, held: Stretch, apogee_ms: float) -> bool:
    """It has only begun, long after the firing, and hardly slowed a fall that had settled at what is too fast."""
    opened_ms, fired_ms = held.opened_ms, case.fired_ms
    if opened_ms is None or fired_ms is None or opened_ms - fired_ms < LATEST_OPENING_MS or held.steady_s > YOUNG_S:
        return False
    settled_mps = case.fall.settled_mps(max(apogee_ms, fired_ms), opened_ms)
    if settled_mps is None or settled_mps <= case.fastest_mps:
        return False
    return held.rate_mps is None or held.rate_mps > PLAINLY_SLOWER_FRACTION * settled_mps


def _may_be_the_mains(case: ParachuteCase, held: Stretch, apogee_ms: float) -> bool:
    """Live, before its rate is known: it began later than a drogue is meant to, in a fall settled at what is too fast.

    What was said of that fall is not taken back for it.
    """
    opened_ms, fired_ms = held.opened_ms, case.fired_ms
    if case.facts.over or case.alone or opened_ms is None or held.is_known:
        return False
    latest_ms = (apogee_ms + LATEST_FIRING_MS if fired_ms is None else fired_ms) + LATEST_OPENING_MS
    return opened_ms > latest_ms and _settled_too_fast_mps(case, max(apogee_ms, fired_ms or 0.0), opened_ms) is not None


def _fell_on(case: ParachuteCase, held: Stretch, due_ms: float | None) -> bool:
    """What looked like a hold did not slow the fall: a quarter of it was faster than a drogue allows.

    Live, while it may be held all along by a tangled one, only when it plainly fell like a bare airframe.
    """
    if held.opened_ms is None:
        return False
    has_let_go = any(later.opened_ms is None for later in case.facts.stretches if later.start_ms > held.start_ms)
    # The first moments of a bare fall, which speeds up all the while, look like a hold.
    if _soon_fell_freely(case, held, due_ms) and not case.held_for_long(held):
        return True
    if case.facts.over and has_let_go and held.surely_under_mps > case.fastest_mps:
        return True
    is_settled = case.facts.over or has_let_go
    if is_settled and not case.keeps_under(held, case.fastest_mps):
        return False
    end_ms = held.end_ms if due_ms is None else min(held.end_ms, due_ms)
    usual_most_mps = case.fall.upper_quartile_mps(held.opened_ms + 1000.0 * SETTLED_S, end_ms)
    most_mps = FELL_ON_FRACTION * case.fastest_mps if is_settled else max(BARE_AIRFRAME_MPS, case.fastest_mps)
    return usual_most_mps is not None and usual_most_mps > most_mps


def _soon_fell_freely(case: ParachuteCase, held: Stretch, due_ms: float | None) -> bool:
    """Nothing held the fall any more straight after it, and not because a main that came next let go."""
    after = next((later for later in case.facts.stretches if later.start_ms > held.start_ms), None)
    return after is not None and after.opened_ms is None and (due_ms is None or after.start_ms < due_ms)


def _main_took_over_ms(case: ParachuteCase) -> float | None:
    """When a main took hold after another parachute, or after none for long: what is before that is the drogue's."""
    slow, apogee = case.first_slow(), case.facts.apogee
    first = next((stretch for stretch in case.facts.stretches if stretch.opened_ms is not None), None)
    if first is not None and apogee is not None and not case.alone and _is_the_mains(case, first, apogee.t_ms):
        return first.opened_ms
    for stretch in case.facts.stretches:
        if stretch is slow:
            return None
        if slow is not None and stretch.opened_ms is not None and stretch.is_steady:
            return slow.start_ms
    return None


def _is_the_mains(case: ParachuteCase, first: Stretch, apogee_ms: float) -> bool:
    """The first hold came so late that no drogue's charge is meant to, and its own was not heard to have fired then."""
    opened_ms = first.opened_ms or first.start_ms
    if case.fired_ms is not None and opened_ms - case.fired_ms < LATEST_OPENING_MS:
        return False
    fast_mps = case.fall.fastest_at_pad_mps(apogee_ms, opened_ms) or 0.0
    if case.keeps_under(first, case.main_fastest_mps):
        return fast_mps > BARE_AIRFRAME_MPS or case.fall.settled_mps(apogee_ms, opened_ms) is not None
    long_before_mps = case.fall.fastest_at_pad_mps(apogee_ms, opened_ms - LONG_SINCE_MS) or 0.0
    if fast_mps <= SURELY_BARE_MPS and long_before_mps <= BARE_AIRFRAME_MPS:
        return False
    main = report_of(case.facts.channels, Role.MAIN)
    fired = main is not None and main.fired_ms is not None and main.fired_ms < opened_ms
    # Live, before its rate is known, it may be either's.
    return fired or not (case.facts.over or first.is_known)


def _one_fired_in_climb(case: ParachuteCase) -> bool:
    """Without the `ID` line nobody knows which channel is whose; one that fired in the climb is no good sign."""
    if case.report is not None:
        return False
    return any(case.fired_before_apogee(fired_ms) for fired_ms in case.facts.fired_without_role_ms)
