"""What the whole record, looked at after landing, says of a flight's events and descent."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from station.flight_state import Event, EventName
from station.stretch import Stretch
from station.unseen_top import braked_sigmas


@dataclass(frozen=True, slots=True)
class RefinedFlight:
    """Events in order (without the parachutes), the descent's stretches, top speed (m/s) and acceleration (m/s^2)."""

    events: tuple[Event, ...]
    stretches: tuple[Stretch, ...]
    max_speed_mps: float | None
    max_acceleration_mps2: float | None

    def observed(self, fired_ms: Iterable[float]) -> "RefinedFlight":
        """What of it was observed, to be told: without what a silence hid and nothing before it or after it tells.

        `fired_ms`: when charges fired, each of which may have ended a climb that was not seen to its end.
        """
        fired = tuple(fired_ms)
        known = tuple(each for each in (_braked(event, fired) for event in self.events) if each.height_is_known)
        burnout = next((event for event in self.events if event.name is EventName.BURNOUT), None)
        past_it = any(event.name is EventName.APOGEE for event in self.events)
        if burnout.height_is_known if burnout is not None else not past_it:
            return replace(self, events=known)
        # Without the end of the burn, neither the highest speed nor how hard it was pushed was observed.
        return replace(self, events=known, max_speed_mps=None, max_acceleration_mps2=None)


def _braked(event: Event, fired_ms: tuple[float, ...]) -> Event:
    """The event, an unseen apogee less sure by what a parachute that came out before it may have changed."""
    before = [t_ms for t_ms in fired_ms if t_ms < event.t_ms]
    if event.name is not EventName.APOGEE or event.altitude_sigma_m is None or not before:
        return event
    braked_s, braked_m = braked_sigmas(min(before), event.t_ms)
    return replace(event, sigma_s=max(event.sigma_s, braked_s), altitude_sigma_m=max(event.altitude_sigma_m, braked_m))
