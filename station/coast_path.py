"""The course of a coasting rocket, step by step: gravity, and drag that grows with the square of the speed.

    dv/dt = -g - k rise(M) rho(h)/rho_pad |v| v

by the classical Runge-Kutta rule of fourth order (any handbook of numerical analysis). Numbers, not arrays: the steps
follow each other, and numpy takes longer for a few numbers than Python does. Compiled where a compiler is (`setup.py`).
"""

from collections.abc import Sequence
from math import exp, sqrt
from typing import Final

from station.atmosphere import (
    DENSITY_SCALE_M,
    G0_MPS2,
    LAPSE_K_PER_M,
    SEA_LEVEL_TEMPERATURE_K,
    TROPOPAUSE_TEMPERATURE_K,
    speed_of_sound_mps,
)
from station.coast_drag import RISE_FROM_MACH, drag_rise

FASTEST_MPS: Final = 3000.0
# No slower than this is near the speed of sound anywhere.
RISE_FROM_MPS: Final = RISE_FROM_MACH * speed_of_sound_mps(TROPOPAUSE_TEMPERATURE_K)
SOUND_MPS_PER_ROOT_K: Final = speed_of_sound_mps(1.0)


def coasting_mps2(altitude_m: float, velocity_mps: float, drag_per_m: float) -> float:
    """Acceleration (m/s^2) of what coasts at a height (m) and velocity (m/s, + up) with a drag (1/m, pad density)."""
    # Bounded: a trial of a fit may run away before it is dropped.
    thin = exp(min(1.0, max(-3.0, altitude_m * (-1.0 / DENSITY_SCALE_M))))
    fast = min(FASTEST_MPS, max(-FASTEST_MPS, velocity_mps))
    size = abs(fast)
    if size > RISE_FROM_MPS:
        # The standard atmosphere's temperature: within 3 % of any day's speed of sound.
        kelvin = SEA_LEVEL_TEMPERATURE_K - LAPSE_K_PER_M * altitude_m
        kelvin = min(SEA_LEVEL_TEMPERATURE_K, max(TROPOPAUSE_TEMPERATURE_K, kelvin))
        drag_per_m *= drag_rise(size / (SOUND_MPS_PER_ROOT_K * sqrt(kelvin)))
    return -G0_MPS2 - drag_per_m * thin * size * fast


def coast_path(
    altitude_m: float, velocity_mps: float, drag_per_m: float, times_s: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Heights (m) and velocities (m/s) at times (s, rising or falling) from the state at the first of them."""
    h, v, k = altitude_m, velocity_mps, drag_per_m
    heights, velocities = [h], [v]
    last_s = times_s[0]
    for t_s in times_s[1:]:
        dt = t_s - last_s
        last_s = t_s
        half = 0.5 * dt
        a1 = coasting_mps2(h, v, k)
        v2 = v + half * a1
        a2 = coasting_mps2(h + half * v, v2, k)
        v3 = v + half * a2
        a3 = coasting_mps2(h + half * v2, v3, k)
        v4 = v + dt * a3
        a4 = coasting_mps2(h + dt * v3, v4, k)
        h += dt / 6.0 * (v + 2.0 * v2 + 2.0 * v3 + v4)
        v += dt / 6.0 * (a1 + 2.0 * a2 + 2.0 * a3 + a4)
        heights.append(h)
        velocities.append(v)
    return heights, velocities
