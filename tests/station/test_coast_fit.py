"""The coast against closed forms and an ODE solver that flies in the standard atmosphere."""

from math import atan, cos, log, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.atmosphere import air_density_kgpm3, isa_pressure_pa, isa_temperature_k
from station.coast_fit import CoastFit, fit_coast, fit_fall

G = 9.80665
# Reference rocket: 2 kg, diameter 0.075 m, Cd 0.60, density 1.225 kg/m^3: k = rho Cd A / 2.
K = 0.001623565
MASS_KG = 2.0
DRAG_PER_M = K / MASS_KG


def closed_form(t_s: np.ndarray, speed_mps: float) -> np.ndarray:
    """Height of a coast with constant density: v' = -g - (k/m) v^2, integrated twice."""
    angle, rate = atan(speed_mps * sqrt(K / (MASS_KG * G))), sqrt(K * G / MASS_KG)
    return np.asarray((MASS_KG / K) * np.log(np.cos(angle - rate * t_s) / cos(angle)))


def in_the_standard_atmosphere(t_s: np.ndarray, speed_mps: float, drag_per_m: float = DRAG_PER_M) -> np.ndarray:
    """Heights (first row) and velocities by DOP853; the air thins as the standard says."""

    def change(_t: float, y: np.ndarray) -> list[float]:
        density = air_density_kgpm3(isa_pressure_pa(y[0]), isa_temperature_k(y[0]))
        return [y[1], -G - drag_per_m * density / 1.225 * abs(y[1]) * y[1]]

    solved = solve_ivp(change, (0.0, t_s[-1]), [0.0, speed_mps], "DOP853", t_s, rtol=1e-10, atol=1e-9)
    return np.asarray(solved.y)


def fitted(t_s: np.ndarray, height_m: np.ndarray, sigma_m: float, guess_mps: float, start_s: float = 0.0) -> CoastFit:
    found = fit_coast(t_s, height_m, np.full_like(t_s, sigma_m), start_s, guess_mps)
    assert found is not None
    return found


def top(fit: CoastFit, longest_s: float) -> tuple[float, float]:
    """(Time s, height m) of the fitted apogee."""
    t = np.linspace(fit.t_s, longest_s, 20_001)
    h, _ = fit.at(t)
    best = int(np.argmax(h))
    return float(t[best]), float(h[best])


@pytest.mark.parametrize(
    ("speed_mps", "height_m", "time_s"),
    # h = (m/2k) ln(1 + k v^2/(m g)), t = sqrt(m/(k g)) atan(v sqrt(k/(m g))): Fehskens and Malewicki, as widely
    # printed; the figures also by scipy's DOP853. Kept low: the form holds the density, which falls by 1 % in 100 m.
    [(50.0, 115.852, 4.7850), (100.0, 371.470, 8.2738)],
)
def test_the_closed_form_of_fehskens_and_malewicki(speed_mps: float, height_m: float, time_s: float) -> None:
    assert MASS_KG / (2 * K) * log(1 + K * speed_mps**2 / (MASS_KG * G)) == pytest.approx(height_m, abs=1e-3)
    t = np.arange(0.0, time_s, 0.02)
    fit = fitted(t, closed_form(t, speed_mps), 0.02, 0.8 * speed_mps)
    at_s, apogee_m = top(fit, time_s + 0.5)
    assert at_s == pytest.approx(time_s, rel=1e-3)
    assert apogee_m == pytest.approx(height_m, rel=1e-3)
    # The density in the fit falls and in the form does not: the drag found at the pad makes up for it.
    assert fit.velocity_mps == pytest.approx(speed_mps, rel=2e-3)
    assert fit.drag_per_m == pytest.approx(DRAG_PER_M, rel=0.04)
    rate = sqrt(MASS_KG * G / K) * tan(atan(speed_mps * sqrt(K / (MASS_KG * G))) - sqrt(K * G / MASS_KG) * 2.0)
    assert float(fit.at(np.array([2.0]))[1][0]) == pytest.approx(rate, rel=1e-3)


def test_without_drag_it_is_a_parabola() -> None:
    """The vacuum limit: 100 m/s go 509.858 m high in 10.1972 s."""
    t = np.arange(0.0, 10.2, 0.05)
    fit = fitted(t, 100.0 * t - 0.5 * G * t * t, 0.05, 90.0)
    assert fit.drag_per_m < 2e-5
    at_s, apogee_m = top(fit, 11.0)
    assert at_s == pytest.approx(10.1972, abs=0.02)
    assert apogee_m == pytest.approx(509.858, abs=0.3)


@pytest.mark.parametrize(("speed_mps", "drag_per_m"), [(60.0, 0.002), (165.0, DRAG_PER_M), (250.0, 0.0006)])
def test_a_coast_in_the_standard_atmosphere(speed_mps: float, drag_per_m: float) -> None:
    t = np.arange(0.0, 6.0, 0.02)
    height, velocity = in_the_standard_atmosphere(t, speed_mps, drag_per_m)
    fit = fitted(t, height, 0.05, 0.9 * speed_mps)
    assert fit.velocity_mps == pytest.approx(speed_mps, rel=1e-3)
    assert fit.drag_per_m == pytest.approx(drag_per_m, rel=0.01)
    h, v = fit.at(t)
    np.testing.assert_allclose(h, height, atol=0.15)
    np.testing.assert_allclose(v, velocity, atol=0.2)


def test_it_reaches_back_before_the_first_sample() -> None:
    """The speed at burnout is wanted though readings are trusted only from a second later on."""
    t = np.arange(0.0, 8.0, 0.02)
    height, velocity = in_the_standard_atmosphere(t, 180.0)
    fit = fitted(t[50:], height[50:], 0.05, 120.0, start_s=1.0)
    h, v = fit.at(np.array([0.0, 1.0]))
    assert v[0] == pytest.approx(180.0, rel=2e-3)
    assert h[0] == pytest.approx(0.0, abs=0.4)
    assert v[1] == pytest.approx(velocity[50], rel=1e-3)


def test_the_sigmas_cover_the_truth() -> None:
    """Of 60 noisy coasts at least 90 % and not all too easily: errors over sigma like a normal's."""
    t = np.arange(0.0, 7.0, 0.05)
    height, _ = in_the_standard_atmosphere(t, 150.0)
    scaled = []
    for seed in range(60):
        noisy = height + np.random.default_rng(seed).normal(0.0, 0.4, len(t))
        fit = fitted(t, noisy, 0.4, 130.0)
        truth = np.array([0.0, 150.0, DRAG_PER_M])
        error = np.array([fit.altitude_m, fit.velocity_mps, fit.drag_per_m]) - truth
        scaled.append(error / np.sqrt(np.diag(fit.covariance)))
    z = np.array(scaled)
    assert np.all(np.mean(np.abs(z) < 2.0, axis=0) >= 0.9)
    assert np.all(np.std(z, axis=0) > 0.6)


def test_charges_and_shocks_among_the_readings_hardly_move_it() -> None:
    t = np.arange(0.0, 7.0, 0.02)
    rng = np.random.default_rng(2)
    height = in_the_standard_atmosphere(t, 150.0)[0] + rng.normal(0.0, 0.3, len(t))
    clean = fitted(t, height, 0.3, 130.0)
    dirty = height.copy()
    dirty[rng.random(len(t)) < 0.08] -= 45.0
    fit = fitted(t, dirty, 0.3, 130.0)
    assert fit.velocity_mps == pytest.approx(clean.velocity_mps, abs=0.5)
    assert fit.velocity_mps == pytest.approx(150.0, abs=1.0)
    assert fit.residual_m == pytest.approx(0.3, abs=0.1)


def test_noise_larger_than_said_widens_the_sigmas() -> None:
    t = np.arange(0.0, 6.0, 0.02)
    noise = np.random.default_rng(5).normal(0.0, 1.0, len(t))
    height = in_the_standard_atmosphere(t, 120.0)[0]
    honest, proud = fitted(t, height + noise, 1.0, 100.0), fitted(t, height + noise, 0.25, 100.0)
    assert proud.covariance[1, 1] == pytest.approx(honest.covariance[1, 1], rel=0.4)
    assert proud.residual_m == pytest.approx(1.0, rel=0.2)


@pytest.mark.parametrize("count", [0, 5])
def test_too_few_readings_make_no_curve(count: int) -> None:
    t = np.arange(count) * 0.2
    assert fit_coast(t, 50.0 * t, np.ones(count), 0.0, 50.0) is None


def test_too_short_a_time_makes_no_curve() -> None:
    t = np.arange(20) * 0.02
    assert fit_coast(t, 50.0 * t, np.ones(20), 0.0, 50.0) is None


@pytest.mark.parametrize("rate_mps", [6.0, 20.0, 90.0])
def test_a_fall_that_has_not_settled_shows_what_it_was_going_to(rate_mps: float) -> None:
    """From rest, v = w tanh(g t / w) and h = (w^2 / g) ln cosh(g t / w) (closed form, any handbook)."""
    t = np.arange(0.0, 4.0, 0.04)
    height = 1e-9 * t - rate_mps**2 / 9.80665 * np.log(np.cosh(9.80665 * t / rate_mps))
    noisy = height + np.random.default_rng(2).normal(0.0, 0.3, len(t))
    fit = fit_fall(t, noisy, np.full_like(t, 0.3), 0.0, -1.0, 1.3 * rate_mps)
    assert fit is not None
    assert (9.80665 / fit.drag_per_m) ** 0.5 == pytest.approx(rate_mps, rel=0.05 if rate_mps < 50.0 else 0.3)


@pytest.mark.parametrize("count", [0, 5])
def test_too_few_readings_make_no_fall(count: int) -> None:
    t = np.arange(count) * 0.2
    assert fit_fall(t, -5.0 * t, np.ones(count), 0.0, -5.0, 5.0) is None


def test_a_coast_from_past_the_speed_of_sound_is_carried_back_with_the_drag_that_it_had_there() -> None:
    """Only what was slower than Mach 0.75 is fitted; without the rise of drag the beginning is 4 % too slow."""

    def rise(mach: float) -> float:
        # As in station/coast_drag.py, drawn anew.
        return float(np.interp(mach, [0.8, 0.9, 1.0, 1.1, 1.3], [1.0, 1.12, 1.45, 1.55, 1.5]))

    def change(_t: float, y: np.ndarray) -> list[float]:
        kelvin = isa_temperature_k(y[0])
        density = air_density_kgpm3(isa_pressure_pa(y[0]), kelvin)
        factor = rise(abs(y[1]) / sqrt(1.4 * 287.053 * kelvin))
        return [y[1], -G - 0.0006 * factor * density / 1.225 * abs(y[1]) * y[1]]

    t = np.arange(0.0, 14.0, 0.02)
    height, speed = solve_ivp(change, (0.0, 14.0), [500.0, 400.0], "DOP853", t, rtol=1e-10, atol=1e-9).y
    slow = speed < 250.0
    noisy = height + np.random.default_rng(4).normal(0.0, 0.3, len(t))
    fit = fitted(t[slow], noisy[slow], 0.3, 250.0, 0.0)
    start_m, start_mps = fit.at(np.array([0.0]))
    assert start_mps[0] == pytest.approx(400.0, rel=0.012)
    assert start_m[0] == pytest.approx(500.0, abs=20.0)
