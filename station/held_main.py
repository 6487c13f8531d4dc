"""Was it the main that held, at its place? The verdict on a hold at a rate that only a main comes down at."""

from math import hypot

from station.deployment_facts import may_be_alone
from station.flight_state import Verdict
from station.late_opening import UNSEEN_S
from station.parachute_case import ParachuteCase
from station.parachute_rates import DROGUE_FASTEST_MPS, main_sure_mps
from station.stretch import Stretch

EARLY_BEFORE_FIRING_MS = 1500.0
FASTER_BEFORE_RATIO = 1.4
PLACE_MARGIN_M = 25.0
PLACE_MARGIN_FRACTION = 0.12
# A main opens low down: this soon after apogee, this near its height, it has come out with or for the drogue.
STRAIGHT_AFTER_APOGEE_MS = 5000.0
STRAIGHT_AFTER_APOGEE_SHARE = 0.85


def judge_held_main(case: ParachuteCase, slow: Stretch) -> Verdict | None:
    """The verdict on it; live, None until the evidence is in."""
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
        if may_be_alone(facts):
            if facts.roles_may_come:
                return None
            return case.open_question(
                "That was straight after apogee; whether a drogue should come first was not heard."
            )
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
    surely_up_m = _surely_up_m(case, slow)
    if height is not None and surely_up_m > height * (1.0 + PLACE_MARGIN_FRACTION) + PLACE_MARGIN_M:
        case.reasons.append(f"That was {surely_up_m:.0f} m up, well above the main's height of {height:.0f} m.")
        return Verdict.EARLY
    if fired is None and case.known_not_fired(sure_ms):
        case.reasons.append("The altimeter said after it that this channel had not fired.")
        return Verdict.EARLY
    case.say_fired()
    return Verdict.CONFIRMED


def _surely_up_m(case: ParachuteCase, slow: Stretch) -> float:
    """How high it began to hold; what a silence hid, no lower than where it was seen to hold after it."""
    if slow.opened_sigma_s <= UNSEEN_S:
        return slow.opened_altitude_m
    seen = case.fall.at(slow.start_ms)
    return slow.opened_altitude_m if seen is None else min(slow.opened_altitude_m, seen.altitude_m)


def _drogue_held_before(case: ParachuteCase) -> bool:
    before = case.before
    if before is None or before.opened_ms is None or before.rate_mps is None:
        return False
    return before.is_steady and before.rate_mps <= DROGUE_FASTEST_MPS


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
