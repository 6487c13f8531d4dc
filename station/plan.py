"""The flight plan: what the flyer means to happen, so that the flight can be judged against it.

The values only. `station/plan_format.py` has the keys of the written plan, `station/plan_text.py` reads its text,
`station/plan_file.py` the file; the format is documented in `station/PLAN.md`.
"""

from dataclasses import dataclass
from enum import StrEnum

from station.records import Role


class Recovery(StrEnum):
    """How the rocket is meant to come down."""

    DUAL = "dual deployment"
    MOTOR = "motor ejection"


@dataclass(frozen=True, slots=True)
class FlightPlan:
    """What is planned; None is "the plan does not say". Heights are metres above the pad.

    `rocket_mass_kg` is at liftoff, motor in. `stock_delay_s` is the delay as the motor is sold, `flown_delay_s`
    the one it flies with. Rates are descent rates, + down. `field_elevation_m` is the pad's height above the sea,
    `ceiling_m` the greatest height allowed above the pad, `field_size_m` the field's shortest side. Wind
    directions are where it comes from, degrees from true north, clockwise. `predicted_speed_mps` is the highest
    speed going up, `predicted_apogee_s` counts from liftoff, `prediction_file` names a CSV beside the plan,
    `prediction_columns` which of its columns are which ("time=1,altitude=Height[ft]").
    """

    rocket_name: str | None = None
    rocket_mass_kg: float | None = None
    rocket_diameter_m: float | None = None
    rocket_drag_coefficient: float | None = None
    rail_length_m: float | None = None
    motor_name: str | None = None
    total_impulse_ns: float | None = None
    burn_time_s: float | None = None
    mean_thrust_n: float | None = None
    propellant_mass_kg: float | None = None
    stock_delay_s: float | None = None
    flown_delay_s: float | None = None
    recovery: Recovery | None = None
    drogue_rate_mps: float | None = None
    main_rate_mps: float | None = None
    main_height_m: float | None = None
    drogue_diameter_m: float | None = None
    main_diameter_m: float | None = None
    air_temperature_c: float | None = None
    wind_mps: float | None = None
    wind_from_deg: float | None = None
    field_elevation_m: float | None = None
    ceiling_m: float | None = None
    field_size_m: float | None = None
    predicted_apogee_m: float | None = None
    predicted_speed_mps: float | None = None
    predicted_apogee_s: float | None = None
    prediction_file: str | None = None
    prediction_columns: str | None = None

    @property
    def planned_roles(self) -> tuple[Role, ...] | None:
        """The parachutes planned, in order; with motor ejection one, which is the main. None: not said."""
        if self.recovery is None:
            return None
        return (Role.DROGUE, Role.MAIN) if self.recovery is Recovery.DUAL else (Role.MAIN,)
