"""What the plan says of the way down: wind, time in the air, drift, rates, and how hard it lands. Pure."""

from station import rules
from station.both_units import compass_point, energy, height, rate, speed, width
from station.descent_forecast import Descent, WayDown
from station.preflight.figures import Preflight
from station.preflight.finding import Finding

_BEGINNING = {
    WayDown.DROGUE_THEN_MAIN: "Under the drogue, then the main:",
    WayDown.ONE_PARACHUTE: "Under its parachute:",
    WayDown.MAIN_AT_APOGEE: "If the main came out at apogee:",
}


def descent_findings(ahead: Preflight) -> list[Finding]:
    """In the order of the flight."""
    found = [_wind(ahead), _main_height(ahead)]
    found += [_descent(ahead, down) for down in ahead.descents]
    found += [_rates(ahead), _canopies(ahead), _landing(ahead)]
    return [finding for finding in found if finding is not None]


def _wind(ahead: Preflight) -> Finding | None:
    wind = ahead.plan.wind_mps
    if wind is None:
        return None
    over = wind > rules.WIND_LIMIT_MPS
    text = f"The wind of {speed(wind)} is over the limit of 20 mph." if over else f"Wind {speed(wind)}, under 20 mph."
    return Finding("wind", text, stands_out=over, rules=(rules.WIND,))


def _main_height(ahead: Preflight) -> Finding | None:
    plan = ahead.plan
    if plan.main_height_m is None:
        return None
    text = f"The main is set for {height(plan.main_height_m)}"
    if ahead.apogee_m is not None and plan.main_height_m >= ahead.apogee_m:
        text += f", which is not below the apogee of {height(ahead.apogee_m)}: it would come out at the top."
        return Finding("main_height", text, stands_out=True, rules=(rules.MAIN_HEIGHT,))
    if plan.drogue_rate_mps is not None:
        left_s = plan.main_height_m / plan.drogue_rate_mps
        text += f"; were it to stay in, the ground would come {left_s:.1f} s later"
    return Finding("main_height", text + ".", rules=(rules.MAIN_HEIGHT,))


def _descent(ahead: Preflight, down: Descent) -> Finding:
    plan = ahead.plan
    text = f"{_BEGINNING[down.way]} {down.seconds:.0f} s from apogee to the ground"
    if down.drift_m is None or plan.wind_mps is None:
        return Finding("descent", text + ".")
    text += f", and a drift of {height(round(down.drift_m))}"
    if plan.wind_from_deg is not None:
        text += f" to the {compass_point(plan.wind_from_deg + 180.0)}"
    text += f" in a steady wind of {speed(plan.wind_mps)}."
    outside = False
    if plan.field_size_m is not None:
        half_m = 0.5 * plan.field_size_m
        outside = down.drift_m > half_m
        most = speed(half_m / down.seconds)
        text += f" From the middle of the field that is {'past its edge' if outside else 'inside'}; it stays inside "
        text += f"in up to {most}."
    return Finding("drift", text, stands_out=outside)


def _rates(ahead: Preflight) -> Finding | None:
    plan = ahead.plan
    fast = []
    if plan.drogue_rate_mps is not None and plan.drogue_rate_mps > rules.DROGUE_BAND_MPS[1]:
        fast.append(f"{rate(plan.drogue_rate_mps)} under the drogue")
    if plan.main_rate_mps is not None and plan.main_rate_mps > rules.MAIN_BAND_MPS[1]:
        fast.append(f"{rate(plan.main_rate_mps)} under the main")
    if not fast:
        return None
    text = f"{' and '.join(fast)}: faster than usual."
    return Finding("rates", text[0].upper() + text[1:], stands_out=True, rules=(rules.DESCENT_RATES,))


def _canopies(ahead: Preflight) -> Finding | None:
    plan = ahead.plan
    odd = []
    for name, diameter, mps, drag in (
        ("drogue", plan.drogue_diameter_m, plan.drogue_rate_mps, ahead.drogue_drag_coefficient),
        ("main", plan.main_diameter_m, plan.main_rate_mps, ahead.main_drag_coefficient),
    ):
        lowest, highest = rules.CANOPY_DRAG_BAND
        if diameter is not None and mps is not None and drag is not None and not lowest <= drag <= highest:
            size = "bigger" if drag < lowest else "smaller"
            odd.append(f"a {name} of {width(diameter)} is {size} than {rate(mps)} would want")
    if not odd:
        return None
    text = f"Mass, rates and canopies disagree: {' and '.join(odd)}."
    return Finding("canopies", text, stands_out=True, rules=(rules.CANOPY_DRAG,))


def _landing(ahead: Preflight) -> Finding | None:
    joules, plan = ahead.landing_energy_j, ahead.plan
    if joules is None or plan.main_rate_mps is None:
        return None
    hard = joules > rules.LANDING_ENERGY_J
    counted = "" if plan.propellant_mass_kg is not None else ", the propellant still counted"
    text = f"At {rate(plan.main_rate_mps)} it lands with {energy(joules)}, all parts together{counted}"
    return Finding(
        "landing_energy", text + (": hard." if hard else "."), stands_out=hard, rules=(rules.LANDING_ENERGY,)
    )
