"""What follows from a flight plan, before the flight. Pure.

A figure is None where the plan does not say enough: nothing is guessed, a drag coefficient least of all.
"""

from dataclasses import dataclass
from functools import partial
from math import pi

from station.ascent_forecast import Ascent, coast_time_s, foretell_ascent, rail_exit_mps
from station.atmosphere import (
    G0_MPS2,
    KELVIN_AT_ZERO_C,
    air_density_kgpm3,
    density_ratio,
    isa_pressure_pa,
    isa_temperature_k,
    speed_of_sound_mps,
)
from station.descent_forecast import Descent, WayDown, canopy_drag_coefficient, descent, landing_energy_j
from station.motor_class import certification_level, impulse_class
from station.plan import FlightPlan, Recovery

DRAG_RISES_AT_MACH = 0.8


@dataclass(frozen=True, slots=True)
class Delay:
    """The delay that a motor's ejection charge would want, s, and what it was reckoned from."""

    wanted_s: float
    reckoned_from: str


@dataclass(frozen=True, slots=True)
class Preflight:
    """Everything that follows from `plan`, SI.

    `apogee_m` is the plan's prediction, else that of `ascent`. `landing_mass_kg` is without propellant where that is
    known. `descents` holds the planned way down first, and then what the main from apogee would mean.
    """

    plan: FlightPlan
    air_density_kgpm3: float
    total_impulse_ns: float | None
    mean_thrust_n: float | None
    burn_time_s: float | None
    impulse_class: str | None
    certification_level: int | None
    thrust_to_weight: float | None
    rail_exit_mps: float | None
    ascent: Ascent | None
    top_mach: float | None
    apogee_m: float | None
    delay: Delay | None
    descents: tuple[Descent, ...]
    landing_mass_kg: float | None
    landing_energy_j: float | None
    drogue_drag_coefficient: float | None
    main_drag_coefficient: float | None


def look_ahead(plan: FlightPlan) -> Preflight:
    """What `plan` means, figure by figure."""
    kelvin, density = _air(plan)
    impulse, thrust, burn = _motor(plan)
    letter = None if impulse is None else impulse_class(impulse)
    ascent = _ascent(plan, thrust, burn, kelvin, density)
    top_mps, apogee_m = plan.predicted_speed_mps, plan.predicted_apogee_m
    if ascent is not None:
        top_mps = ascent.burnout_mps if top_mps is None else top_mps
        apogee_m = ascent.apogee_m if apogee_m is None else apogee_m
    landing_kg = None if plan.rocket_mass_kg is None else plan.rocket_mass_kg - (plan.propellant_mass_kg or 0.0)
    return Preflight(
        plan=plan,
        air_density_kgpm3=density,
        total_impulse_ns=impulse,
        mean_thrust_n=thrust,
        burn_time_s=burn,
        impulse_class=letter,
        certification_level=None if letter is None else certification_level(letter),
        thrust_to_weight=thrust / (plan.rocket_mass_kg * G0_MPS2) if thrust and plan.rocket_mass_kg else None,
        rail_exit_mps=_rail_exit(plan, thrust),
        ascent=ascent,
        top_mach=None if top_mps is None else top_mps / speed_of_sound_mps(kelvin),
        apogee_m=apogee_m,
        delay=_delay(plan, burn, ascent),
        descents=_descents(plan, apogee_m),
        landing_mass_kg=landing_kg,
        landing_energy_j=landing_energy_j(landing_kg, plan.main_rate_mps)
        if landing_kg and plan.main_rate_mps
        else None,
        drogue_drag_coefficient=_canopy(landing_kg, density, plan.drogue_diameter_m, plan.drogue_rate_mps),
        main_drag_coefficient=_canopy(landing_kg, density, plan.main_diameter_m, plan.main_rate_mps),
    )


def _air(plan: FlightPlan) -> tuple[float, float]:
    """Temperature (K) and density (kg/m^3) at the pad: standard air at the plan's elevation, else at sea level."""
    elevation_m = plan.field_elevation_m or 0.0
    kelvin = isa_temperature_k(elevation_m)
    if plan.air_temperature_c is not None:
        kelvin = plan.air_temperature_c + KELVIN_AT_ZERO_C
    return kelvin, air_density_kgpm3(isa_pressure_pa(elevation_m), kelvin)


def _motor(plan: FlightPlan) -> tuple[float | None, float | None, float | None]:
    """Total impulse, mean thrust and burn time, each from the other two where the plan leaves it out."""
    impulse, thrust, burn = plan.total_impulse_ns, plan.mean_thrust_n, plan.burn_time_s
    if impulse is None and thrust is not None and burn is not None:
        impulse = thrust * burn
    elif thrust is None and impulse is not None and burn is not None:
        thrust = impulse / burn
    elif burn is None and impulse is not None and thrust is not None:
        burn = impulse / thrust
    return impulse, thrust, burn


def _rail_exit(plan: FlightPlan, thrust: float | None) -> float | None:
    if plan.rocket_mass_kg is None or plan.rail_length_m is None or thrust is None:
        return None
    return rail_exit_mps(mass_kg=plan.rocket_mass_kg, thrust_n=thrust, rail_length_m=plan.rail_length_m)


def _ascent(plan: FlightPlan, thrust: float | None, burn: float | None, kelvin: float, density: float) -> Ascent | None:
    mass, diameter, drag = plan.rocket_mass_kg, plan.rocket_diameter_m, plan.rocket_drag_coefficient
    if mass is None or diameter is None or drag is None or thrust is None or burn is None:
        return None
    return foretell_ascent(
        mass_kg=mass,
        propellant_kg=plan.propellant_mass_kg or 0.0,
        thrust_n=thrust,
        burn_s=burn,
        drag_area_m2=drag * pi * diameter**2 / 4.0,
        density_kgpm3=partial(_density_at, density, kelvin),
    )


def _density_at(pad_density: float, pad_kelvin: float, height_m: float) -> float:
    return pad_density * density_ratio(height_m, pad_kelvin)


def _delay(plan: FlightPlan, burn: float | None, ascent: Ascent | None) -> Delay | None:
    """From the prediction before our own forecast: it knows the motor's thrust curve."""
    if burn is not None and plan.predicted_apogee_s is not None and plan.predicted_apogee_s > burn:
        return Delay(plan.predicted_apogee_s - burn, "the predicted time to apogee, less the burn time")
    if burn is not None and plan.predicted_apogee_m is not None and plan.predicted_speed_mps is not None:
        # A steady gain of speed covers half of top speed times burn time.
        height_m = plan.predicted_apogee_m - 0.5 * plan.predicted_speed_mps * burn
        coast = coast_time_s(speed_mps=plan.predicted_speed_mps, height_m=height_m)
        if coast is not None:
            return Delay(coast, "the predicted apogee and speed, and the burn time")
    return None if ascent is None else Delay(ascent.coast_s, "our own forecast with the plan's drag coefficient")


def _descents(plan: FlightPlan, apogee_m: float | None) -> tuple[Descent, ...]:
    main = plan.main_rate_mps
    if apogee_m is None or main is None:
        return ()
    under = partial(descent, apogee_m=apogee_m, main_mps=main, wind_mps=plan.wind_mps)
    if plan.recovery is Recovery.MOTOR:
        return (under(WayDown.ONE_PARACHUTE),)
    from_apogee = under(WayDown.MAIN_AT_APOGEE)
    if plan.drogue_rate_mps is None or plan.main_height_m is None:
        return (from_apogee,)
    return under(WayDown.DROGUE_THEN_MAIN, drogue=(plan.drogue_rate_mps, plan.main_height_m)), from_apogee


def _canopy(
    mass_kg: float | None, density_kgpm3: float, diameter_m: float | None, rate_mps: float | None
) -> float | None:
    if mass_kg is None or diameter_m is None or rate_mps is None:
        return None
    return canopy_drag_coefficient(mass_kg, density_kgpm3, diameter_m, rate_mps)
