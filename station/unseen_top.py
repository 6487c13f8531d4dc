"""A silence of the link in a climb, and the highest point that it may have hidden, by the climb before it. Pure.

Once the motor is out nothing but gravity and drag acts until the top, so the last state that was heard foretells it,
and a silence that lasted well beyond that moment hid it: whatever is heard next, the rocket has been falling since.
"""

from dataclasses import dataclass
from math import hypot, sqrt

from station.atmosphere import G0_MPS2, density_ratio
from station.coast_drag import CoastDrag, drag_rise
from station.coast_top import top_of
from station.estimator import VerticalFilter
from station.vertical_motion import TRANSONIC_SIGMA_M, TRUSTED_MACH

# A shorter silence hides nothing that the filter would not bridge; after a longer one than the second, its course since
# says less than the height that is heard.
SILENT_MS = 1000.0
LONG_SILENCE_MS = 2500.0
# So many standard deviations beyond the foretold moment the top surely is past.
SURE_SIGMAS = 3.0
# A parachute that came out so long ago shows in the deceleration.
SHOWS_AFTER_MS = 1500.0
# What gusts and the turn into the wind may add to what drag and gravity foretell: a share of the seconds to the top,
# and of the metres (measured on virtual flights, no source).
MODEL_SHARE = 0.03
LEAST_SIGMA_S = 0.1
LEAST_SIGMA_M = 1.0
# A fall that began in a silence: the mean speed since the top is half the present one in free fall and all of it under
# a parachute that opened at once; and what acts now may be anything between the two.
FALL_SHARE = 1.3
FALL_SIGMA_SHARE = 0.5
FALL_SIGMA_MPS = 3.0
FALL_ACCELERATION_MPS2 = -3.0
FALL_ACCELERATION_SIGMA_MPS2 = 8.0
# The first reading after a silence may be struck by a charge's gas: the next ones must not pull the speed after it.
FIRST_READING_SIGMA_M = 20.0
# A coast taken up again: gusts, the turn into the wind, a drag that is not quite that of the model.
COAST_SIGMA_MPS = 3.0
COAST_SIGMA_MPS2 = 3.0
# A height that tells nothing: the coast goes on by drag alone.
BY_DRAG_ALONE_M2 = 1e12
# A climb taken up again after a silence, when it is not known what happened in it.
LOST_SIGMA_MPS = 10.0
LOST_SIGMA_MPS2 = 30.0


@dataclass(frozen=True, slots=True)
class UnseenTop:
    """When (ms) and how high (m) it was, with standard deviations (s, m)."""

    t_ms: float
    altitude_m: float
    sigma_s: float
    altitude_sigma_m: float

    def is_past(self, t_ms: float) -> bool:
        """By then it surely was."""
        return t_ms > self.t_ms + 1000.0 * SURE_SIGMAS * self.sigma_s

    def is_near(self, t_ms: float) -> bool:
        """By then it may just be past, or be about to come."""
        return t_ms > self.t_ms - 1000.0 * SURE_SIGMAS * self.sigma_s

    def is_refuted_by(self, altitude_m: float) -> bool:
        """What surely is higher did not coast as foretold."""
        return altitude_m > self.altitude_m + SURE_SIGMAS * self.altitude_sigma_m


def braked_sigmas(fired_ms: float, top_ms: float) -> tuple[float, float]:
    """What a charge that fired on the way up leaves open of the foretold top: standard deviations (s, m).

    A parachute that came out then ends the climb in about half of the time that was left (virtual flights, no source),
    and whether one did is not known.
    """
    left_s = max(0.0, 0.001 * (top_ms - fired_ms))
    return 0.5 * left_s, 0.25 * G0_MPS2 * left_s * left_s


def foretold_top(t_ms: float, state: VerticalFilter, pad_kelvin: float, charge_ms: float) -> UnseenTop:
    """The top of a coast last heard at `t_ms` in `state`; `charge_ms` is when a charge last fired, if one did."""
    coast = _coast_from(t_ms, state, pad_kelvin)
    seconds, metres, sigma_s, sigma_m = top_of(coast)
    top_ms = t_ms + 1000.0 * seconds
    braked_s, braked_m = braked_sigmas(charge_ms, top_ms) if t_ms - charge_ms < SHOWS_AFTER_MS else (0.0, 0.0)
    return UnseenTop(
        top_ms,
        state.h + metres,
        hypot(sigma_s, LEAST_SIGMA_S, MODEL_SHARE * seconds, braked_s),
        hypot(sigma_m, LEAST_SIGMA_M, MODEL_SHARE * metres, braked_m),
    )


def climbing_still(
    heard_ms: float, state: VerticalFilter, pad_kelvin: float, t_ms: float, seen_m: float, noise_m: float
) -> VerticalFilter | None:
    """The state of a coast last heard at `heard_ms`, first heard again at `t_ms` and `seen_m`, well before its top.

    Drag is fitted to the height that it came to; None where no coast comes there.
    """
    coast = _coast_from(heard_ms, state, pad_kelvin)
    coast.take(t_ms, seen_m, BY_DRAG_ALONE_M2)
    near_sound = coast.mach > TRUSTED_MACH
    reading_m = hypot(noise_m, TRANSONIC_SIGMA_M if near_sound else FIRST_READING_SIGMA_M)
    if (seen_m - coast.h) ** 2 > SURE_SIGMAS**2 * (coast.phh + reading_m**2):
        return None
    coast.take(t_ms, seen_m, reading_m**2)
    slowing = coast.drag_per_m * density_ratio(coast.h, pad_kelvin) * drag_rise(coast.mach) * coast.v * coast.v
    return VerticalFilter(
        coast.h,
        coast.v,
        -G0_MPS2 - slowing,
        altitude_sigma_m=sqrt(coast.phh),
        velocity_sigma_mps=hypot(sqrt(coast.pvv), COAST_SIGMA_MPS),
        acceleration_sigma_mps2=hypot(sqrt(coast.pkk) * slowing, COAST_SIGMA_MPS2),
    )


def falling_since(top: UnseenTop, t_ms: float, seen_m: float, noise_m: float) -> VerticalFilter:
    """The state of a fall first heard at `t_ms` and `seen_m`, long after the top."""
    since_s = (t_ms - top.t_ms) / 1000.0
    mean_mps = min(max(0.0, top.altitude_m - seen_m) / since_s, 0.5 * G0_MPS2 * since_s)
    return VerticalFilter(
        seen_m,
        -FALL_SHARE * mean_mps,
        FALL_ACCELERATION_MPS2,
        altitude_sigma_m=hypot(noise_m, FIRST_READING_SIGMA_M),
        velocity_sigma_mps=FALL_SIGMA_MPS + FALL_SIGMA_SHARE * mean_mps + top.altitude_sigma_m / since_s,
        acceleration_sigma_mps2=FALL_ACCELERATION_SIGMA_MPS2,
    )


def turning_at(top: UnseenTop, t_ms: float, seen_m: float, noise_m: float) -> VerticalFilter:
    """The state of a rocket first heard at `t_ms` and `seen_m`, about the time of the foretold top."""
    return VerticalFilter(
        seen_m,
        -G0_MPS2 * 0.001 * (t_ms - top.t_ms),
        -G0_MPS2,
        altitude_sigma_m=hypot(noise_m, FIRST_READING_SIGMA_M),
        velocity_sigma_mps=FALL_SIGMA_MPS + G0_MPS2 * top.sigma_s,
        acceleration_sigma_mps2=FALL_ACCELERATION_SIGMA_MPS2,
    )


def _coast_from(t_ms: float, state: VerticalFilter, pad_kelvin: float) -> CoastDrag:
    coast = CoastDrag(t_ms, state.h, state.v, state.phh**0.5, state.pvv**0.5, pad_kelvin)
    coast.take_deceleration(state.a, state.paa**0.5)
    return coast


def lost_from(t_ms: float, state: VerticalFilter, now_ms: float, seen_m: float, noise_m: float) -> VerticalFilter:
    """The state after a silence since `state` at `t_ms` in which anything may have happened."""
    silent_s = (now_ms - t_ms) / 1000.0
    return VerticalFilter(
        seen_m,
        (seen_m - state.h) / silent_s,
        -G0_MPS2,
        altitude_sigma_m=hypot(noise_m, FIRST_READING_SIGMA_M),
        velocity_sigma_mps=LOST_SIGMA_MPS + 0.5 * G0_MPS2 * silent_s + sqrt(state.phh) / silent_s,
        acceleration_sigma_mps2=LOST_SIGMA_MPS2,
    )
