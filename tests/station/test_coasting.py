"""The coast in one piece against closed forms, an ODE solver, and virtual rockets drawn by chance."""

from math import atan, sqrt
from random import Random

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.atmosphere import G0_MPS2, density_ratio
from station.coasting import Coasting, observe_coast
from station.flown_curve import FlownCurve
from station.virtual.air import Wind
from station.virtual.flight_physics import FlightPhysics, motion_at
from station.virtual.random_flights import random_setup

PAD_K = 288.15
# Reference rocket: 2 kg, diameter 0.075 m, Cd 0.60, density 1.225 kg/m^3: k = rho Cd A / 2, per mass.
DRAG_PER_M = 0.001623565 / 2.0
BURNOUT_S = 2.0


def curve_of(t_s: np.ndarray, altitude_m: np.ndarray, velocity_mps: np.ndarray, sigma_m: float) -> FlownCurve:
    n = len(t_s)
    return FlownCurve(t_s, altitude_m, np.full(n, sigma_m), np.full(n, np.nan), velocity_mps, np.full(n, 340.0))


def flown(speed_mps: float, until_s: float, drag_per_m: float = DRAG_PER_M) -> np.ndarray:
    """(2, n): heights and velocities every 0.02 s from burnout, by DOP853 with the standard air's density."""

    def change(_t: float, y: np.ndarray) -> list[float]:
        return [y[1], -G0_MPS2 - drag_per_m * density_ratio(y[0], PAD_K) * abs(y[1]) * y[1]]

    t = np.arange(0.0, until_s, 0.02)
    return np.asarray(solve_ivp(change, (0.0, until_s), [0.0, speed_mps], "DOP853", t, rtol=1e-10, atol=1e-9).y)


def observed(states: np.ndarray, *, cut_s: float, noise_m: float = 0.0, seed: int = 1) -> Coasting:
    """What is made of the coast up to `cut_s` after burnout."""
    chance = Random(seed)
    t = BURNOUT_S + 0.02 * np.arange(states.shape[1])
    heights = states[0] + np.array([chance.gauss(0.0, noise_m) for _ in t])
    found = observe_coast(curve_of(t, heights, states[1], max(noise_m, 0.05)), BURNOUT_S, BURNOUT_S + cut_s, PAD_K)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("speed_mps", "top_m", "top_s"),
    # Fehskens and Malewicki's coast, h = (m/2k) ln(1 + k v^2/(m g)), t = sqrt(m/(k g)) atan(v sqrt(k/(m g))), as widely
    # printed. It holds the density, which falls by 1 % in 100 m: hence the tolerance.
    [(50.0, 115.852, 4.7850), (100.0, 371.470, 8.2738)],
)
def test_the_top_is_that_of_the_closed_form(speed_mps: float, top_m: float, top_s: float) -> None:
    assert sqrt(1.0 / (DRAG_PER_M * G0_MPS2)) * atan(speed_mps * sqrt(DRAG_PER_M / G0_MPS2)) == pytest.approx(
        top_s, abs=1e-3
    )
    found = observed(flown(speed_mps, top_s), cut_s=top_s)
    assert found.top_s - BURNOUT_S == pytest.approx(top_s, rel=0.004)
    assert found.top_m == pytest.approx(top_m, rel=0.006)
    assert found.drag_per_m == pytest.approx(DRAG_PER_M, rel=0.004)


@pytest.mark.parametrize("cut_s", [3.0, 6.0, 11.0])
def test_what_came_out_early_does_not_hide_the_top_that_was_ahead(cut_s: float) -> None:
    states = flown(150.0, 14.0)
    top = int(np.argmax(states[0]))
    found = observed(states, cut_s=cut_s, noise_m=0.4)
    assert abs(found.top_s - BURNOUT_S - 0.02 * top) < 2.0 * found.top_sigma_s
    assert found.top_m == pytest.approx(states[0, top], rel=0.02)
    assert found.end_s <= BURNOUT_S + cut_s


@pytest.mark.parametrize("at_s", [4.0, 10.0, 13.0])
def test_the_speed_at_any_moment_is_that_of_the_ode_on_the_way_up_and_down(at_s: float) -> None:
    states = flown(120.0, 14.0)
    velocity, sigma = observed(states, cut_s=9.0, noise_m=0.3).velocity_at(BURNOUT_S + at_s)
    assert abs(velocity - states[1, round(at_s / 0.02)]) < 2.0 * sigma
    assert sigma < 1.5


def test_a_charge_that_fired_spoils_nothing() -> None:
    states = flown(100.0, 8.0)
    t = BURNOUT_S + 0.02 * np.arange(states.shape[1])
    spoilt = states[0] - np.where(t > 6.0, 30.0 * np.exp(-(t - 6.0) / 0.15), 0.0)
    clean = observe_coast(curve_of(t, states[0], states[1], 0.3), BURNOUT_S, 10.0, PAD_K)
    found = observe_coast(curve_of(t, spoilt, states[1], 0.3), BURNOUT_S, 10.0, PAD_K, fired_s=(6.0,))
    assert clean is not None
    assert found is not None
    assert found.drag_per_m == pytest.approx(clean.drag_per_m, rel=0.01)


def test_without_enough_of_a_coast_there_is_none() -> None:
    states = flown(60.0, 1.0)
    t = BURNOUT_S + 0.02 * np.arange(states.shape[1])
    curve = curve_of(t, states[0], states[1], 0.3)
    assert observe_coast(curve, BURNOUT_S, BURNOUT_S + 1.0, PAD_K) is None
    assert observe_coast(curve, BURNOUT_S + 5.0, BURNOUT_S + 9.0, PAD_K) is None


def test_heights_from_near_the_speed_of_sound_do_not_count() -> None:
    states = flown(330.0, 16.0)
    t = BURNOUT_S + 0.02 * np.arange(states.shape[1])
    shocked = states[0] + np.where(states[1] > 0.8 * 340.0, 150.0, 0.0)
    found = observe_coast(curve_of(t, shocked, states[1], 0.3), BURNOUT_S, 18.0, PAD_K)
    assert found is not None
    assert found.drag_per_m == pytest.approx(DRAG_PER_M, rel=0.02)
    assert found.fastest_mps < 0.76 * 340.0


# -- virtual rockets: lean, wind, gusts, other air ------------------------------------------------------------


def drag_of_a_random_rocket(seed: int, *, noisy: bool) -> tuple[float, float, float]:
    """(True, found, standard deviation) of a rocket's drag coefficient, everything else being known."""
    setup = random_setup(seed, apogee_m=(150.0, 3000.0))
    assert setup.motor is not None
    wind = Wind(setup.day, seed, 120.0)
    how = {"rail_tilt_rad": 0.02 * (seed % 5), "rail_length_m": setup.rail_length_m, "wind": wind.at} if noisy else {}
    physics = FlightPhysics(setup.rocket, setup.motor, setup.day, **how)  # type: ignore[arg-type]
    while physics.path.vz[-1] > 0.0:
        physics.fly_to(physics.path.t[-1] + 3.0)
    t = np.arange(0.0, physics.path.t[-1], 0.02 if seed % 2 else 0.05)
    motion = motion_at(physics, t)
    climb = motion.velocity_mps > 0.0
    chance = np.random.default_rng(seed)
    heights = motion.altitude_m + (chance.normal(0.0, 0.4, len(t)) if noisy else 0.0)
    curve = FlownCurve(
        t,
        heights,
        np.full(len(t), 0.4 if noisy else 0.02),
        np.full(len(t), np.nan),
        motion.velocity_mps,
        setup.day.sound_speed_mps(motion.altitude_m),
    )
    burnout_s, end_s = setup.motor.burn_end_s, float(t[climb][-1])
    found = observe_coast(curve, burnout_s, end_s, setup.day.pad_temperature_k)
    assert found is not None
    unit = 2.0 * physics.dry_mass_kg / (setup.day.pad_density_kgm3 * setup.rocket.frontal_area_m2)
    return setup.rocket.drag_coefficient, unit * found.drag_per_m, unit * found.drag_sigma_per_m


@pytest.mark.parametrize("seed", range(12))
def test_without_noise_and_wind_the_drag_coefficient_is_within_two_percent(seed: int) -> None:
    true, found, _ = drag_of_a_random_rocket(seed, noisy=False)
    assert found == pytest.approx(true, rel=0.02)


def test_with_noise_lean_and_wind_the_drag_coefficient_is_within_its_own_error_bar() -> None:
    results = [drag_of_a_random_rocket(seed, noisy=True) for seed in range(100, 130)]
    within = [abs(found - true) < 2.0 * sigma for true, found, sigma in results]
    # 95 of 100 should be: with 30 flights fewer than 26 would be a chance of 1 in 60 (binomial).
    assert sum(within) >= 26
    # ... and the bar must be worth something.
    assert sorted(sigma / true for true, _, sigma in results)[15] < 0.06
