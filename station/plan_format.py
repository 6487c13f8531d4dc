"""The keys of a written flight plan: the field that each fills, and how its value is read. Pure.

`station/PLAN.md` is the same for people.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from station.plan import Recovery
from station.plan_values import Choice, ColumnNames, FileName, Number, PlanValue, Quantity, Text
from station.quantity import (
    DIRECTION,
    DURATION,
    FLIGHT_SPEED,
    FORCE,
    IMPULSE,
    LENGTH,
    MASS,
    SPEED,
    TEMPERATURE,
    WIDTH,
    WIND,
)


@dataclass(frozen=True, slots=True)
class PlanKey:
    """One key of the format: the field of FlightPlan that it fills, and the kind of value that it takes."""

    field: str
    value: PlanValue


# The bounds only catch slips of the pen (a unit mixed up, a digit too many); they are no advice.
_rate = Quantity(SPEED, 0.5, 100.0)
_delay = Quantity(DURATION, 0.0, 60.0)
_canopy = Quantity(WIDTH, 0.05, 20.0)
PLAN_FORMAT: Mapping[str, Mapping[str, PlanKey]] = {
    "rocket": {
        "name": PlanKey("rocket_name", Text()),
        "mass": PlanKey("rocket_mass_kg", Quantity(MASS, 0.005, 500.0)),
        "diameter": PlanKey("rocket_diameter_m", Quantity(WIDTH, 0.005, 1.0)),
        "drag_coefficient": PlanKey("rocket_drag_coefficient", Number(0.05, 3.0, "0.6")),
        "rail_length": PlanKey("rail_length_m", Quantity(LENGTH, 0.3, 30.0)),
    },
    "motor": {
        "name": PlanKey("motor_name", Text()),
        "total_impulse": PlanKey("total_impulse_ns", Quantity(IMPULSE, 0.1, 100_000.0)),
        "burn_time": PlanKey("burn_time_s", Quantity(DURATION, 0.05, 60.0)),
        "mean_thrust": PlanKey("mean_thrust_n", Quantity(FORCE, 0.5, 50_000.0)),
        "propellant_mass": PlanKey("propellant_mass_kg", Quantity(MASS, 0.0002, 200.0)),
        "stock_delay": PlanKey("stock_delay_s", _delay),
        "delay": PlanKey("flown_delay_s", _delay),
    },
    "recovery": {
        "deployment": PlanKey("recovery", Choice(Recovery)),
        "drogue_rate": PlanKey("drogue_rate_mps", _rate),
        "main_rate": PlanKey("main_rate_mps", _rate),
        "main_height": PlanKey("main_height_m", Quantity(LENGTH, 10.0, 5000.0)),
        "drogue_diameter": PlanKey("drogue_diameter_m", _canopy),
        "main_diameter": PlanKey("main_diameter_m", _canopy),
    },
    "field": {
        "air_temperature": PlanKey("air_temperature_c", Quantity(TEMPERATURE, -60.0, 60.0)),
        "wind": PlanKey("wind_mps", Quantity(WIND, 0.0, 50.0)),
        "wind_from": PlanKey("wind_from_deg", Quantity(DIRECTION, 0.0, 360.0)),
        "elevation": PlanKey("field_elevation_m", Quantity(LENGTH, -500.0, 6000.0)),
        "ceiling": PlanKey("ceiling_m", Quantity(LENGTH, 10.0, 50_000.0)),
        "size": PlanKey("field_size_m", Quantity(LENGTH, 5.0, 100_000.0)),
    },
    "prediction": {
        "apogee": PlanKey("predicted_apogee_m", Quantity(LENGTH, 10.0, 50_000.0)),
        "speed": PlanKey("predicted_speed_mps", Quantity(FLIGHT_SPEED, 1.0, 2000.0)),
        "apogee_time": PlanKey("predicted_apogee_s", Quantity(DURATION, 0.5, 300.0)),
        "curve": PlanKey("prediction_file", FileName()),
        "columns": PlanKey("prediction_columns", ColumnNames()),
    },
}
