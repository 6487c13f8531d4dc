"""What a rocket does by itself, in still air: by it the faults, and a motor's delay, are timed."""

from dataclasses import dataclass

from station.virtual.air import Day
from station.virtual.flight_physics import FlightPhysics
from station.virtual.rocket import Motor, Rocket


@dataclass(frozen=True, slots=True)
class Ascent:
    """What the rocket would do by itself, in still air: seconds since burnout, metres."""

    coast_s: float
    apogee_m: float


def ascent_in_still_air(rocket: Rocket, motor: Motor, day: Day) -> Ascent:
    """Fly it up to its highest point."""
    physics = FlightPhysics(rocket, motor, day)
    while physics.path.vz[-1] > 0.0:
        physics.fly_to(physics.path.t[-1] + 2.0)
    return Ascent(physics.path.t[-1] - motor.thrust_curve[-1][0], max(physics.path.z))
