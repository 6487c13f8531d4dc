"""What of a flight cannot be judged for want of a plan, or of a key in it. Pure."""

from station.plan import FlightPlan, Recovery

_ONE_PARACHUTE = frozenset({"drogue_rate_mps", "main_height_m"})
_GAPS = (
    ("which parachutes were meant to come out (the altimeter's channels were taken for it)", ("recovery",)),
    (
        "whether it came down as fast as you meant it to (what is usual was taken for it)",
        ("drogue_rate_mps", "main_rate_mps"),
    ),
    ("whether the main came out at the height that you meant", ("main_height_m",)),
    ("drag, and with how much energy it landed", ("rocket_mass_kg", "rocket_diameter_m", "propellant_mass_kg")),
    ("how fast it left the rail", ("rail_length_m",)),
    ("the motor's delay", ("flown_delay_s",)),
    ("how it compares with a simulation", ("predicted_apogee_m",)),
    ("whether it stayed below the ceiling and on the field", ("ceiling_m", "wind_mps", "field_size_m")),
)


def not_judged(plan: FlightPlan | None) -> tuple[str, ...]:
    """What cannot be judged because the plan does not say it; all of it without a plan."""
    plan = plan or FlightPlan()
    lacking = {name for name in plan.__dataclass_fields__ if getattr(plan, name) is None}
    if plan.recovery is Recovery.MOTOR:
        lacking -= _ONE_PARACHUTE
    if plan.recovery is Recovery.DUAL:
        lacking.discard("flown_delay_s")
    if plan.prediction_file is not None:
        lacking.discard("predicted_apogee_m")
    return tuple(what for what, fields in _GAPS if lacking.intersection(fields))


def not_judged_sentence(plan: FlightPlan | None) -> str | None:
    """The same in a sentence; None if nothing is missing."""
    gaps = not_judged(plan)
    if not gaps:
        return None
    begin = "No flight plan" if plan is None else "The plan does not say all"
    return f"{begin}, so not judged: {'; '.join(gaps)}."
