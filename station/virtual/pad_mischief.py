"""What people and weather do to the sensors of a rocket that waits on the pad, as arrays over time.

All shapes and sizes are invented, to be as nasty as a real field and no nastier.
"""

import numpy as np

from station.virtual.air import GUST_STEP_S, Array, gauss_markov
from station.virtual.chance import stream
from station.virtual.flight_setup import Mischief
from station.virtual.sensors import Disturbance

PASCAL_PER_M = 11.9  # rho g near sea level


def disturb(mischief: Mischief, t_s: Array, end_t_s: float, seed: int) -> Disturbance:
    """Pressure (Pa), axial force (m/s^2) and warmth (K) that the mischief adds until `end_t_s`.

    After that (the rocket has left): gusts and shaking are gone within a second, the front's pressure stays
    as it was, the bay cools in minutes.
    """
    chance = stream(seed, f"mischief {mischief}")
    zero = np.zeros_like(t_s)
    pressure, axial, warmth = zero, zero, zero
    if mischief is Mischief.GUSTS:
        pressure, axial = _gusts(t_s, chance)
    elif mischief is Mischief.LIFTED:
        pressure, axial = _lifted(t_s, end_t_s, chance)
    elif mischief is Mischief.CAR_DOOR:
        pressure, axial = _car_door(t_s, end_t_s, chance)
    elif mischief is Mischief.FRONT:
        pressure = _front(t_s, end_t_s, chance)
    else:
        warmth = _sun(t_s, end_t_s, chance)
    last = int(np.searchsorted(t_s, end_t_s, side="right")) - 1
    gone_s = np.clip(t_s - end_t_s, 0.0, None)
    stays_s = 1e9 if mischief is Mischief.FRONT else 0.3

    def fade(part: Array, over_s: float) -> Array:
        return np.where(gone_s > 0.0, part[last] * np.exp(-gone_s / over_s), part)

    return Disturbance(fade(pressure, stays_s), np.where(gone_s > 0.0, 0.0, axial), fade(warmth, 150.0))


def _gusts(t_s: Array, chance: np.random.RandomState) -> tuple[Array, Array]:
    """Strong gusts that blow over the ports and shake the rail: up to about +-150 Pa within a second."""
    count = int(t_s[-1] / GUST_STEP_S) + 3
    knots = np.arange(count) * GUST_STEP_S
    slow = np.array(gauss_markov(chance, count, 4.5, GUST_STEP_S / 2.5))
    speed = np.interp(t_s, knots, np.abs(6.0 + slow))
    direction = np.interp(t_s, knots, np.array(gauss_markov(chance, count, 0.45, GUST_STEP_S / 6.0)))
    shake = 0.012 * speed**2 * chance.standard_normal(len(t_s))
    return np.asarray(0.6 * speed**2 * (direction - 0.15)), np.asarray(shake)


def _lifted(t_s: Array, end_t_s: float, chance: np.random.RandomState) -> tuple[Array, Array]:
    """A person lifts the rocket, carries it about, tips it over and puts it back, again and again."""
    height, tip = np.zeros_like(t_s), np.zeros_like(t_s)
    t = 3.0 + 4.0 * float(chance.random_sample())
    while True:
        rise, stay, top, sway = (float(v) for v in chance.random_sample(4))
        up = 0.7 + 1.0 * rise
        hold = 1.0 + 7.0 * stay
        if t + 2.0 * up + hold > end_t_s - 4.0:
            break
        reach = 0.5 + 1.5 * top  # from the ground to arm's length overhead
        lift = _smooth((t_s - t) / up) - _smooth((t_s - t - up - hold) / (up + 0.3))
        height = height + reach * lift
        tip = tip + (1.7 * sway if sway > 0.4 else 0.1) * lift
        t += 2.0 * up + hold + 2.0 + 6.0 * float(chance.random_sample())
    step = float(t_s[1] - t_s[0])
    push = np.gradient(np.gradient(height, step), step)
    hands = np.where(height > 0.05, 0.8, 0.0) * chance.standard_normal(len(t_s))
    axial = (9.80665 + push) * np.cos(tip) - 9.80665 + hands
    return -PASCAL_PER_M * height, np.asarray(axial)


def _car_door(t_s: Array, end_t_s: float, chance: np.random.RandomState) -> tuple[Array, Array]:
    """Shut in a car, a door slams now and then: a pulse of pressure that rings down, and a bump."""
    pressure, axial = np.zeros_like(t_s), np.zeros_like(t_s)
    t = 2.0 + 3.0 * float(chance.random_sample())
    while t < end_t_s - 2.0:
        size, ring, opened, bump = (float(v) for v in chance.random_sample(4))
        since = t_s - t
        after = since >= 0.0
        wave = np.exp(-since[after] / (0.10 + 0.15 * ring)) * np.cos(2.0 * np.pi * (2.0 + 3.0 * ring) * since[after])
        pressure[after] += (60.0 + 240.0 * size) * (-0.7 if opened < 0.4 else 1.0) * wave
        axial[after] += 12.0 * bump * np.exp(-since[after] / 0.08) * np.cos(2.0 * np.pi * 11.0 * since[after])
        t += 3.0 + 9.0 * float(chance.random_sample())
    return pressure, axial


def _front(t_s: Array, end_t_s: float, chance: np.random.RandomState) -> Array:
    """A cold front: pressure falls for hours, jumps within minutes as it passes, rises again."""
    passes, fall, jump = (float(v) for v in chance.random_sample(3))
    at = end_t_s * (0.4 + 0.3 * passes)
    before = -(300.0 + 500.0 * fall) * np.clip(t_s / at, 0.0, 1.0)
    leap = (80.0 + 220.0 * jump) * _smooth((t_s - at) / (120.0 + 300.0 * jump))
    after = 400.0 * np.clip((t_s - at) / max(end_t_s - at, 1.0), 0.0, 1.0)
    ripple = 15.0 * np.sin(2.0 * np.pi * t_s / 600.0 + 6.0 * passes) * np.exp(-(((t_s - at) / 2400.0) ** 2))
    return np.asarray(before + leap + after + ripple)


def _sun(t_s: Array, end_t_s: float, chance: np.random.RandomState) -> Array:
    """The sun warms the bay by 20 to 35 K, clouds and a hand in the way let it cool and warm again."""
    most, cloud = (float(v) for v in chance.random_sample(2))
    share = np.minimum(1.0, t_s / max(0.4 * end_t_s, 1.0))
    clouds = 1.0 - 0.5 * _smooth(np.sin(2.0 * np.pi * t_s / (300.0 + 600.0 * cloud)) - 0.5)
    return np.asarray((20.0 + 15.0 * most) * (1.0 - np.exp(-3.0 * share)) * clouds)


def _smooth(x: Array) -> Array:
    """0 below 0, 1 above 1, a smooth way (third-order) in between."""
    x = np.clip(x, 0.0, 1.0)
    return np.asarray(x * x * (3.0 - 2.0 * x))
