"""A small cardboard rocket: up to 40 to 220 m, its one parachute thrown out by the motor.

All sizes are invented, as the motors of such kits (up to 20 N s) lift them with an altimeter aboard.
"""

from dataclasses import replace

from station.virtual.air import GRAVITY_MPS2
from station.virtual.dice import Dice
from station.virtual.fault_classes import without_charges
from station.virtual.flight_setup import FlightSetup
from station.virtual.rocket import Motor, Recovery, Rocket, canopy, thrust_curve
from station.virtual.still_air import Ascent, ascent_in_still_air

# A black-powder grain gives this much impulse for its mass (N s/kg, invented).
IMPULSE_PER_KG = 800.0
# Thrust over its mean against the share of the burn: a spike, then level.
SHAPE = ((0.0, 0.0), (0.12, 2.2), (0.25, 1.0), (0.95, 0.95), (1.0, 0.0))


def small_kit(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """The same day and altimeter in a small rocket; the delays that can be bought are whole seconds."""
    del ascent
    mass_kg = dice.spread(0.07, 0.18)
    weight_n = GRAVITY_MPS2 * mass_kg
    impulse_ns = mass_kg * dice.spread(33.0, 80.0)
    burn_s = min(dice.between(0.5, 1.9), impulse_ns / (dice.between(5.0, 12.0) * weight_n))
    propellant_kg, case_kg = impulse_ns / IMPULSE_PER_KG, 0.012
    rocket = Rocket(
        dry_mass_kg=mass_kg - propellant_kg - case_kg,
        diameter_m=dice.between(0.025, 0.042),
        drag_coefficient=dice.between(0.5, 0.9),
        length_m=dice.between(0.3, 0.7),
    )
    motor = Motor(thrust_curve(SHAPE, impulse_ns, burn_s), propellant_kg, case_kg)
    coast_s = ascent_in_still_air(rocket, motor, setup.day).coast_s
    delay_s = float(max(2, round(coast_s + dice.between(-1.0, 2.0))))
    hung_kg, body_m2 = rocket.dry_mass_kg + case_kg, rocket.tumbling_drag_area_m2
    main = canopy(hung_kg, dice.between(3.5, 6.5), body_m2, dice.between(0.2, 0.6), dice.between(5.0, 10.0))
    return replace(
        without_charges(setup),
        rocket=rocket,
        motor=replace(motor, ejection_delay_s=delay_s),
        recovery=Recovery(None, main),
        rail_length_m=dice.between(0.8, 1.2),
    )
