"""What is still to come, with its error bar: the apogee while coasting, main height and touchdown while descending.

Looked up when somebody asks and not at every line. The answer rests on the samples so far alone, however often it is
asked for.

The climb: `CoastDrag` fits height, speed and drag to the samples since burnout; the way to the top follows from them.
The fall under one parachute: at one speed v at the pad's density it is v sqrt(rho_pad/rho(h)) at height h, so

    t = 1/v  integral of sqrt(rho(h)/rho_pad) dh,  rho(h)/rho_pad = (1 - L h/T)^n

Touchdown is the return to the pad's height, on ground that is level within `GROUND_SIGMA_M`. Above the main's height
under a smaller parachute it counts on the main: at the plan's rate, else at a usual one with a wide error bar; where
the main's height is not known there is no answer. Once the main is overdue the answer is for what the rocket hangs
from now; with nothing that holds it there is none.
"""

from collections.abc import Sequence
from math import exp, sqrt

from station.atmosphere import DENSITY_EXPONENT, G0_MPS2, LAPSE_K_PER_M, speed_of_sound_mps
from station.coast_drag import CoastDrag, way_to_top
from station.descent import Stretch
from station.flight_state import Deployment, Estimate, EventName, Outlook, Phase
from station.flight_tracker import FlightTracker
from station.plan import FlightPlan
from station.records import Role

# Above this Mach number drag per speed squared is no constant, and pressure is not to be trusted.
TRANSONIC_MACH = 0.8
TRANSONIC_DRAG_SIGMA = 0.3
# The port's lag, and the wind across, which the vertical speed does not show.
APOGEE_FLOOR_S = 0.05
APOGEE_FLOOR_M = 0.5
APOGEE_FLOOR_FRACTION = 0.005
GROUND_SIGMA_M = 4.0
# Rising and sinking air: its size and how long it lasts.
AIR_SIGMA_MPS = 0.5
AIR_LASTS_S = 4.0
USUAL_MAIN_MPS = 5.5
USUAL_MAIN_SIGMA_MPS = 1.1
PLANNED_RATE_SIGMA = 0.1
MAIN_OPENS_S = 1.2
MAIN_OPENS_SIGMA_S = 0.5
MAIN_OVERDUE_S = 3.0
MAIN_LIKE_FRACTION = 1.5
SLOWEST_FALL_MPS = 1.0


class LookAhead:
    """Remembers the coast's fit between two questions."""

    def __init__(self) -> None:
        self._coast: CoastDrag | None = None
        self._taken = 0

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
        estimate = tracker.estimate
        motion = tracker.motion
        if estimate is None or motion is None:
            return None
        if tracker.phase is Phase.COAST:
            return self._climb(tracker, estimate, motion.pad_kelvin)
        if tracker.phase is Phase.DESCENT and tracker.descent is not None:
            return _fall(estimate, tracker.descent.current(), deployments, main_height_m, plan, motion.pad_kelvin)
        return None

    # -- climb -------------------------------------------------------------------------------------------------

    def _climb(self, tracker: FlightTracker, estimate: Estimate, kelvin: float) -> Outlook:
        self._fit(tracker, kelvin)
        coast = self._coast
        if coast is None:
            # Too fast for the pressure: from the estimate itself, with a usual drag.
            coast = _started(estimate, kelvin)
        return _top(coast, kelvin)

    def _fit(self, tracker: FlightTracker, kelvin: float) -> None:
        """Take in the samples that have come since the last question."""
        burnout = tracker.event(EventName.BURNOUT)
        flown, track = tracker.flown, tracker.track
        if burnout is None:
            return
        limit = TRANSONIC_MACH * speed_of_sound_mps(kelvin)
        for n in range(self._taken, min(len(flown), len(track))):
            sample, estimate = flown[n], track[n]
            if sample.t_ms <= burnout.called_t_ms or estimate.velocity_mps > limit:
                continue
            if self._coast is None or self._coast.lost:
                self._coast = _started(estimate, kelvin)
                continue
            self._coast.take(sample.t_ms, sample.altitude_m, tracker.pad.altitude_variance_m2)
        self._taken = min(len(flown), len(track))


def _started(estimate: Estimate, kelvin: float) -> CoastDrag:
    return CoastDrag(
        estimate.t_ms,
        estimate.altitude_m,
        estimate.velocity_mps,
        2.0 * estimate.altitude_sigma_m,
        2.0 * estimate.velocity_sigma_mps + 1.0,
        kelvin,
    )


def _top(coast: CoastDrag, kelvin: float) -> Outlook:
    if coast.v <= 0.0:
        # Over the top already: the call is about to come.
        since_s = coast.v / G0_MPS2
        sigma_s = sqrt(coast.pvv) / G0_MPS2 + APOGEE_FLOOR_S
        height_m = coast.h - 0.5 * coast.v * since_s
        return Outlook(coast.t_ms + 1000.0 * since_s, sigma_s, height_m, sqrt(coast.phh) + APOGEE_FLOOR_M)
    k = coast.drag_per_m
    seconds, metres = way_to_top(coast.h, coast.v, k, kelvin)
    dv = 0.01 * coast.v
    t_v, m_v = way_to_top(coast.h, coast.v + dv, k, kelvin)
    t_k, m_k = way_to_top(coast.h, coast.v, k * exp(0.01), kelvin)
    t_by_v, m_by_v = (t_v - seconds) / dv, (m_v - metres) / dv
    t_by_k, m_by_k = (t_k - seconds) / 0.01, (m_k - metres) / 0.01
    ln_k_sigma_2 = coast.pkk
    mach = coast.v / speed_of_sound_mps(kelvin)
    if mach > TRANSONIC_MACH:
        ln_k_sigma_2 += TRANSONIC_DRAG_SIGMA**2
    t_var = t_by_v**2 * coast.pvv + 2.0 * t_by_v * t_by_k * coast.pvk + t_by_k**2 * ln_k_sigma_2
    m_var = (
        coast.phh
        + m_by_v**2 * coast.pvv
        + m_by_k**2 * ln_k_sigma_2
        + 2.0 * (m_by_v * coast.phv + m_by_k * coast.phk + m_by_v * m_by_k * coast.pvk)
    )
    floor_m = APOGEE_FLOOR_M + APOGEE_FLOOR_FRACTION * metres
    return Outlook(
        coast.t_ms + 1000.0 * seconds,
        sqrt(max(0.0, t_var) + APOGEE_FLOOR_S**2),
        coast.h + metres,
        sqrt(max(0.0, m_var) + floor_m**2),
    )


# -- fall ------------------------------------------------------------------------------------------------------


def fall_s(from_m: float, to_m: float, rate_mps: float, pad_kelvin: float) -> float:
    """Seconds to sink from one height to a lower one at `rate_mps` (+ down, at the pad's density)."""
    half = 0.5 * DENSITY_EXPONENT + 1.0
    scale = pad_kelvin / LAPSE_K_PER_M

    def integral(height_m: float) -> float:
        share: float = (1.0 - height_m / scale) ** half
        return -scale / half * share

    return (integral(from_m) - integral(to_m)) / rate_mps


def _fall(
    now: Estimate,
    hold: Stretch,
    deployments: Sequence[Deployment],
    main_height_m: float | None,
    plan: FlightPlan | None,
    kelvin: float,
) -> Outlook | None:
    if hold.opened_ms is None or hold.rate_mps is None or hold.rate_mps < SLOWEST_FALL_MPS:
        return None
    height, rate = now.altitude_m, hold.rate_mps
    rate_sigma = hold.rate_sigma_mps
    roles = {d.role for d in deployments}
    main_out = any(d.role is Role.MAIN and d.opened_t_ms is not None for d in deployments)
    main_due = roles == {Role.DROGUE, Role.MAIN} and not main_out
    planned = plan.main_rate_mps if plan is not None else None
    main_rate = planned if planned is not None else USUAL_MAIN_MPS
    if main_due and rate < MAIN_LIKE_FRACTION * main_rate:
        main_due = False
    to_main_ms = to_main_sigma = None
    if main_height_m is not None and height > main_height_m:
        seconds = fall_s(height, main_height_m, rate, kelvin)
        to_main_ms = now.t_ms + 1000.0 * seconds
        to_main_sigma = _fall_sigma_s(seconds, rate, rate_sigma, 2.0)
    if height <= 0.0 or (main_due and main_height_m is None):
        return Outlook(main_height_t_ms=to_main_ms, main_height_t_sigma_s=to_main_sigma)
    overdue_m = 0.0 if main_height_m is None else main_height_m - MAIN_OVERDUE_S * rate
    if main_due and main_height_m is not None and height > overdue_m:
        opens_m = max(0.0, min(height, main_height_m) - MAIN_OPENS_S * rate)
        first_s = fall_s(height, opens_m, rate, kelvin)
        last_s = fall_s(opens_m, 0.0, main_rate, kelvin)
        main_sigma = PLANNED_RATE_SIGMA * planned if planned is not None else USUAL_MAIN_SIGMA_MPS
        opens_sigma_s = MAIN_OPENS_SIGMA_S * (rate / main_rate - 1.0)
        sigma = sqrt(
            _fall_sigma_s(first_s, rate, rate_sigma, 0.0) ** 2
            + _fall_sigma_s(last_s, main_rate, main_sigma, GROUND_SIGMA_M) ** 2
            + opens_sigma_s**2
        )
        seconds = first_s + last_s
    else:
        seconds = fall_s(height, 0.0, rate, kelvin)
        sigma = _fall_sigma_s(seconds, rate, rate_sigma, GROUND_SIGMA_M)
    return Outlook(
        main_height_t_ms=to_main_ms,
        main_height_t_sigma_s=to_main_sigma,
        touchdown_t_ms=now.t_ms + 1000.0 * seconds,
        touchdown_t_sigma_s=sigma,
    )


def _fall_sigma_s(seconds: float, rate_mps: float, rate_sigma_mps: float, height_sigma_m: float) -> float:
    """Standard deviation of a time of fall: rate not known well, air that rises and sinks, height not known well."""
    lasts = AIR_LASTS_S
    # Mean of a first-order Gauss-Markov series over this time.
    share = 2.0 * lasts / seconds * (1.0 - lasts / seconds * (1.0 - exp(-seconds / lasts))) if seconds > 1e-6 else 1.0
    air_2 = AIR_SIGMA_MPS**2 * share
    return sqrt((seconds / rate_mps) ** 2 * (rate_sigma_mps**2 + air_2) + (height_sigma_m / rate_mps) ** 2)
