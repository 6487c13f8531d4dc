"""Flights by name, for a person to try: each with one sentence that says what happens."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from station.virtual.air import Day
from station.virtual.altimeter import Altimeter
from station.virtual.chance import stream
from station.virtual.flight_setup import Faults, FlightSetup
from station.virtual.rocket import Motor, Parachute, Recovery, Rocket


@dataclass(frozen=True, slots=True)
class Scenario:
    """A named kind of flight; `setup` makes the flight's settings from a seed."""

    name: str
    description: str
    setup: Callable[[int], FlightSetup]


def club_rocket(seed: int) -> FlightSetup:
    """A 1 kg rocket with two parachutes that climbs about 400 m; the seed varies wind and weather."""
    chance = stream(seed, "day")
    wind, warmth, weather, gust = (float(v) for v in chance.random_sample(4))
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
            propellant_mass_kg=0.055,
            case_mass_kg=0.11,
        ),
        recovery=Recovery(
            drogue=Parachute(drag_area_m2=0.045, diameter_m=0.30, stretch_s=0.35),
            main=Parachute(drag_area_m2=0.62, diameter_m=0.90, stretch_s=0.45),
        ),
        day=Day(
            pad_pressure_pa=97300.0 + 900.0 * weather,
            pad_temperature_c=14.0 + 8.0 * warmth,
            ground_wind_mps=1.5 + 2.0 * wind,
            high_wind_mps=4.0 + 4.0 * wind,
            gust_mps=0.4 + 0.4 * gust,
            vertical_gust_mps=0.2,
        ),
        altimeter=Altimeter(main_altitude_m=120.0),
    )


def _with(faults: Faults) -> Callable[[int], FlightSetup]:
    return lambda seed: replace(club_rocket(seed), faults=faults)


_ALL = (Scenario("nominal-dual", "Drogue at apogee, main at its height: all as it should be.", club_rocket),)
SCENARIOS: dict[str, Scenario] = {scenario.name: scenario for scenario in _ALL}
