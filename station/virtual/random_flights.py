"""Flights drawn by chance over everything that hobby rockets do, for measuring how good the station is.

F to K motors, apogees of 150 to 6 500 m, 10 to 50 samples a second, any weather and link that people fly in.
"""

from math import log, pi, sqrt, tanh

from station.virtual.air import GRAVITY_MPS2, Day
from station.virtual.altimeter import Altimeter
from station.virtual.chance import stream
from station.virtual.dice import Dice
from station.virtual.fault_classes import FAULT_CLASSES
from station.virtual.flight_setup import FlightSetup
from station.virtual.radio import Radio
from station.virtual.rare_classes import RARE_CLASSES
from station.virtual.rocket import Motor, Recovery, Rocket, canopy, thrust_curve
from station.virtual.satellites import SatelliteReceiver
from station.virtual.scenarios import counters
from station.virtual.sensors import Accelerometer, Barometer, Thermometer
from station.virtual.still_air import Ascent, ascent_in_still_air
from station.virtual.virtual_flight import VirtualFlight, fly_setup

__all__ = ["FAULT_CLASSES", "RARE_CLASSES", "random_flight", "random_setup"]

LOWEST_APOGEE_M = 150.0
HIGHEST_APOGEE_M = 6500.0

# Thrust over its mean against share of the burn: neutral, falling, rising and falling, a spike and a long tail.
_SHAPES: tuple[tuple[tuple[float, float], ...], ...] = (
    ((0.0, 0.0), (0.03, 1.1), (0.5, 1.08), (0.9, 0.98), (0.97, 0.3), (1.0, 0.0)),
    ((0.0, 0.0), (0.02, 1.5), (0.4, 1.3), (0.8, 0.75), (0.95, 0.3), (1.0, 0.0)),
    ((0.0, 0.0), (0.04, 0.85), (0.45, 1.25), (0.8, 1.1), (0.95, 0.35), (1.0, 0.0)),
    ((0.0, 0.0), (0.03, 2.1), (0.12, 1.3), (0.85, 0.95), (0.96, 0.2), (1.0, 0.0)),
)


def random_flight(
    seed: int,
    fault: str | None = None,
    *,
    accelerometer: bool | None = None,
    apogee_m: tuple[float, float] = (LOWEST_APOGEE_M, HIGHEST_APOGEE_M),
) -> VirtualFlight:
    """Fly one flight drawn by chance; see `random_setup` for what is drawn and what may be fixed."""
    setup = random_setup(seed, fault, accelerometer=accelerometer, apogee_m=apogee_m)
    return fly_setup(setup, seed, f"random {fault or 'none'}")


def random_setup(
    seed: int,
    fault: str | None = None,
    *,
    accelerometer: bool | None = None,
    apogee_m: tuple[float, float] = (LOWEST_APOGEE_M, HIGHEST_APOGEE_M),
) -> FlightSetup:
    """Draw a flight with one class of fault: a key of `FAULT_CLASSES` or `RARE_CLASSES`, None for no fault.

    `accelerometer`: with one or without; None lets chance decide. `apogee_m`: bounds of the apogee that the
    rocket would have in still air. Raises ValueError for a class that does not exist.
    """
    classes = FAULT_CLASSES | RARE_CLASSES
    change = classes.get(fault or "none")
    if change is None:
        raise ValueError(f"no such class of fault: {fault}; there are {', '.join(classes)}")
    dice = Dice(stream(seed, "random flight"))
    day = _day(dice)
    rocket, motor, ascent = _rocket(dice, day, apogee_m)
    mass = rocket.dry_mass_kg + motor.case_mass_kg
    recovery = _recovery(dice, rocket, mass)
    setup = FlightSetup(
        rocket=rocket,
        motor=motor,
        recovery=recovery,
        day=day,
        barometer=_barometer(dice),
        thermometer=Thermometer(
            offset_k=dice.between(-1.5, 1.5), bay_warmth_k=dice.between(0.0, 15.0), lag_s=dice.between(30.0, 300.0)
        ),
        accelerometer=_accelerometer(dice, wanted=accelerometer),
        altimeter=_altimeter(dice, seed, ascent),
        radio=_radio(dice),
        pad_s=dice.between(8.0, 25.0),
        after_s=dice.between(12.0, 40.0),
        rail_length_m=dice.between(1.0, 3.0),
        rail_tilt_deg=min(12.0, abs(dice.between(-3.0, 3.0)) + (dice.between(0.0, 9.0) if dice.happens(0.3) else 0.0)),
        landing_height_m=dice.between(-6.0, 6.0),
        drogue_spike_pa=dice.between(200.0, 800.0) * (-1.0 if dice.happens(0.15) else 1.0),
        main_spike_pa=dice.between(200.0, 800.0) * (-1.0 if dice.happens(0.15) else 1.0),
        spike_decay_s=dice.between(0.1, 0.3),
    )
    return change(dice, ascent, setup)


def _day(dice: Dice) -> Day:
    wind = dice.between(0.0, 8.5)
    return Day(
        pad_pressure_pa=dice.between(84_000.0, 102_500.0),
        pad_temperature_c=dice.between(-5.0, 38.0),
        ground_wind_mps=wind,
        high_wind_mps=wind * dice.between(1.0, 2.2) + dice.between(0.0, 5.0),
        gust_mps=0.08 * wind + dice.between(0.1, 0.6),
        vertical_gust_mps=dice.between(0.05, 0.35),
    )


def _rocket(dice: Dice, day: Day, apogee_m: tuple[float, float]) -> tuple[Rocket, Motor, Ascent]:
    """A rocket and motor that people would fly, drawn again until its apogee is within bounds."""
    # Most rockets go up some hundred metres: aim first, so that the high and fast ones are drawn as often.
    aim = dice.spread(*apogee_m)
    for _ in range(20_000):
        impulse = dice.spread(42.0, 2500.0)
        mass = 0.45 * (impulse / 60.0) ** 0.72 * dice.spread(0.55, 1.9)
        push_over_weight = dice.between(5.5, 16.0)
        burn_s = impulse / (push_over_weight * mass * GRAVITY_MPS2)
        propellant = impulse / dice.between(1750.0, 2100.0)
        case = propellant * dice.between(0.7, 1.3)
        dry = mass - propellant - case
        diameter = dice.between(0.036, 0.062) * (mass / 0.8) ** 0.27
        drag, slender, shape = dice.between(0.38, 0.75), dice.between(14.0, 28.0), dice.one_of(*_SHAPES)
        if dry < 0.45 * mass or not 0.5 <= burn_s <= 5.5:
            continue
        if not 0.8 < _guess_m(mass - propellant / 2.0, impulse / burn_s, burn_s, drag, diameter, day) / aim < 1.25:
            continue
        rocket = Rocket(dry, diameter, drag, slender * diameter)
        motor = Motor(thrust_curve(shape, impulse, burn_s), propellant, case)
        ascent = ascent_in_still_air(rocket, motor, day)
        if apogee_m[0] <= ascent.apogee_m <= apogee_m[1]:
            return rocket, motor, ascent
    raise ValueError(f"no F to K rocket found that reaches {apogee_m[0]} to {apogee_m[1]} m")


def _guess_m(mass: float, thrust: float, burn_s: float, drag: float, diameter: float, day: Day) -> float:
    """Apogee by the closed form of Fehskens and Malewicki: constant mass, thrust and density."""
    k = 0.5 * 0.85 * day.pad_density_kgm3 * 1.1 * drag * pi * diameter**2 / 4.0
    weight = mass * GRAVITY_MPS2
    limit = sqrt((thrust - weight) / k)
    speed = limit * tanh(k * limit / mass * burn_s)
    boost = -mass / (2.0 * k) * log(1.0 - (speed / limit) ** 2)
    return boost + mass / (2.0 * k) * log(1.0 + k * speed**2 / weight)


def _recovery(dice: Dice, rocket: Rocket, mass: float) -> Recovery:
    """Parachutes sized for 14 to 26 m/s and 4 to 7.5 m/s at sea level."""
    body = rocket.tumbling_drag_area_m2
    drogue = canopy(mass, dice.between(14.0, 26.0), body, dice.between(0.2, 0.6), dice.between(5.0, 10.0))
    beside_m2 = body + drogue.drag_area_m2
    main = canopy(mass, dice.between(4.0, 7.5), beside_m2, dice.between(0.25, 0.7), dice.between(5.0, 10.0))
    return Recovery(drogue, main)


def _barometer(dice: Dice) -> Barometer:
    return Barometer(
        noise_pa=dice.between(2.0, 9.0),
        # The sum of three has a standard deviation of 50 Pa: data sheets promise 50 to 150 Pa at the most.
        offset_pa=sum(dice.between(-50.0, 50.0) for _ in range(3)),
        lag_s=dice.spread(0.004, 0.05),
        resolution_pa=dice.one_of(0.01, 0.1, 1.0, 2.0),
        shock_coefficient=dice.spread(0.008, 0.06),
        shock_rebound=dice.between(0.0, 0.5),
        port_wind_coefficient=dice.between(-0.1, 0.25),
        warmth_pa_per_k=dice.between(-2.0, 2.0),
    )


def _accelerometer(dice: Dice, *, wanted: bool | None) -> Accelerometer | None:
    """One in two flights has one, unless it is wanted or not; all is drawn in any case, so that nothing shifts."""
    by_chance = dice.happens(0.5)
    drawn = Accelerometer(
        scale=dice.between(0.98, 1.02),
        bias_mps2=dice.between(-1.2, 1.2),
        noise_mps2=dice.between(0.2, 1.1),
        step_mps2=dice.one_of(0.05, 0.1, 0.48, 0.96),
        range_mps2=dice.one_of(313.8, 490.3, 980.7, 1961.3),
    )
    return drawn if (by_chance if wanted is None else wanted) else None


def _altimeter(dice: Dice, seed: int, ascent: Ascent) -> Altimeter:
    first_t_ms, first_seq = counters(seed)
    highest = min(260.0, 0.55 * ascent.apogee_m)
    period = dice.between(5.0, 10.0)
    return Altimeter(
        unit_name=dice.one_of("SWIFT-2", "HERON-7", "LARK", "TERN_03", "WREN-11"),
        sample_period_ms=dice.one_of(20, 20, 25, 40, 50, 100),
        main_altitude_m=float(round(dice.between(min(75.0, 0.9 * highest), highest))),
        first_t_ms=first_t_ms,
        first_seq=first_seq,
        first_id_s=0.0 if first_t_ms == 0 else round(dice.between(0.0, period), 3),
        id_period_s=round(period, 3),
        battery_mv=round(dice.one_of(3900.0, 7900.0, 8300.0) + dice.between(-150.0, 150.0)),
        satellites=SatelliteReceiver() if dice.happens(0.25) else None,
    )


def _radio(dice: Dice) -> Radio:
    return Radio(
        loss_fraction=dice.between(0.0, 0.25),
        mean_burst_lines=dice.spread(1.0, 15.0),
        corrupt_fraction=dice.between(0.0, 0.006),
        noise_fraction=dice.between(0.0, 0.003),
        delay_s=dice.between(0.005, 0.12),
        jitter_s=dice.between(0.001, 0.02),
        signal_reports=dice.happens(0.7),
    )
