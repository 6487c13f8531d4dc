"""A flown flight as arrays, and when charges fired in it: what every fit after landing looks at."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from station.charge_gas import gas_moments_s, with_unreported
from station.columns import column
from station.flight_state import Event, EventName
from station.flown_curve import FlownCurve
from station.pipeline import Pipeline

# A charge's gas spoils the readings for so long; what it throws out pulls no sooner than this.
SPIKE_S = 0.6
STRETCH_S = 0.3
# After the end of the burn the coast is one after so long.
COAST_GUARD_S = 0.25
# A charge that nobody reported: not sooner than this before apogee, not near the speed of sound.
EARLIEST_CHARGE_S = 8.0
FASTEST_CHARGE_MPS = 150.0


class FlownRecord:
    """Times in s from the first event (n,): `t`, `h` (m), `sigma` (m) and `force` (m/s^2) as measured, `live_...` (m,)
    as estimated while it flew (m, m/s, m/s^2).

    `reported_s`: when the altimeter said that charges fired; `fired_s`: these, and those that only the heights show.
    """

    def __init__(self, pipeline: Pipeline, curve: FlownCurve) -> None:
        tracker = pipeline.tracker
        self.origin_ms = tracker.events[0].t_ms
        track = tracker.track
        self.curve = curve
        self.t, self.h, self.sigma, self.force = curve.t_s, curve.altitude_m, curve.sigma_m, curve.gained_mps2
        self.live_t = (column([e.t_ms for e in track]) - self.origin_ms) / 1000.0
        self.live_h = column([e.altitude_m for e in track])
        self.live_v = column([e.velocity_mps for e in track])
        self.live_a = column([e.acceleration_mps2 for e in track])
        self.reported_s = [
            self.seconds(c.fired_ms) for c in pipeline.channels.reports(pipeline.unit) if c.fired_ms is not None
        ]
        events = {event.name: event for event in tracker.events}
        self.fired_s = with_unreported(self.reported_s, self._gas_s(events))

    def seconds(self, t_ms: float) -> float:
        """A moment of the flight's time line, from the first event."""
        return (t_ms - self.origin_ms) / 1000.0

    def without_spikes(self, use: NDArray[np.bool_], spoilt_s: float = SPIKE_S) -> NDArray[np.bool_]:
        """The samples in use but for those that a firing charge has spoilt, for so long."""
        for fired in self.fired_s:
            use = use & ((self.t < fired) | (self.t > fired + spoilt_s))
        return use

    def _gas_s(self, events: Mapping[EventName, Event]) -> list[float]:
        """When the heights show a charge's gas; where the rocket is fast it may be the shock at the ports."""
        apogee = events.get(EventName.APOGEE)
        if apogee is None:
            return []
        look = self.t > self.seconds(apogee.t_ms) - EARLIEST_CHARGE_S
        touchdown = events.get(EventName.TOUCHDOWN)
        if touchdown is not None:
            look &= self.t < self.seconds(touchdown.t_ms)
        t, velocity = self.t[look], self.curve.velocity_mps[look]
        slow = np.abs(velocity) < FASTEST_CHARGE_MPS
        return gas_moments_s(t[slow], self.h[look][slow], self.sigma[look][slow], velocity[slow])
