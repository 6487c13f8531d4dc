"""What the whole record, looked at after landing, says of a flight's events and descent."""

from dataclasses import dataclass

from station.descent import Stretch
from station.flight_state import Event


@dataclass(frozen=True, slots=True)
class RefinedFlight:
    """Events in order (without the parachutes), the descent's stretches, top speed (m/s) and acceleration (m/s^2)."""

    events: tuple[Event, ...]
    stretches: tuple[Stretch, ...]
    max_speed_mps: float | None
    max_acceleration_mps2: float | None
