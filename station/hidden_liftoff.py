"""How fast a rocket is that is first heard in the air, for a silence of the link hid its liftoff. Pure."""

from collections.abc import Sequence
from math import inf, sqrt

from station.atmosphere import G0_MPS2
from station.estimator import VerticalFilter

# A push that is felt: specific force over that at rest (m/s^2).
FELT_PUSH_MPS2 = 5.0
# Heights over so long show a speed of their own.
LEAST_SEEN_MS = 150.0
# A climb thrown up at once takes sqrt(2 h / g) to its top h, and no less than this part of it with the most drag and
# speed that hobby rockets have (60 m/s terminal, 450 m/s at first); until then so much of the mean speed is left at the
# least (closed form of a vertical coast against drag with the square of the speed, any text on ballistics).
TOP_NO_SOONER_SHARE = 0.7
SPEED_LEFT_SHARE = 0.5
START_SIGMA_M = 3.0
START_SIGMA_MPS2 = 80.0
SPEED_SIGMA_MPS = 10.0
SPEED_SIGMA_SHARE = 0.4
# A coast that is young flies up to twice as fast as the mean since the silence began, one near its top hardly at all. A
# narrow error bar that is wrong near the speed of sound, where heights count little, is not put right for long.
COASTING_SIGMA_SHARE = 1.0


def state_after_hidden_liftoff(
    heights: Sequence[tuple[float, float]], liftoff_ms: float, silent_ms: float, gained_mps2: float | None
) -> VerticalFilter:
    """The state at the first of the heights (ms, m above the pad) that were heard since, at least one.

    `liftoff_ms` is the likeliest moment of it, within a silence of `silent_ms`; `gained_mps2` the newest specific
    force less that at rest, None without an accelerometer.
    """
    seen_ms, height_m = heights[0]
    last_ms, last_m = heights[-1]
    # As if it had gained speed evenly.
    speed_mps = 2000.0 * height_m / (seen_ms - liftoff_ms)
    sigma_mps = SPEED_SIGMA_MPS + SPEED_SIGMA_SHARE * abs(speed_mps)
    if last_ms - seen_ms >= LEAST_SEEN_MS:
        shown_mps = 1000.0 * (last_m - height_m) / (last_ms - seen_ms)
        if shown_mps < _least_mps(height_m, 0.001 * silent_ms):
            # No climb slows down so soon: it is the shock that moves the heights. As if it had started at once.
            shown_mps = 2000.0 * height_m / silent_ms
        speed_mps = min(speed_mps, shown_mps)
        sigma_mps = SPEED_SIGMA_MPS + SPEED_SIGMA_SHARE * abs(speed_mps)
    elif _may_be_past_the_top(height_m, 0.001 * silent_ms, gained_mps2):
        speed_mps, sigma_mps = 0.0, SPEED_SIGMA_MPS + abs(speed_mps)
    elif gained_mps2 is not None and gained_mps2 < FELT_PUSH_MPS2:
        # It coasts: the mean speed since the silence began, as some of what the motor gave is gone already.
        speed_mps = 1000.0 * height_m / silent_ms
        sigma_mps = SPEED_SIGMA_MPS + COASTING_SIGMA_SHARE * speed_mps
    return VerticalFilter(
        height_m,
        speed_mps,
        altitude_sigma_m=START_SIGMA_M,
        velocity_sigma_mps=sigma_mps,
        acceleration_sigma_mps2=START_SIGMA_MPS2,
    )


def _least_mps(height_m: float, silent_s: float) -> float:
    """What it surely still climbs at that came so high within the silence; any speed goes where it may be past the top.

    A motor that burnt later, or longer, leaves it faster.
    """
    top_s = _top_no_sooner_s(height_m)
    if silent_s > top_s:
        return -inf
    return SPEED_LEFT_SHARE * height_m / silent_s * (1.0 - (silent_s / top_s) ** 2)


def _may_be_past_the_top(height_m: float, silent_s: float, gained_mps2: float | None) -> bool:
    """The silence may have hidden the whole climb, and no motor pushes now."""
    is_pushed = gained_mps2 is not None and gained_mps2 > FELT_PUSH_MPS2
    return not is_pushed and silent_s > _top_no_sooner_s(height_m)


def _top_no_sooner_s(height_m: float) -> float:
    return TOP_NO_SOONER_SHARE * sqrt(2.0 * max(0.0, height_m) / G0_MPS2)
