"""What the plan says of the climb: height against the ceiling, speed, and the delay. Pure."""

from math import sqrt

from station import rules
from station.atmosphere import G0_MPS2
from station.both_units import height, rate, speed
from station.plan import Recovery
from station.preflight.figures import DRAG_RISES_AT_MACH, Preflight
from station.preflight.finding import Finding


def climb_findings(ahead: Preflight) -> list[Finding]:
    """In the order of the flight: speed, height, delay."""
    found = (_own_forecast(ahead), _prediction_agrees(ahead), _mach(ahead), _ceiling(ahead), _delay(ahead))
    return [finding for finding in found if finding is not None]


def _own_forecast(ahead: Preflight) -> Finding | None:
    ascent, predicted = ahead.ascent, ahead.plan.predicted_apogee_m
    if ascent is None:
        return None
    text = (
        f"Our own forecast, with the plan's drag coefficient and a steady thrust: {speed(ascent.burnout_mps)} at most, "
        f"apogee at {height(ascent.apogee_m)}, {ascent.apogee_s:.1f} s after liftoff."
    )
    apart = predicted is not None and abs(ascent.apogee_m / predicted - 1.0) > 2.0 * rules.PREDICTION_SHARE
    if apart and predicted is not None:
        text += f" The plan's prediction is {height(predicted)}: look at masses, drag coefficient and units."
    return Finding("forecast", text, stands_out=apart, rules=(rules.PREDICTIONS,))


def _prediction_agrees(ahead: Preflight) -> Finding | None:
    """Nothing coasts higher than without drag."""
    plan, burn = ahead.plan, ahead.burn_time_s
    if plan.predicted_apogee_m is None or plan.predicted_speed_mps is None or burn is None:
        return None
    highest_m = plan.predicted_speed_mps * burn + plan.predicted_speed_mps**2 / (2.0 * G0_MPS2)
    if plan.predicted_apogee_m <= highest_m:
        return None
    return Finding(
        "prediction",
        f"The prediction disagrees with itself: {speed(plan.predicted_speed_mps)} carry a rocket at most to "
        f"{height(highest_m)}, even without air; its apogee is {height(plan.predicted_apogee_m)}: look at the units.",
        stands_out=True,
    )


def _mach(ahead: Preflight) -> Finding | None:
    if ahead.top_mach is None or ahead.top_mach < DRAG_RISES_AT_MACH:
        return None
    return Finding(
        "mach",
        f"It comes to Mach {ahead.top_mach:.2f}. Near the speed of sound pressure misleads an altimeter: set it as its "
        "maker says for such flights. Drag rises there too, so that a forecast with steady drag is too high.",
        stands_out=True,
        rules=(rules.MACH,),
    )


def _ceiling(ahead: Preflight) -> Finding | None:
    ceiling, apogee = ahead.plan.ceiling_m, ahead.apogee_m
    if ceiling is None or apogee is None:
        return None
    if apogee > ceiling:
        text, close = f"Apogee {height(apogee)} is above the field's ceiling of {height(ceiling)}.", True
    else:
        close = apogee * (1.0 + rules.PREDICTION_SHARE) > ceiling
        text = f"Apogee {height(apogee)} is below the field's ceiling of {height(ceiling)}"
        text += ", but closer than a prediction is good for." if close else "."
    return Finding("ceiling", text, stands_out=close, rules=(rules.PREDICTIONS,) if close else ())


def _delay(ahead: Preflight) -> Finding | None:
    delay, plan = ahead.delay, ahead.plan
    if delay is None:
        return _too_long_at_any_rate(ahead)
    text = f"From burnout to apogee it coasts {delay.wanted_s:.1f} s (from {delay.reckoned_from}): the delay wanted."
    if plan.flown_delay_s is not None:
        return _flown_delay(ahead, text, plan.flown_delay_s, plan.flown_delay_s - delay.wanted_s)
    if plan.stock_delay_s is None:
        return Finding("delay", text)
    spare_s = plan.stock_delay_s - delay.wanted_s
    if spare_s >= 0.0:
        text += f" The stock delay of {plan.stock_delay_s:g} s is {spare_s:.1f} s longer."
        return Finding("delay", text, stands_out=_too_fast(spare_s), rules=(rules.NEVER_LONGER, rules.ZIPPER))
    text += f" The stock delay of {plan.stock_delay_s:g} s is {-spare_s:.1f} s too short: another delay or motor."
    return Finding("delay", text, stands_out=_too_fast(spare_s), rules=(rules.NEVER_LONGER, rules.ZIPPER))


def _flown_delay(ahead: Preflight, text: str, flown_s: float, late_s: float) -> Finding:
    side = "after" if late_s >= 0.0 else "before"
    backup = " as a backup of the altimeter" if ahead.plan.recovery is Recovery.DUAL else ""
    tolerance_s = max(rules.DELAY_TOLERANCE_S, rules.DELAY_TOLERANCE_SHARE * flown_s)
    text += (
        f" The delay flown, {flown_s:g} s, fires{backup} {abs(late_s):.1f} s {side} apogee, at about "
        f"{rate(G0_MPS2 * abs(late_s))}; it may be off by {tolerance_s:.1f} s."
    )
    fast = _too_fast(late_s)
    if fast:
        text += " That is fast for a parachute to come out."
    return Finding("delay", text, stands_out=fast, rules=(rules.ZIPPER, rules.DELAY_TOLERANCE))


def _too_long_at_any_rate(ahead: Preflight) -> Finding | None:
    """Without the burn time: a delay that would be too long even if the motor burned for no time at all.

    The coast is shorter than the time to apogee, and than a fall without air from its height, sqrt(2 h / g).
    """
    plan = ahead.plan
    name, delay_s = ("delay flown", plan.flown_delay_s)
    if delay_s is None:
        name, delay_s = ("stock delay", plan.stock_delay_s)
    if delay_s is None:
        return None
    longest = []
    if plan.predicted_apogee_s is not None:
        longest.append((plan.predicted_apogee_s, f"apogee comes {plan.predicted_apogee_s:g} s after liftoff"))
    if ahead.apogee_m is not None:
        most_s = sqrt(2.0 * ahead.apogee_m / G0_MPS2)
        longest.append((most_s, f"to {height(ahead.apogee_m)} no rocket coasts for more than {most_s:.1f} s"))
    if not longest:
        return None
    most_s, why = min(longest)
    late_s = delay_s - most_s
    if not (late_s > 0.0 and _too_fast(late_s)):
        return None
    return Finding(
        "delay",
        f"The {name}, {delay_s:g} s, is too long: {why}, so it fires at least {late_s:.1f} s after apogee, at about "
        f"{rate(G0_MPS2 * late_s)} without drag. How long it should be does not follow without burn_time in [motor].",
        stands_out=True,
        rules=(rules.NEVER_LONGER, rules.ZIPPER),
    )


def _too_fast(late_s: float) -> bool:
    """Near apogee speed grows by g each second, to either side."""
    return G0_MPS2 * abs(late_s) >= rules.ZIPPER_MPS
