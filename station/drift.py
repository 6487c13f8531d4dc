"""Where the wind would have taken the rocket: a wedge down the wind, for a flight without satellite fixes. Pure.

What drifts is what hangs: distance = the wind at each height times the time spent there, from apogee to the ground. The
time comes from the flight. Nobody has measured the wind aloft, so the wedge goes between two guesses:

- at least: the plan's wind at every height, less what the rocket leaned into the wind on its way to the apogee
  (`UPWIND_DEG`);
- at most: the plan's wind measured by hand at 2 m, growing with height by the one-seventh power law, which is common in
  wind engineering for flat open land (from memory), and a climb that leaned the other way (`DOWNWIND_DEG`).

It opens by `HALF_WIDTH_DEG` to each side: a wind is told to the nearest of eight directions, and it turns with height.
Leans and width are common practice, no source. A wedge is where to look first, no more.

What was not heard of the descent is reckoned: the shortest fall goes on at the last rate, the longest is slowed by
the main from its height on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians, tan

from station.flight_state import Estimate, EventName
from station.flight_tracker import FlightTracker
from station.plan import FlightPlan
from station.whereabouts import DriftWedge

MEASURED_AT_M = 2.0
POWER = 1.0 / 7.0
UPWIND_DEG = 10.0
DOWNWIND_DEG = 5.0
HALF_WIDTH_DEG = 30.0
USUAL_MAIN_RATE_MPS = 5.5
SLOWED_SHARE = 1.5
RATE_WINDOW_MS = 3000.0
LEAST_RATE_MPS = 1.0


@dataclass(frozen=True, slots=True)
class Main:
    """Height (m above the pad) at which the main should open, and the rate then."""

    height_m: float
    rate_mps: float


@dataclass(frozen=True, slots=True)
class AirTime:
    """Seconds in the air, as they are and each weighted by how much more wind there is at its height."""

    seconds: float = 0.0
    windy_s: float = 0.0

    def plus(self, other: "AirTime") -> "AirTime":
        """Both together."""
        return AirTime(self.seconds + other.seconds, self.windy_s + other.windy_s)


def growth(height_m: float) -> float:
    """How many times the wind at 2 m blows at a height above the ground, by the power law."""
    return float(max(1.0, height_m / MEASURED_AT_M) ** POWER)


def fall(from_m: float, to_m: float, rate_mps: float) -> AirTime:
    """The air time of a steady fall between two heights; the power law summed over them in closed form."""
    high, low = max(from_m, 0.0), max(to_m, 0.0)
    if high <= low:
        return AirTime()
    return AirTime((high - low) / rate_mps, (_growth_up_to(high) - _growth_up_to(low)) / rate_mps)


def still_to_fall(from_m: float, rate_mps: float, main: Main | None) -> tuple[AirTime, AirTime]:
    """The shortest and the longest rest of a descent: at this rate to the ground, or slowed by the main on the way.

    The main counts only below its height, and only for a rocket that comes down well faster than under it.
    """
    at_this_rate = fall(from_m, 0.0, rate_mps)
    if main is None or rate_mps < SLOWED_SHARE * main.rate_mps:
        return at_this_rate, at_this_rate
    opens_m = min(from_m, main.height_m)
    slowed = fall(from_m, opens_m, rate_mps).plus(fall(opens_m, 0.0, main.rate_mps))
    return at_this_rate, slowed


def planned_main(main_height_m: float | None, plan: FlightPlan | None) -> Main | None:
    """The main at its height, at the plan's rate, else the usual one (common practice, no source)."""
    if main_height_m is None:
        return None
    rate_mps = plan.main_rate_mps if plan is not None else None
    return Main(main_height_m, USUAL_MAIN_RATE_MPS if rate_mps is None else rate_mps)


class WindDrift:
    """Adds up the air time of the heard descent, each point of the track once, and says where the wind took it."""

    def __init__(self) -> None:
        self._next = 0
        self._before: Estimate | None = None
        self._time = AirTime()

    def wedge(self, tracker: FlightTracker, plan: FlightPlan | None, main_height_m: float | None) -> DriftWedge | None:
        """The wedge; None before apogee, without a wind in the plan, and when it hardly comes down yet."""
        apogee, touchdown = tracker.event(EventName.APOGEE), tracker.event(EventName.TOUCHDOWN)
        if apogee is None or plan is None or plan.wind_mps is None:
            return None
        shortest = longest = self._heard(tracker.track, apogee.t_ms, None if touchdown is None else touchdown.t_ms)
        if touchdown is None:
            rate_mps = sinking_mps(tracker.track, apogee.t_ms)
            if rate_mps is None:
                return None
            rests = still_to_fall(tracker.track[-1].altitude_m, rate_mps, planned_main(main_height_m, plan))
            shortest, longest = shortest.plus(rests[0]), longest.plus(rests[1])
        return wedge_between(
            shortest,
            longest,
            apogee.altitude_m,
            plan.wind_mps,
            plan.wind_from_deg,
            heard_down=touchdown is not None,
        )

    def _heard(self, track: Sequence[Estimate], apogee_ms: float, touchdown_ms: float | None) -> AirTime:
        while self._next < len(track):
            estimate = track[self._next]
            if touchdown_ms is not None and estimate.t_ms > touchdown_ms:
                break
            self._next += 1
            if estimate.t_ms < apogee_ms:
                continue
            if (before := self._before) is not None:
                seconds = (estimate.t_ms - before.t_ms) / 1000.0
                height_m = (estimate.altitude_m + before.altitude_m) / 2.0
                self._time = self._time.plus(AirTime(seconds, seconds * growth(height_m)))
            self._before = estimate
        return self._time


def wedge_between(
    shortest: AirTime,
    longest: AirTime,
    apogee_m: float,
    wind_mps: float,
    wind_from_deg: float | None,
    *,
    heard_down: bool,
) -> DriftWedge:
    """The wedge for a descent that took between two air times."""
    height_m = max(0.0, apogee_m)
    to_deg = None if wind_from_deg is None else wind_from_deg + 180.0
    return DriftWedge(
        least_m=max(0.0, wind_mps * shortest.seconds - height_m * tan(radians(UPWIND_DEG))),
        most_m=wind_mps * longest.windy_s + height_m * tan(radians(DOWNWIND_DEG)),
        from_deg=None if to_deg is None else (to_deg - HALF_WIDTH_DEG) % 360.0,
        to_deg=None if to_deg is None else (to_deg + HALF_WIDTH_DEG) % 360.0,
        wind_mps=wind_mps,
        wind_from_deg=wind_from_deg,
        time_s=(shortest.seconds + longest.seconds) / 2.0,
        heard_down=heard_down,
    )


def sinking_mps(track: Sequence[Estimate], apogee_ms: float) -> float | None:
    """The mean descent rate over the last seconds of a track; None if it hardly comes down."""
    last = first = track[-1]
    for estimate in reversed(track):
        if estimate.t_ms < apogee_ms or last.t_ms - estimate.t_ms > RATE_WINDOW_MS:
            break
        first = estimate
    if last.t_ms <= first.t_ms:
        return None
    rate = 1000.0 * (first.altitude_m - last.altitude_m) / (last.t_ms - first.t_ms)
    return rate if rate >= LEAST_RATE_MPS else None


def _growth_up_to(height_m: float) -> float:
    """The growth summed from the ground to a height, m: 1 up to 2 m, above that the power law's integral."""
    if height_m <= MEASURED_AT_M:
        return height_m
    above = MEASURED_AT_M / (POWER + 1.0) * ((height_m / MEASURED_AT_M) ** (POWER + 1.0) - 1.0)
    return float(MEASURED_AT_M + above)
