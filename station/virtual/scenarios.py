"""Flights by name, for a person to try: each with one sentence that says what happens."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from station.records import Role
from station.virtual.air import Day
from station.virtual.altimeter import Altimeter
from station.virtual.chance import stream
from station.virtual.flight_setup import (
    Faults,
    FlightSetup,
    Mischief,
    Moment,
    Outcome,
    Restart,
    Silence,
)
from station.virtual.rocket import Motor, Parachute, Recovery, Rocket
from station.virtual.satellites import FieldPlace, SatelliteReceiver
from station.virtual.sensors import Barometer


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named kind of flight; `setup` makes the flight's settings from a seed."""

    name: str
    description: str
    setup: Callable[[int], FlightSetup]


def club_rocket(seed: int) -> FlightSetup:
    """A 1 kg rocket with two parachutes that climbs about 400 m; the seed varies wind and weather."""
    return FlightSetup(
        rocket=Rocket(dry_mass_kg=0.98, diameter_m=0.066, drag_coefficient=0.62, length_m=1.25),
        motor=Motor(
            (
                (0.0, 0.0),
                (0.04, 124.0),
                (0.12, 112.0),
                (0.5, 106.0),
                (1.0, 92.0),
                (1.35, 66.0),
                (1.5, 10.0),
                (1.56, 0.0),
            ),
            propellant_mass_kg=0.070,
            case_mass_kg=0.11,
        ),
        recovery=Recovery(
            drogue=Parachute(drag_area_m2=0.045, diameter_m=0.30, stretch_s=0.35),
            main=Parachute(drag_area_m2=0.62, diameter_m=0.90, stretch_s=0.45),
        ),
        day=_fair_day(seed),
        altimeter=_unit(seed, "SWIFT-2", 120.0),
    )


def mach_rocket(seed: int) -> FlightSetup:
    """A slim 3 kg rocket that climbs past Mach 1 to some 3 km; it sends 20 samples a second."""
    return FlightSetup(
        rocket=Rocket(dry_mass_kg=2.3, diameter_m=0.057, drag_coefficient=0.50, length_m=1.7),
        motor=Motor(
            ((0.0, 0.0), (0.03, 980.0), (0.2, 960.0), (0.9, 940.0), (1.4, 800.0), (1.6, 150.0), (1.75, 0.0)),
            propellant_mass_kg=0.72,
            case_mass_kg=0.45,
        ),
        recovery=Recovery(
            drogue=Parachute(drag_area_m2=0.062, diameter_m=0.36, stretch_s=0.45),
            main=Parachute(drag_area_m2=1.45, diameter_m=1.35, stretch_s=0.55),
        ),
        day=_fair_day(seed),
        barometer=Barometer(shock_coefficient=0.035),
        altimeter=replace(_unit(seed, "HERON-7", 180.0), sample_period_ms=50),
        rail_length_m=2.4,
        rail_tilt_deg=2.0,
    )


def _fair_day(seed: int) -> Day:
    wind, warmth, weather, gust = (float(v) for v in stream(seed, "day").random_sample(4))
    return Day(
        pad_pressure_pa=97300.0 + 900.0 * weather,
        pad_temperature_c=14.0 + 8.0 * warmth,
        ground_wind_mps=1.5 + 2.0 * wind,
        high_wind_mps=4.0 + 4.0 * wind,
        gust_mps=0.4 + 0.4 * gust,
        vertical_gust_mps=0.2,
    )


def _unit(seed: int, name: str, main_altitude_m: float) -> Altimeter:
    first_t_ms, first_seq = counters(seed)
    return Altimeter(name, main_altitude_m=main_altitude_m, first_t_ms=first_t_ms, first_seq=first_seq, first_id_s=0.0)


def counters(seed: int) -> tuple[int, int]:
    """Where T_MS and SEQ stand when the recording begins.

    One flight in four begins within a minute before T_MS wraps, one in four within 1500 lines before SEQ
    wraps, one in eight at power-up, where both count from 0.
    """
    chance = stream(seed, "counters")
    clock, line = (float(v) for v in chance.random_sample(2))
    t_ms, seq = int(chance.randint(20_000, 5_400_000)), int(chance.randint(0, 65_536))
    if clock < 0.25:
        t_ms = 2**32 - int(chance.randint(1, 60_000))
    elif clock > 0.875:
        return 0, 0
    if line < 0.25:
        seq = 65_536 - int(chance.randint(1, 1_500))
    return t_ms, seq


def _club(**faults: Outcome | Restart | tuple[Silence, ...] | float | bool) -> Callable[[int], FlightSetup]:
    made = replace(Faults(), **faults)  # type: ignore[arg-type]
    return lambda seed: replace(club_rocket(seed), faults=made)


def _unconnected(seed: int) -> FlightSetup:
    setup = club_rocket(seed)
    return replace(setup, altimeter=replace(setup.altimeter, channel_1_continuity=False))


def _by_motor(ejection_delay_s: float) -> Callable[[int], FlightSetup]:
    """The club rocket with one parachute that the motor throws out, a delay after burnout; the altimeter only tells.

    It coasts for 7.8 s.
    """

    def setup(seed: int) -> FlightSetup:
        club = club_rocket(seed)
        assert club.motor is not None
        unit = replace(club.altimeter, channel_1_role=Role.NONE, channel_2_role=Role.NONE, main_altitude_m=None)
        return replace(
            club,
            motor=replace(club.motor, ejection_delay_s=ejection_delay_s),
            recovery=Recovery(drogue=None, main=Parachute(drag_area_m2=0.40, diameter_m=0.70)),
            altimeter=unit,
        )

    return setup


def _with_fixes(seed: int) -> FlightSetup:
    """The club rocket with a satellite receiver, its main set high, in more wind; the seed turns the wind."""
    setup = club_rocket(seed)
    day, unit = setup.day, setup.altimeter
    return replace(
        setup,
        day=replace(day, ground_wind_mps=day.ground_wind_mps + 2.0, high_wind_mps=day.high_wind_mps + 3.0),
        place=FieldPlace(wind_from_deg=round(360.0 * float(stream(seed, "place").random_sample()), 1)),
        altimeter=replace(unit, main_altitude_m=250.0, satellites=SatelliteReceiver(period_s=0.5)),
    )


def _on_the_pad(mischief: Mischief, pad_s: float, period_ms: int = 20) -> Callable[[int], FlightSetup]:
    def setup(seed: int) -> FlightSetup:
        club = club_rocket(seed)
        unit = replace(club.altimeter, sample_period_ms=period_ms)
        barometer = replace(club.barometer, warmth_pa_per_k=1.5)
        return replace(club, motor=None, altimeter=unit, pad_s=pad_s, mischief=mischief, barometer=barometer)

    return setup


_ALL = (
    Scenario("nominal-dual", "All as it should be: the drogue at the top, the main at its height.", club_rocket),
    Scenario(
        "drogue-silent",
        "The drogue's charge never fires; the rocket falls nose first until the main stops it low down.",
        _club(drogue=Outcome.SILENT),
    ),
    Scenario(
        "main-silent",
        "The main's charge never fires; the rocket lands fast under the drogue, a live charge aboard.",
        _club(main=Outcome.SILENT),
    ),
    Scenario(
        "main-stays-in",
        "The main's charge fires but the parachute stays in the tube; the rocket lands fast under the drogue.",
        _club(main=Outcome.STAYS_IN),
    ),
    Scenario(
        "late-ejection",
        "One parachute, thrown out by the motor four seconds after the top, when the rocket already dives.",
        _by_motor(11.5),
    ),
    Scenario(
        "early-ejection",
        "One parachute, thrown out by the motor three seconds before the top, when the rocket still climbs fast.",
        _by_motor(4.8),
    ),
    Scenario(
        "ejection-in-time",
        "One parachute, thrown out by the motor within a second of the top, as it should be.",
        _by_motor(8.0),
    ),
    Scenario("past-mach-1", "A slim rocket goes past the speed of sound and lands under both parachutes.", mach_rocket),
    Scenario(
        "behind-the-trees",
        "The link is lost behind the trees just before the main's height, and nothing is heard any more.",
        _club(silences=(Silence(Moment.MAIN_FIRED, -2.5),)),
    ),
    Scenario(
        "drogue-open",
        "The drogue's igniter is not connected, as the altimeter says on the pad, and it is flown all the same.",
        _unconnected,
    ),
    Scenario(
        "drogue-stays-in",
        "The drogue's charge fires but nothing comes out; the rocket dives until the main stops it low down.",
        _club(drogue=Outcome.STAYS_IN),
    ),
    Scenario(
        "tangled-drogue",
        "The drogue comes out tangled and the rocket falls much too fast until the main opens.",
        _club(drogue=Outcome.TANGLED, tangled_share=0.12),
    ),
    Scenario(
        "tangled-main",
        "The main comes out tangled and the rocket lands much too fast.",
        _club(main=Outcome.TANGLED, tangled_share=0.15),
    ),
    Scenario(
        "main-at-apogee",
        "The drogue's charge throws the main out too, at the top: a long slow drift.",
        _club(main=Outcome.WITH_DROGUE),
    ),
    Scenario(
        "drogue-early",
        "The drogue's charge fires too early, while the rocket still climbs at some speed.",
        _club(drogue_shift_s=-2.5),
    ),
    Scenario(
        "drogue-late",
        "The drogue's charge fires three seconds after the top, when the rocket already dives.",
        _club(drogue_shift_s=3.0),
    ),
    Scenario(
        "both-at-once",
        "Both charges fire at the top and both parachutes come out together.",
        _club(both_at_once=True),
    ),
    Scenario(
        "ballistic",
        "No charge ever fires and the rocket comes in nose first; nothing is heard after it hits the ground.",
        _club(drogue=Outcome.SILENT, main=Outcome.SILENT, silences=(Silence(Moment.TOUCHDOWN, 0.0),)),
    ),
    Scenario(
        "restart-in-flight",
        "The altimeter loses power for a second under the drogue, counts from zero again, and goes on.",
        _club(restart=Restart(Moment.DROGUE_FIRED, 5.0, off_s=1.1)),
    ),
    Scenario(
        "satellite-fixes",
        "All as it should be in a fresh wind, and the altimeter tells where it is by satellite too.",
        _with_fixes,
    ),
    Scenario(
        "pad-gusts",
        "The rocket only waits on the pad, in strong gusts that shake it and play on its ports.",
        _on_the_pad(Mischief.GUSTS, 120.0),
    ),
    Scenario(
        "pad-lifted",
        "The rocket only waits; somebody lifts it, carries it about and tips it over, more than once.",
        _on_the_pad(Mischief.LIFTED, 120.0),
    ),
    Scenario(
        "pad-car-door",
        "The rocket lies in the car, switched on, and doors are slammed.",
        _on_the_pad(Mischief.CAR_DOOR, 90.0),
    ),
    Scenario(
        "pad-front",
        "The rocket waits on the pad for eight hours while a cold front goes through.",
        _on_the_pad(Mischief.FRONT, 8 * 3600.0, period_ms=200),
    ),
    Scenario(
        "pad-sun",
        "The rocket waits for forty minutes in the sun, and its bay gets hot.",
        _on_the_pad(Mischief.SUN, 2400.0, period_ms=100),
    ),
)
SCENARIOS: dict[str, Scenario] = {scenario.name: scenario for scenario in _ALL}
