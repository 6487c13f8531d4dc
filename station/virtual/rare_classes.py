"""Classes of what seldom goes wrong, or not for long, or with poor parts; beside those of `fault_classes.py`.

As there, each changes a setup by chance. All sizes are invented, as bad as a field day has them and no worse.
"""

from dataclasses import replace

from station.records import Role
from station.virtual.air import GRAVITY_MPS2, Thermal
from station.virtual.dice import Dice
from station.virtual.fault_classes import Change, with_one_parachute
from station.virtual.flight_setup import Faults, FlightSetup, LetGo
from station.virtual.small_kit import small_kit
from station.virtual.still_air import Ascent

LONGEST_BURN_S = 9.0


def _lets_go(role: Role | None, soonest_s: float, latest_s: float) -> Change:
    def change(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
        del ascent
        kept = 0.02 if role is None else dice.between(0.0, 0.1)
        return replace(setup, faults=Faults(let_go=LetGo(role, dice.between(soonest_s, latest_s), kept)))

    return change


def _only_one_lets_go(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """The only parachute, out at apogee, tears."""
    return _lets_go(Role.MAIN, 2.0, 20.0)(dice, ascent, with_one_parachute(setup))


def _thermal(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """Rising air, as strong as a main falls, meets the rocket on its way down."""
    assert setup.motor is not None
    start_s = setup.pad_s + setup.motor.burn_end_s + ascent.coast_s + dice.between(10.0, 70.0)
    main_m = setup.altimeter.main_altitude_m or 0.0
    thermal = Thermal(
        up_mps=dice.between(3.0, 8.0),
        centre_m=dice.between(0.3 * main_m, main_m),
        half_depth_m=dice.between(15.0, 60.0),
        start_s=start_s,
        end_s=start_s + dice.between(5.0, 40.0),
    )
    return replace(setup, day=replace(setup.day, thermal=thermal))


def _repeated_readings(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """The altimeter sends lines more often than its sensor measures."""
    del ascent
    return replace(setup, barometer=replace(setup.barometer, lines_per_reading=dice.one_of(2, 3, 4, 5)))


def _stray_readings(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """A loose wire or a weak battery: one reading in a few hundred is wrong."""
    del ascent
    stray = replace(setup.barometer, stray_share=dice.spread(0.0005, 0.005), stray_pa=dice.spread(300.0, 6000.0))
    return replace(setup, barometer=stray)


def _slow_ports(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """Ports much too small for their bay: the pressure in it follows late."""
    del ascent
    return replace(setup, barometer=replace(setup.barometer, lag_s=dice.between(0.25, 0.5)))


def _stuck_force(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """The accelerometer says one thing, whatever happens: on the pad already, or from some moment of the boost on."""
    del ascent
    assert setup.motor is not None
    sticks_t_s = setup.pad_s + dice.between(0.3, setup.motor.burn_end_s) if dice.happens(0.5) else 0.0
    if setup.accelerometer is None:
        return setup
    return replace(setup, accelerometer=replace(setup.accelerometer, sticks_t_s=sticks_t_s))


def _gentle_motor(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """The same impulse over a longer time: the rocket leaves slowly."""
    del ascent
    motor = setup.motor
    assert motor is not None
    weight_n = GRAVITY_MPS2 * (setup.rocket.dry_mass_kg + motor.propellant_mass_kg + motor.case_mass_kg)
    push_n = motor.total_impulse_ns / motor.thrust_curve[-1][0]
    slower = push_n / weight_n / dice.between(1.8, 2.8)
    # Not so slow that the longest and thinnest shape of thrust cannot lift it at all, nor that no such motor is made.
    slower = min(slower, 0.9 * motor.peak_thrust_n / weight_n, LONGEST_BURN_S / motor.thrust_curve[-1][0])
    curve = tuple((t_s * slower, thrust_n / slower) for t_s, thrust_n in motor.thrust_curve)
    return replace(setup, motor=replace(motor, thrust_curve=curve))


RARE_CLASSES: dict[str, Change] = {
    "drogue-lets-go": _lets_go(Role.DROGUE, 2.0, 15.0),
    "main-lets-go": _lets_go(Role.MAIN, 1.5, 12.0),
    "cord-parts": _lets_go(None, 0.2, 8.0),
    "only-one-lets-go": _only_one_lets_go,
    "thermal": _thermal,
    "repeated-readings": _repeated_readings,
    "stray-readings": _stray_readings,
    "slow-ports": _slow_ports,
    "stuck-force": _stuck_force,
    "gentle-motor": _gentle_motor,
    "small-kit": small_kit,
}
