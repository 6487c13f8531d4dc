"""The live look at whether the motor threw the parachute out in the climb: once, some seconds after the top.

By then the descent under the parachute is known, and the climb before it can be looked at as a whole. The look rests on
the samples up to a fixed moment, so that it is the same however the lines came and whenever somebody asks.
"""

from collections.abc import Sequence

from station.coasting import Coasting, observe_coast
from station.flight_state import Deployment, EventName
from station.flight_tracker import FlightTracker
from station.flown_curve import flown_curve
from station.openings import with_openings
from station.top_opening import AFTER_TOP_S, BEFORE_OPENING_S, TopOpening, find_top_opening


class OpeningWatch:
    """Keeps what the one look found."""

    def __init__(self) -> None:
        self.looked = False
        self._opening: TopOpening | None = None
        self._coasting: Coasting | None = None

    def is_due(self, tracker: FlightTracker) -> bool:
        """It is time for the look, which has not been taken yet. Asked after each sample of the descent until then."""
        if self.looked or tracker.descent is None or tracker.last_sample_ms is None:
            return False
        apogee = tracker.event(EventName.APOGEE)
        return apogee is not None and tracker.last_sample_ms >= apogee.t_ms + 1000.0 * AFTER_TOP_S

    def look(self, tracker: FlightTracker, *, by_motor: bool) -> None:
        """Look, once."""
        self.looked = True
        liftoff, burnout = tracker.event(EventName.LIFTOFF), tracker.event(EventName.BURNOUT)
        apogee, motion = tracker.event(EventName.APOGEE), tracker.motion
        held = [s for s in tracker.stretches() if s.opened_ms is not None and s.is_steady and s.rate_mps is not None]
        if not by_motor or liftoff is None or burnout is None or apogee is None or motion is None or not held:
            return
        curve = flown_curve(tracker.flown, tracker.track, liftoff.t_ms, tracker.pad.noise_pa, motion.pad_kelvin)
        rate_mps = held[-1].rate_mps
        if curve is None or rate_mps is None:
            return
        burnout_s, apogee_s = ((event.t_ms - liftoff.t_ms) / 1000.0 for event in (burnout, apogee))
        self._opening = find_top_opening(curve, burnout_s, apogee_s, rate_mps)
        if self._opening is not None:
            self._coasting = observe_coast(curve, burnout_s, self._opening.t_s - BEFORE_OPENING_S, motion.pad_kelvin)

    def told(self, deployments: Sequence[Deployment], tracker: FlightTracker) -> tuple[Deployment, ...]:
        """The deployments, one that was out in the climb as `early`."""
        if self._opening is None or not self._opening.in_the_climb:
            return tuple(deployments)
        return with_openings(
            deployments,
            by_motor=True,
            liftoff=tracker.event(EventName.LIFTOFF),
            apogee=tracker.event(EventName.APOGEE),
            coasting=self._coasting,
            opening=self._opening,
        )
