"""All that follows from a plan, in the order in which a flight happens, and what it leaves open. Pure."""

from collections.abc import Iterable

from station.plan import FlightPlan
from station.plan_format import PLAN_FORMAT
from station.preflight.figures import Preflight
from station.preflight.finding import Finding
from station.preflight.findings_of_climb import climb_findings
from station.preflight.findings_of_descent import descent_findings
from station.preflight.findings_of_motor import motor_findings


def judge_plan(ahead: Preflight) -> tuple[Finding, ...]:
    """What follows from the plan, and what of it stands out."""
    return (*motor_findings(ahead), *climb_findings(ahead), *descent_findings(ahead))


def left_open(ahead: Preflight) -> tuple[str, ...]:
    """What cannot be judged before the flight, each with the keys that the plan would have to have."""
    plan = ahead.plan
    thrust = ("mean_thrust_n",) if ahead.mean_thrust_n is None else ()
    rail = (plan.rocket_mass_kg, plan.rail_length_m, ahead.mean_thrust_n)
    open_questions: tuple[tuple[bool, str, tuple[str, ...]], ...] = (
        (ahead.total_impulse_ns is None, "class and certification", ("total_impulse_ns",)),
        (ahead.thrust_to_weight is None, "thrust to weight", ("rocket_mass_kg", *thrust)),
        (None in rail, "speed at the end of the rail", ("rocket_mass_kg", "rail_length_m", *thrust)),
        (ahead.apogee_m is None, "height", ("predicted_apogee_m",)),
        (ahead.delay is None, "the delay wanted", ("burn_time_s", "predicted_apogee_s")),
        (plan.recovery is None, "which parachutes", ("recovery",)),
        (not ahead.descents, "time in the air", ("main_rate_mps", "predicted_apogee_m")),
        (plan.wind_mps is None, "drift", ("wind_mps",)),
        (plan.field_size_m is None, "whether it comes down on the field", ("field_size_m",)),
        (plan.ceiling_m is None, "whether it stays below the field's ceiling", ("ceiling_m",)),
        (ahead.landing_energy_j is None, "how hard it lands", ("rocket_mass_kg", "main_rate_mps")),
    )
    return tuple(f"{what}: {_missing(plan, fields)}" for is_open, what, fields in open_questions if is_open)


def _missing(plan: FlightPlan, fields: Iterable[str]) -> str:
    """The keys for those of `fields` that the plan leaves out."""
    keys = {key.field: f"{name} in [{table}]" for table, keys in PLAN_FORMAT.items() for name, key in keys.items()}
    return " and ".join(keys[field] for field in fields if getattr(plan, field) is None)
