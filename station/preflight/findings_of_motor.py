"""What the motor's figures mean: class and certification, which rules bind, thrust to weight, the rail. Pure."""

from station import rules
from station.both_units import force, height, impulse, mass, rate
from station.preflight.figures import Preflight
from station.preflight.finding import Finding


def motor_findings(ahead: Preflight) -> list[Finding]:
    """In the order of the flight: what flies, and how it leaves the pad."""
    found = (
        _class(ahead),
        _model_limits(ahead),
        _amateur_class(ahead),
        _figures_agree(ahead),
        _thrust_to_weight(ahead),
        _rail(ahead),
    )
    return [finding for finding in found if finding is not None]


def _class(ahead: Preflight) -> Finding | None:
    total = ahead.total_impulse_ns
    if total is None:
        return None
    letter, level = ahead.impulse_class, ahead.certification_level
    if letter is None:
        return Finding(
            "impulse_class",
            f"Total impulse {impulse(total)}: more than class O, where the certification of hobby flyers ends.",
            stands_out=True,
            rules=(rules.IMPULSE_CLASSES, rules.CERTIFICATION),
        )
    if level:
        text = f"Motor of class {letter}, {impulse(total)}: whoever flies it needs certification level {level}."
        return Finding("impulse_class", text, rules=(rules.IMPULSE_CLASSES, rules.CERTIFICATION))
    of_age = letter == "G"
    text = f"Motor of class {letter}, {impulse(total)}: its letter asks for no certification"
    return Finding(
        "impulse_class",
        text + (", but for a user aged 18 or over." if of_age else "."),
        rules=(rules.IMPULSE_CLASSES, rules.CERTIFICATION, *((rules.G_MOTOR_AGE,) if of_age else ())),
    )


def _model_limits(ahead: Preflight) -> Finding | None:
    """A small letter alone does not make a model rocket."""
    plan = ahead.plan
    if ahead.certification_level != 0:
        return None
    over, broken = [], []
    if plan.rocket_mass_kg is not None and plan.rocket_mass_kg > rules.MODEL_MASS_KG:
        over.append(f"a mass of {mass(plan.rocket_mass_kg)}")
        broken.append(rules.MODEL_ROCKET)
    if plan.propellant_mass_kg is not None and plan.propellant_mass_kg > rules.MODEL_PROPELLANT_KG:
        over.append(f"{mass(plan.propellant_mass_kg)} of propellant")
        broken.append(rules.MODEL_ROCKET)
    if ahead.mean_thrust_n is not None and ahead.mean_thrust_n > rules.MODEL_MEAN_THRUST_N:
        over.append(f"a mean thrust of {force(ahead.mean_thrust_n)}")
        broken.append(rules.MODEL_MOTOR)
    if not over:
        return None
    return Finding(
        "model_limits",
        f"With {' and '.join(over)} this is more than a model rocket: the rules of high power hold, "
        "those on certification among them. Ask your organisation which.",
        stands_out=True,
        rules=tuple(dict.fromkeys(broken)),
    )


def _amateur_class(ahead: Preflight) -> Finding | None:
    plan = ahead.plan
    if plan.rocket_mass_kg is None or plan.propellant_mass_kg is None:
        return None
    if plan.rocket_mass_kg <= rules.MODEL_MASS_KG and plan.propellant_mass_kg <= rules.MODEL_PROPELLANT_KG:
        return Finding(
            "amateur_class",
            "By mass and propellant this can be a class 1 rocket in the United States; what it is built of decides "
            "that too.",
            rules=(rules.AMATEUR_CLASS_1,),
        )
    if ahead.total_impulse_ns is not None and ahead.total_impulse_ns > rules.CLASS_2_IMPULSE_NS:
        text = "In the United States this is a class 3 rocket."
    else:
        text = "In the United States this is a class 2 rocket."
    if ahead.apogee_m is not None:
        quarter_m = 0.25 * ahead.apogee_m
        clear = "457 m (1,500 ft)" if quarter_m <= rules.BYSTANDER_DISTANCE_M else height(quarter_m)
        text += f" For this height it keeps {clear} away from people and property that are not part of it."
    return Finding("amateur_class", text, rules=(rules.AMATEUR_CLASS_2,))


def _figures_agree(ahead: Preflight) -> Finding | None:
    plan = ahead.plan
    if plan.total_impulse_ns is None or plan.mean_thrust_n is None or plan.burn_time_s is None:
        return None
    made = plan.mean_thrust_n * plan.burn_time_s
    if abs(made / plan.total_impulse_ns - 1.0) <= rules.MOTOR_FIGURES_SHARE:
        return None
    return Finding(
        "motor_figures",
        f"The motor's figures disagree: mean thrust times burn time is {impulse(made)}, total_impulse says "
        f"{impulse(plan.total_impulse_ns)}. Look at the units, and at the maker's list.",
        stands_out=True,
        rules=(rules.MOTOR_FIGURES,),
    )


def _thrust_to_weight(ahead: Preflight) -> Finding | None:
    ratio = ahead.thrust_to_weight
    if ratio is None:
        return None
    if ratio <= 1.0:
        what = "the motor does not lift the rocket"
    elif ratio < rules.THRUST_TO_WEIGHT_FLOOR:
        what = "too little: it leaves the rail slowly and may turn over. A stronger motor, or a lighter rocket"
    elif ratio < rules.THRUST_TO_WEIGHT_WANTED:
        what = "over the floor of 3 to 1, under the usual 5 to 1: only in calm air, and from a long rail"
    else:
        what = "at or over the usual 5 to 1"
    return Finding(
        "thrust_to_weight",
        f"Mean thrust is {ratio:.1f} times the weight: {what}.",
        stands_out=ratio < rules.THRUST_TO_WEIGHT_WANTED,
        rules=(rules.THRUST_TO_WEIGHT,),
    )


def _rail(ahead: Preflight) -> Finding | None:
    if ahead.rail_exit_mps is None:
        return None
    slow = ahead.rail_exit_mps < rules.RAIL_EXIT_MPS
    text = f"It leaves the rail at about {rate(ahead.rail_exit_mps)}, reckoned with the mean thrust"
    return Finding(
        "rail_exit",
        text + (": slow for the fins to hold it. A longer rail or a stronger motor." if slow else "."),
        stands_out=slow,
        rules=(rules.RAIL_EXIT,),
    )
