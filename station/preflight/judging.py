"""All that follows from a plan, in the order in which a flight happens, and what it leaves open. Pure."""

from station.preflight.figures import Preflight
from station.preflight.finding import Finding
from station.preflight.findings_of_climb import climb_findings
from station.preflight.findings_of_descent import descent_findings
from station.preflight.findings_of_motor import motor_findings


def judge_plan(ahead: Preflight) -> tuple[Finding, ...]:
    """What follows from the plan, and what of it stands out."""
    return (*motor_findings(ahead), *climb_findings(ahead), *descent_findings(ahead))


def left_open(ahead: Preflight) -> tuple[str, ...]:
    """What cannot be judged before the flight, each with what the plan would have to say."""
    plan = ahead.plan
    open_questions = (
        (ahead.impulse_class is None and ahead.total_impulse_ns is None, "impulse class: total_impulse in [motor]"),
        (ahead.thrust_to_weight is None, "thrust to weight: mass in [rocket] and mean_thrust in [motor]"),
        (
            None in (plan.rocket_mass_kg, plan.rail_length_m, ahead.mean_thrust_n),
            "speed at the end of the rail: rail_length and mass in [rocket], and mean_thrust in [motor]",
        ),
        (ahead.apogee_m is None, "height: apogee in [prediction], or drag_coefficient, mass and diameter in [rocket] "
                                 "and the motor's figures"),
        (ahead.delay is None, "wanted delay: burn_time in [motor] and apogee_time in [prediction]"),
        (plan.recovery is None, "parachutes: deployment in [recovery]"),
        (not ahead.descents, "time in the air: main_rate in [recovery] and apogee in [prediction]"),
        (plan.wind_mps is None, "drift: wind in [field]"),
        (plan.field_size_m is None, "whether it lands on the field: size in [field]"),
        (plan.ceiling_m is None, "whether it stays below the field's ceiling: ceiling in [field]"),
        (ahead.landing_energy_j is None, "how hard it lands: mass in [rocket] and main_rate in [recovery]"),
    )  # fmt: skip
    return tuple(what for is_open, what in open_questions if is_open)
