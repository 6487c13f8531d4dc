"""What the whole record, looked at after landing, says of a flight's events and descent."""

from dataclasses import dataclass, replace

from station.descent import Stretch
from station.flight_state import Event, EventName

# The end of a burn that is known no better (s) was not observed, and so the speed then neither.
UNSEEN_BURNOUT_S = 0.7


@dataclass(frozen=True, slots=True)
class RefinedFlight:
    """Events in order (without the parachutes), the descent's stretches, top speed (m/s) and acceleration (m/s^2)."""

    events: tuple[Event, ...]
    stretches: tuple[Stretch, ...]
    max_speed_mps: float | None
    max_acceleration_mps2: float | None

    def observed(self) -> "RefinedFlight":
        """What of it was observed, to be told: without what a silence hid and nothing before it or after it tells."""
        known = tuple(event for event in self.events if event.height_is_known)
        burnout = next((event for event in known if event.name is EventName.BURNOUT), None)
        if burnout is None or burnout.sigma_s <= UNSEEN_BURNOUT_S:
            return replace(self, events=known)
        rest = tuple(event for event in known if event is not burnout)
        return replace(self, events=rest, max_speed_mps=None, max_acceleration_mps2=None)
