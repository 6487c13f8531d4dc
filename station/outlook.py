"""What is still to come, with its error bar: the apogee while coasting, main height and touchdown while descending.

Looked up when somebody asks and not at every line. The answer rests on the samples so far alone, however often it is
asked for.

The climb: `CoastDrag` fits height, speed and drag to the samples since burnout; the way to the top follows from them.
The fall under one parachute: with speed v at the pad's density it is v sqrt(rho_pad/rho(h)) at height h, so

    t = 1/v  integral of sqrt(rho(h)/rho_pad) dh,  rho(h)/rho_pad = (1 - L h/T)^n

Touchdown is the return to the pad's height, on ground that is level within `GROUND_SIGMA_M`. Above the main's height
under a smaller parachute it counts on the main: at the plan's rate, else at a usual one with a wide error bar; where
the main's height is not known there is no answer. Once the main is overdue the answer is for what the rocket hangs
from now. With nothing that holds it, and once it is faster than any drogue lets it be, the fall goes on with the drag
that it has.
"""

from bisect import bisect_left
from collections.abc import Sequence
from math import exp, hypot, sqrt

from station.atmosphere import (
    DENSITY_EXPONENT,
    G0_MPS2,
    LAPSE_K_PER_M,
    SEA_LEVEL_PRESSURE_PA,
    density_ratio,
    metres_per_pascal,
)
from station.coast_drag import CoastDrag, mach_at
from station.coast_top import top_of
from station.fast_descent import BARE_MPS
from station.flight_state import Deployment, Estimate, EventName, Outlook, Phase
from station.flight_tracker import FlightTracker
from station.plan import FlightPlan
from station.records import Role
from station.stretch import Stretch

# Above this Mach number of the vertical speed the pressure is not trusted: some of the speed is sideways.
TRUSTED_MACH = 0.76
# With nothing but pressure a fit that began after the shock must prove itself for so long.
PROVES_S = 2.0
LINE_MS = 500.0
LINE_LEAST = 4
FORCE_RECENT_MS = 500.0
FORCE_SIGMA_MPS2 = 0.5
# The port's lag, and the wind across, which the vertical speed does not show.
APOGEE_FLOOR_S = 0.035
# The wind over the ports while the pad's pressure was taken, and what the drag's law leaves out.
APOGEE_FLOOR_M = 0.5
APOGEE_FLOOR_FRACTION = 0.005
# A pressure sensor is this far off in all it says (data sheets of hobby barometers allow 0.5 to 1.5 hPa); above the
# pad a pascal is more metres than at it.
PRESSURE_OFFSET_PA = 70.0
GROUND_SIGMA_M = 4.0
PLACE_SIGMA_M = 2.0
# Rising and sinking air: its size and how long it lasts.
AIR_SIGMA_MPS = 0.6
AIR_LASTS_S = 4.0
SETTLES_S = 2.0
LEAST_MEAN_S = 1.0
UNSETTLED_SIGMA = 0.3
# A parachute's rate is not quite the same all the way.
RATE_CHANGES = 0.005
# A bare airframe tumbles or turns its nose down, and its drag with it.
BARE_SIGMA = 0.04
# Mains are made for 4 to 7.5 m/s at sea level and set to 100 to 250 m (common practice, no source).
USUAL_MAIN_MPS = 5.7
USUAL_MAIN_SIGMA_MPS = 1.2
USUAL_MAIN_HEIGHT_M = 150.0
PLANNED_RATE_SIGMA = 0.08
MAIN_OPENS_S = 1.2
MAIN_OPENS_SIGMA_S = 0.4
MAIN_OVERDUE_S = 3.0
MAIN_LIKE_FRACTION = 1.5
SLOWEST_FALL_MPS = 1.0


class LookAhead:
    """Remembers the coast's fit between two questions."""

    def __init__(self) -> None:
        self._coast: CoastDrag | None = None
        self._taken = 0
        self._was_fast = False

    def outlook(
        self,
        tracker: FlightTracker,
        deployments: Sequence[Deployment],
        main_height_m: float | None,
        plan: FlightPlan | None,
    ) -> Outlook | None:
        """What is to come of this flight; None when there is nothing to tell.

        `main_height_m`: where the main should be fired, true metres above the pad.
        """
        if tracker.motion is None or not tracker.track:
            return None
        kelvin = tracker.motion.pad_kelvin
        if tracker.phase is Phase.COAST:
            return self._climb(tracker, kelvin)
        if tracker.phase is Phase.DESCENT and tracker.descent is not None:
            return _fall(tracker.track, tracker.descent.current(), deployments, main_height_m, plan, kelvin)
        return None

    # -- climb -------------------------------------------------------------------------------------------------

    def _climb(self, tracker: FlightTracker, kelvin: float) -> Outlook | None:
        self._fit(tracker, kelvin)
        coast = self._coast
        if coast is not None:
            begun_s = (coast.t_ms - coast.start_ms) / 1000.0
            if coast.lost or (begun_s < PROVES_S and self._by_pressure_alone(tracker)):
                return None
        elif self._by_pressure_alone(tracker):
            return None
        else:
            # Too fast for the pressure: by the accelerometer, with drag as it is felt now.
            coast = _begun(tracker.track[-1], tracker, kelvin)
        return _top(coast, kelvin, tracker.pad.pressure_pa or SEA_LEVEL_PRESSURE_PA)

    def _by_pressure_alone(self, tracker: FlightTracker) -> bool:
        """Fast once, and nothing but pressure to say how fast: the estimates are not to be trusted yet."""
        return self._was_fast and tracker.last_force_ms is None

    def _fit(self, tracker: FlightTracker, kelvin: float) -> None:
        """Take in the samples that have come since the last question."""
        burnout = tracker.event(EventName.BURNOUT)
        flown, track = tracker.flown, tracker.track
        if burnout is None:
            return
        count = min(len(flown), len(track))
        for n in range(self._taken, count):
            sample, estimate = flown[n], track[n]
            mach = mach_at(estimate.altitude_m, estimate.velocity_mps, kelvin)
            if mach > TRUSTED_MACH:
                self._was_fast = True
            if sample.t_ms <= burnout.called_t_ms:
                continue
            alone = self._by_pressure_alone(tracker)
            if mach > TRUSTED_MACH and not alone:
                self._coast = None
                continue
            share = 1.0 - LAPSE_K_PER_M * estimate.altitude_m / kelvin
            noise_m = tracker.pad.noise_pa * metres_per_pascal(sample.pressure_pa, kelvin * max(0.7, share))
            coast = self._coast
            if coast is None and not alone:
                self._coast = _begun(estimate, tracker, kelvin)
            elif coast is None or coast.lost or (alone and coast.mach > TRUSTED_MACH):
                recent = [
                    (s.t_ms, s.altitude_m) for s in flown[max(0, n - 50) : n + 1] if sample.t_ms - s.t_ms <= LINE_MS
                ]
                self._coast = CoastDrag.through(recent, noise_m, kelvin) if len(recent) >= LINE_LEAST else None
            else:
                coast.take(sample.t_ms, sample.altitude_m, noise_m * noise_m)
        self._taken = count


def _begun(estimate: Estimate, tracker: FlightTracker, kelvin: float) -> CoastDrag:
    """A fit begun from the live estimate; an accelerometer has felt the drag too."""
    coast = CoastDrag(
        estimate.t_ms,
        estimate.altitude_m,
        estimate.velocity_mps,
        2.0 * estimate.altitude_sigma_m,
        2.0 * estimate.velocity_sigma_mps + 1.0,
        kelvin,
    )
    if tracker.last_force_ms is not None and estimate.t_ms - tracker.last_force_ms < FORCE_RECENT_MS:
        coast.take_deceleration(estimate.acceleration_mps2, 2.0 * estimate.acceleration_sigma_mps2 + FORCE_SIGMA_MPS2)
    return coast


def _top(coast: CoastDrag, kelvin: float, pad_pressure_pa: float) -> Outlook:
    seconds, metres, sigma_s, sigma_m = top_of(coast)
    height_m = coast.h + metres
    floor_m = APOGEE_FLOOR_M + APOGEE_FLOOR_FRACTION * metres
    return Outlook(
        coast.t_ms + 1000.0 * seconds,
        hypot(sigma_s, APOGEE_FLOOR_S),
        height_m,
        hypot(sigma_m, floor_m, _offset_m(height_m, kelvin, pad_pressure_pa)),
    )


def _offset_m(height_m: float, kelvin: float, pad_pressure_pa: float) -> float:
    """What a constant error of the pressure makes of a height above the pad."""
    share = max(0.5, 1.0 - LAPSE_K_PER_M * height_m / kelvin)
    there = metres_per_pascal(pad_pressure_pa * share ** (DENSITY_EXPONENT + 1.0), kelvin * share)
    return PRESSURE_OFFSET_PA * (there - metres_per_pascal(pad_pressure_pa, kelvin))


# -- fall ------------------------------------------------------------------------------------------------------


def sinking_m(height_m: float, pad_kelvin: float) -> float:
    """Integral of sqrt(rho/rho_pad) from the pad to a height (m): what is lost of it in a second is the rate."""
    power = 0.5 * DENSITY_EXPONENT + 1.0
    scale_m = pad_kelvin / LAPSE_K_PER_M
    share: float = max(0.5, 1.0 - height_m / scale_m) ** power
    return scale_m / power * (1.0 - share)


def _fall(
    track: Sequence[Estimate],
    hold: Stretch,
    deployments: Sequence[Deployment],
    main_height_m: float | None,
    plan: FlightPlan | None,
    kelvin: float,
) -> Outlook | None:
    now = track[-1]
    height = now.altitude_m
    if hold.opened_ms is None:
        opens_m = USUAL_MAIN_HEIGHT_M if main_height_m is None else main_height_m
        return _bare_fall(now, kelvin, deployments, opens_m, plan)
    rate, rate_sigma = _rate(track, hold, kelvin)
    if rate is None:
        return None
    top = sinking_m(height, kelvin)
    to_main_ms = to_main_sigma = None
    if main_height_m is not None and height > main_height_m:
        seconds = (top - sinking_m(main_height_m, kelvin)) / rate
        to_main_ms = now.t_ms + 1000.0 * seconds
        to_main_sigma = _fall_sigma_s(seconds, rate, rate_sigma, PLACE_SIGMA_M)
    main = _main_to_come(deployments, plan, rate)
    if height <= 0.0 or (main is not None and main_height_m is None):
        return None
    if main is not None and main_height_m is not None and height > main_height_m - MAIN_OVERDUE_S * rate:
        main_rate, main_sigma = main
        opened = max(0.0, min(top, sinking_m(main_height_m, kelvin)) - MAIN_OPENS_S * rate)
        first_s, last_s = (top - opened) / rate, opened / main_rate
        opens_sigma_s = MAIN_OPENS_SIGMA_S * (rate / main_rate - 1.0)
        seconds = first_s + last_s
        sigma = hypot(
            _fall_sigma_s(first_s, rate, rate_sigma, 0.0),
            _fall_sigma_s(last_s, main_rate, main_sigma, GROUND_SIGMA_M),
            opens_sigma_s,
        )
    else:
        seconds = top / rate
        sigma = _fall_sigma_s(seconds, rate, rate_sigma, GROUND_SIGMA_M)
    return Outlook(
        main_height_t_ms=to_main_ms,
        main_height_t_sigma_s=to_main_sigma,
        touchdown_t_ms=now.t_ms + 1000.0 * seconds,
        touchdown_t_sigma_s=sigma,
    )


def _bare_fall(
    now: Estimate, kelvin: float, deployments: Sequence[Deployment], main_height_m: float, plan: FlightPlan | None
) -> Outlook | None:
    """With nothing that holds it: the drag of now stays. Not told before it is faster than any drogue lets it be.

    A main may still open. The time told is the earlier one, for people must be out of the way by then; two standard
    deviations reach to the other.
    """
    density = density_ratio(now.altitude_m, kelvin)
    speed = -now.velocity_mps
    if now.altitude_m <= 0.0 or speed * density**0.5 < BARE_MPS:
        return None
    over = density * speed * speed
    drag = (now.acceleration_mps2 + G0_MPS2) / over
    drag_sigma = now.acceleration_sigma_mps2 / over
    seconds = seconds_to_ground(now.altitude_m, speed, drag, kelvin)
    by_speed = seconds_to_ground(now.altitude_m, speed + now.velocity_sigma_mps, drag, kelvin) - seconds
    by_drag = seconds_to_ground(now.altitude_m, speed, max(0.0, drag) + drag_sigma, kelvin) - seconds
    main = _main_to_come(deployments, plan, speed * density**0.5)
    longer = 0.0
    if main is not None and now.altitude_m > main_height_m:
        main_rate, main_sigma = main
        under_main_s = sinking_m(main_height_m, kelvin) / (main_rate - main_sigma)
        longer = max(0.0, under_main_s - seconds * main_height_m / now.altitude_m)
    sigma = hypot(by_speed, by_drag, GROUND_SIGMA_M / speed, BARE_SIGMA * seconds, 0.5 * longer)
    return Outlook(touchdown_t_ms=now.t_ms + 1000.0 * seconds, touchdown_t_sigma_s=sigma)


def seconds_to_ground(height_m: float, speed_mps: float, drag_per_m: float, pad_kelvin: float) -> float:
    """Time to fall to the pad's height from a speed (m/s, + down) with drag k (1/m at the pad's density).

    With the height as the variable, dw/ds = 2 (g - k rho/rho_pad w) for w = v^2, in fourth-order Runge-Kutta steps.
    """
    k = max(0.0, drag_per_m)
    steps = 24
    ds = height_m / steps
    w = speed_mps * speed_mps
    seconds = 0.0

    def gain(fallen_m: float, square: float) -> float:
        return 2.0 * (G0_MPS2 - k * density_ratio(height_m - fallen_m, pad_kelvin) * square)

    for n in range(steps):
        s = n * ds
        g1 = gain(s, w)
        g2 = gain(s + 0.5 * ds, w + 0.5 * ds * g1)
        g3 = gain(s + 0.5 * ds, w + 0.5 * ds * g2)
        g4 = gain(s + ds, w + ds * g3)
        middle = w + 0.25 * ds * (g1 + g2)
        after = w + ds / 6.0 * (g1 + 2.0 * g2 + 2.0 * g3 + g4)
        # Simpson's rule for the time, ds/v.
        seconds += ds / 6.0 * (w**-0.5 + 4.0 * middle**-0.5 + after**-0.5)
        w = after
    return seconds


def _rate(track: Sequence[Estimate], hold: Stretch, kelvin: float) -> tuple[float | None, float]:
    """Rate of fall at the pad's density under what holds now (m/s, + down), and its standard deviation."""
    now = track[-1]
    settled_ms = (hold.opened_ms or hold.start_ms) + 1000.0 * SETTLES_S
    first = track[min(bisect_left(track, settled_ms, key=lambda e: e.t_ms), len(track) - 1)]
    seconds = (now.t_ms - first.t_ms) / 1000.0
    if seconds < LEAST_MEAN_S:
        rate = hold.rate_mps
        return (rate, UNSETTLED_SIGMA * rate) if rate is not None and rate > SLOWEST_FALL_MPS else (None, 0.0)
    rate = (sinking_m(first.altitude_m, kelvin) - sinking_m(now.altitude_m, kelvin)) / seconds
    if rate < SLOWEST_FALL_MPS:
        return None, 0.0
    unsure_m = hypot(first.altitude_sigma_m, now.altitude_sigma_m)
    return rate, hypot(unsure_m / seconds, AIR_SIGMA_MPS * _mean_share(seconds), RATE_CHANGES * rate)


def _main_to_come(
    deployments: Sequence[Deployment], plan: FlightPlan | None, rate: float
) -> tuple[float, float] | None:
    """Rate of the main that is still to open and its standard deviation (m/s); None when there is none to come."""
    if {d.role for d in deployments} != {Role.DROGUE, Role.MAIN}:
        return None
    if any(d.role is Role.MAIN and d.opened_t_ms is not None for d in deployments):
        return None
    planned = plan.main_rate_mps if plan is not None else None
    main = (USUAL_MAIN_MPS, USUAL_MAIN_SIGMA_MPS) if planned is None else (planned, PLANNED_RATE_SIGMA * planned)
    return main if rate > MAIN_LIKE_FRACTION * main[0] else None


def _fall_sigma_s(seconds: float, rate_mps: float, rate_sigma_mps: float, height_sigma_m: float) -> float:
    """Standard deviation of a time of fall: rate not known well, air that rises and sinks, height not known well."""
    air_mps = AIR_SIGMA_MPS * _mean_share(seconds)
    return hypot(seconds * rate_sigma_mps, seconds * air_mps, height_sigma_m) / rate_mps


def _mean_share(seconds: float) -> float:
    """How much of the air's sigma is left in its mean over a time (of a first-order Gauss-Markov series)."""
    x = seconds / AIR_LASTS_S
    return sqrt(2.0 / x * (1.0 - (1.0 - exp(-x)) / x)) if x > 1e-3 else 1.0
