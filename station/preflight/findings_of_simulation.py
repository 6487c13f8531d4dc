"""What the simulation says that a plan names, and whether the plan's own figures agree with it. Pure."""

from station import rules
from station.both_units import height, speed
from station.plan import FlightPlan
from station.prediction import Prediction
from station.preflight.finding import Finding


def simulation_finding(simulation: Prediction, plan: FlightPlan) -> Finding:
    """What was read from it; it stands out where the plan's apogee is another one."""
    text = (
        f"The simulation {simulation.file} can be read ({simulation.columns}): {speed(simulation.max_speed_mps)} at "
        f"most, apogee at {height(simulation.apogee_m)}, {simulation.apogee_s:.1f} s after liftoff."
    )
    planned = plan.predicted_apogee_m
    apart = planned is not None and abs(simulation.apogee_m / planned - 1.0) > rules.PREDICTION_SHARE
    if apart and planned is not None:
        text += f" The plan's apogee is {height(planned)}: look at both, and at the units."
    return Finding("simulation", text, stands_out=apart, rules=(rules.PREDICTIONS,) if apart else ())


def unread_simulation(why: str) -> Finding:
    """The simulation is missing or cannot be understood: flights will not be compared with it."""
    return Finding("simulation", f"No flight can be compared with the simulation: {why}.", stands_out=True)
