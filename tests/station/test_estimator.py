"""The filter against filterpy step by step, hand-worked tables, scipy's Riccati solver and its own model."""

from math import sqrt

import numpy as np
import pytest
from filterpy.common import Q_continuous_white_noise
from filterpy.kalman import KalmanFilter
from scipy.linalg import solve_discrete_are

from station.estimator import VerticalFilter

ALTITUDE = np.array([[1.0, 0.0, 0.0]])
ACCELERATION = np.array([[0.0, 0.0, 1.0]])


def transition(dt: float) -> np.ndarray:
    return np.array([[1.0, dt, 0.5 * dt * dt], [0.0, 1.0, dt], [0.0, 0.0, 1.0]])


def state(kalman: VerticalFilter) -> np.ndarray:
    return np.array([kalman.h, kalman.v, kalman.a])


def covariance(kalman: VerticalFilter) -> np.ndarray:
    k = kalman
    return np.array([[k.phh, k.phv, k.pha], [k.phv, k.pvv, k.pva], [k.pha, k.pva, k.paa]])


def with_covariance(kalman: VerticalFilter, p: np.ndarray) -> VerticalFilter:
    kalman.phh, kalman.phv, kalman.pha = p[0]
    kalman.pvv, kalman.pva = p[1, 1:]
    kalman.paa = p[2, 2]
    return kalman


def a_covariance(seed: int) -> np.ndarray:
    root = np.random.default_rng(seed).normal(size=(3, 3))
    return np.asarray(root @ root.T + 0.1 * np.eye(3))


def reference(kalman: VerticalFilter) -> KalmanFilter:
    other = KalmanFilter(dim_x=3, dim_z=1)
    other.x = state(kalman).reshape(3, 1)
    other.P = covariance(kalman)
    return other


def test_four_hundred_irregular_steps_equal_filterpy() -> None:
    rng = np.random.default_rng(20)
    ours = VerticalFilter(3.0, 12.0, 40.0, altitude_sigma_m=2.0, velocity_sigma_mps=5.0, acceleration_sigma_mps2=30.0)
    other = reference(ours)
    for step in range(400):
        dt = float(rng.choice([0.02, 0.021, 0.05, 0.1, 0.7]))
        q = float(rng.choice([0.0, 1.0, 400.0, 40_000.0]))
        jerk = float(rng.normal(0.0, 5.0)) if step % 3 == 0 else 0.0
        ours.predict(dt, q, jerk)
        other.predict(
            F=transition(dt),
            Q=Q_continuous_white_noise(3, dt=dt, spectral_density=q),
            B=np.array([[dt**3 / 6.0], [dt**2 / 2.0], [dt]]),
            u=np.array([[jerk]]),
        )
        if step % 2 == 0:
            z, r = float(ours.a + rng.normal(0.0, 2.0)), float(rng.uniform(0.05, 4.0))
            innovation, variance = ours.acceleration_innovation(z, r)
            ours.update_acceleration(z, r)
            other.update(np.array([[z]]), R=np.array([[r]]), H=ACCELERATION)
            assert innovation == pytest.approx(float(other.y[0, 0]), abs=1e-9)
            assert variance == pytest.approx(float(other.S[0, 0]), rel=1e-9)
        if step % 5 != 4:
            z, r = float(ours.h + rng.normal(0.0, 1.0)), float(rng.uniform(0.01, 4.0))
            innovation, variance = ours.altitude_innovation(z, r)
            ours.update_altitude(z, r)
            other.update(np.array([[z]]), R=np.array([[r]]), H=ALTITUDE)
            assert innovation == pytest.approx(float(other.y[0, 0]), abs=1e-9)
            assert variance == pytest.approx(float(other.S[0, 0]), rel=1e-9)
            # The normalised innovation squared, as filterpy has it.
            assert innovation**2 / variance == pytest.approx(other.mahalanobis**2, rel=1e-8, abs=1e-12)
        np.testing.assert_allclose(state(ours), other.x[:, 0], rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(covariance(ours), other.P, rtol=1e-9, atol=1e-9)


def test_the_worked_scalar_example_of_ten_readings() -> None:
    """Constant height, no process noise: readings of the building-height exercise of kalmanfilter.net.

    Start 60 m with variance 225, readings with variance 25; gains, means and variances worked by hand, and
    p_n = 1/(1/225 + n/25).
    """
    readings = [48.54, 47.11, 55.01, 55.15, 49.89, 40.85, 46.72, 50.05, 51.27, 49.95]
    means = [49.6860, 48.4658, 50.5693, 51.6835, 51.3326, 49.6173, 49.2098, 49.3134, 49.5282, 49.5699]
    gains = [0.9000, 0.4737, 0.3214, 0.2432, 0.1957, 0.1636, 0.1406, 0.1233, 0.1098, 0.0989]
    kalman = VerticalFilter(60.0, altitude_sigma_m=15.0, velocity_sigma_mps=0.0, acceleration_sigma_mps2=0.0)
    for n, (reading, mean, gain) in enumerate(zip(readings, means, gains, strict=True), start=1):
        kalman.predict(1.0, 0.0)
        assert kalman.phh / (kalman.phh + 25.0) == pytest.approx(gain, abs=5e-5)
        kalman.update_altitude(reading, 25.0)
        assert kalman.h == pytest.approx(mean, abs=5e-5)
        assert kalman.phh == pytest.approx(1.0 / (1.0 / 225.0 + n / 25.0), rel=1e-12)
    assert (kalman.v, kalman.a, kalman.pvv, kalman.paa) == (0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize("dt", [0.02, 0.1, 1.0, 30.0])
def test_process_noise_of_a_step_is_the_continuous_white_noise_of_filterpy(dt: float) -> None:
    kalman = VerticalFilter(altitude_sigma_m=0.0, velocity_sigma_mps=0.0, acceleration_sigma_mps2=0.0)
    kalman.predict(dt, 7.0)
    np.testing.assert_allclose(covariance(kalman), Q_continuous_white_noise(3, dt=dt, spectral_density=7.0), rtol=1e-12)


def test_one_long_step_grows_as_many_short_ones() -> None:
    """A gap is one step: what lies between two samples may not depend on how it is cut."""
    start = a_covariance(3)
    at_once = with_covariance(VerticalFilter(100.0, -20.0, 0.5), start)
    in_pieces = with_covariance(VerticalFilter(100.0, -20.0, 0.5), start)
    at_once.predict(8.0, 3.0, 0.1)
    for _ in range(400):
        in_pieces.predict(0.02, 3.0, 0.1)
    np.testing.assert_allclose(state(at_once), state(in_pieces), rtol=1e-9)
    np.testing.assert_allclose(covariance(at_once), covariance(in_pieces), rtol=1e-9)


def test_steady_gain_with_both_sensors_is_that_of_the_riccati_equation() -> None:
    dt, q, altitude_variance, acceleration_variance = 0.02, 300.0, 0.16, 0.5
    both = np.vstack([ALTITUDE, ACCELERATION])
    noise = np.diag([altitude_variance, acceleration_variance])
    kalman = VerticalFilter()
    for _ in range(4000):
        kalman.predict(dt, q)
        prior = covariance(kalman)
        kalman.update_acceleration(0.0, acceleration_variance)
        kalman.update_altitude(0.0, altitude_variance)
    process = Q_continuous_white_noise(3, dt=dt, spectral_density=q)
    np.testing.assert_allclose(prior, solve_discrete_are(transition(dt).T, both.T, process, noise), rtol=1e-6)
    gain = covariance(kalman) @ both.T @ np.linalg.inv(noise)
    steady = solve_discrete_are(transition(dt).T, both.T, process, noise)
    expected = steady @ both.T @ np.linalg.inv(both @ steady @ both.T + noise)
    np.testing.assert_allclose(gain, expected, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(("dt", "q"), [(0.02, 1.0), (0.02, 2500.0), (0.1, 3.0), (1.0, 0.4)])
def test_steady_gain_with_pressure_alone_is_that_of_the_riccati_equation(dt: float, q: float) -> None:
    variance = 0.09
    kalman = VerticalFilter()
    for _ in range(5000):
        kalman.predict(dt, q)
        gain = covariance(kalman)[:, 0] / (kalman.phh + variance)
        kalman.update_altitude(0.0, variance)
    process = Q_continuous_white_noise(3, dt=dt, spectral_density=q)
    steady = solve_discrete_are(transition(dt).T, ALTITUDE.T, process, np.array([[variance]]))
    np.testing.assert_allclose(gain, steady[:, 0] / (steady[0, 0] + variance), rtol=1e-6)


@pytest.mark.parametrize(
    ("tracking_index", "alpha", "beta", "gamma"),
    # Kalata 1984, closed form of Gray and Murray (from memory; each row equals scipy's solve_discrete_are to 1e-8):
    # beta = 2(2 - alpha) - 4 sqrt(1 - alpha), gamma = beta^2/(2 alpha), index = gamma/sqrt(1 - alpha).
    [
        (0.01, 0.35006678, 0.07512900, 0.00806184),
        (0.1, 0.60475875, 0.27575389, 0.06286822),
        (1.0, 0.86431794, 0.79796229, 0.36835046),
        (10.0, 0.98533213, 1.54489183, 1.21110978),
    ],
)
def test_steady_gains_of_kalatas_table(tracking_index: float, alpha: float, beta: float, gamma: float) -> None:
    """His model is another: no white jerk, but a step of acceleration at the beginning of every interval.

    That is `allow_step` with the whole interval as its lag: u = (T^2/2, T, 1).
    """
    interval, sigma = 0.05, 0.3
    step_mps2 = tracking_index * sigma / interval**2
    kalman = VerticalFilter()
    for _ in range(3000):
        kalman.predict(interval, 0.0)
        kalman.allow_step(step_mps2, interval)
        gain = covariance(kalman)[:, 0] / (kalman.phh + sigma**2)
        kalman.update_altitude(0.0, sigma**2)
    np.testing.assert_allclose(gain * np.array([1.0, interval, interval**2]), [alpha, beta, gamma], rtol=1e-6)


def test_after_a_silence_the_spread_is_the_models_and_one_reading_heals_it() -> None:
    sigmas = {"altitude_sigma_m": 0.2, "velocity_sigma_mps": 0.3, "acceleration_sigma_mps2": 0.5}
    kalman = VerticalFilter(500.0, -15.0, 0.0, **sigmas)
    gap, q = 12.0, 3.0
    kalman.predict(gap, q)
    assert (kalman.h, kalman.v, kalman.a) == (500.0 - 15.0 * gap, -15.0, 0.0)
    # Independent errors carried on, and the variance of white jerk integrated three times.
    expected = 0.2**2 + (0.3 * gap) ** 2 + (0.5 * gap**2 / 2.0) ** 2 + q * gap**5 / 20.0
    assert kalman.phh == pytest.approx(expected, rel=1e-12)
    assert kalman.pvv == pytest.approx(0.3**2 + (0.5 * gap) ** 2 + q * gap**3 / 3.0, rel=1e-12)
    assert kalman.paa == pytest.approx(0.5**2 + q * gap, rel=1e-12)
    kalman.update_altitude(290.0, 0.09)
    assert kalman.h == pytest.approx(290.0, abs=0.01)
    # Where white jerk is all, cov(v, h)/var(h) = (T^4/8)/(T^5/20): the speed learns from where the height is now.
    assert kalman.v == pytest.approx(-15.0 - 30.0 * 2.5 / gap, rel=0.1)
    assert np.linalg.eigvalsh(covariance(kalman)).min() > 0.0


def test_covariance_stays_positive_through_hours_of_samples_gaps_and_steps() -> None:
    rng = np.random.default_rng(4)
    kalman = VerticalFilter(altitude_sigma_m=100.0, velocity_sigma_mps=300.0, acceleration_sigma_mps2=80.0)
    for step in range(30_000):
        kalman.predict(float(rng.choice([0.02, 0.02, 0.02, 0.1, 60.0], p=[0.3, 0.3, 0.3, 0.0999, 0.0001])), 4.0)
        if step % 3 == 0:
            kalman.update_acceleration(float(rng.normal()), 1e-4)
        if step % 977 == 0:
            kalman.allow_step(60.0, 0.2)
        kalman.update_altitude(float(rng.normal()), float(rng.choice([1e-4, 0.09, 1e4])))
        if step % 50 == 0:
            p = covariance(kalman)
            scale = np.sqrt(np.diag(p))
            assert np.all(np.diag(p) > 0.0)
            assert np.linalg.eigvalsh(p / np.outer(scale, scale)).min() > 0.0
    assert np.all(np.isfinite(state(kalman)))


def test_measurements_taken_one_at_a_time_may_come_in_either_order() -> None:
    start = a_covariance(9)
    one = with_covariance(VerticalFilter(10.0, 2.0, 1.0), start)
    two = with_covariance(VerticalFilter(10.0, 2.0, 1.0), start)
    one.update_altitude(11.0, 0.3)
    one.update_acceleration(-2.0, 0.8)
    two.update_acceleration(-2.0, 0.8)
    two.update_altitude(11.0, 0.3)
    np.testing.assert_allclose(state(one), state(two), rtol=1e-12)
    np.testing.assert_allclose(covariance(one), covariance(two), rtol=1e-12)


def test_a_step_of_acceleration_is_allowed_for_where_it_would_have_led() -> None:
    """A step of s a time T ago has moved the state by s (T^2/2, T, 1); only the covariance learns of it."""
    start = a_covariance(6)
    kalman = with_covariance(VerticalFilter(300.0, 40.0, -12.0), start)
    kalman.allow_step(25.0, 0.4)
    moved = np.array([0.08, 0.4, 1.0])
    np.testing.assert_allclose(covariance(kalman), start + 25.0**2 * np.outer(moved, moved), rtol=1e-12)
    np.testing.assert_array_equal(state(kalman), [300.0, 40.0, -12.0])
    # Told of readings from after such a step, it finds the step.
    for k in range(1, 26):
        kalman.predict(0.02, 0.0)
        after = 0.4 + 0.02 * k
        kalman.update_altitude(300.0 + 40.0 * 0.02 * k - 6.0 * (0.02 * k) ** 2 + 0.5 * 30.0 * after**2, 0.01)
    assert kalman.a == pytest.approx(18.0, abs=1.0)


def test_loosening_adds_to_the_variances_alone() -> None:
    start = a_covariance(8)
    kalman = with_covariance(VerticalFilter(1.0, 2.0, 3.0), start)
    kalman.loosen(4.0, 9.0, 16.0)
    np.testing.assert_allclose(covariance(kalman), start + np.diag([4.0, 9.0, 16.0]), rtol=1e-12)
    np.testing.assert_array_equal(state(kalman), [1.0, 2.0, 3.0])


def test_a_fading_acceleration_is_a_transition_of_its_own() -> None:
    start = a_covariance(2)
    kalman = with_covariance(VerticalFilter(1.0, 2.0, 3.0), start)
    other = with_covariance(VerticalFilter(1.0, 2.0, 3.0), start)
    kalman.predict(0.1, 20.0, 5.0, 0.7)
    other.predict(0.1, 20.0, 5.0)
    fade = np.diag([1.0, 1.0, 0.7])
    np.testing.assert_allclose(covariance(kalman), fade @ covariance(other) @ fade, rtol=1e-12)
    np.testing.assert_array_equal(state(kalman), state(other))


def test_the_estimate_carries_means_and_standard_deviations() -> None:
    kalman = VerticalFilter(1.0, -2.0, 3.0, altitude_sigma_m=0.4, velocity_sigma_mps=0.5, acceleration_sigma_mps2=0.6)
    found = kalman.estimate(1234.5)
    assert (found.t_ms, found.altitude_m, found.velocity_mps, found.acceleration_mps2) == (1234.5, 1.0, -2.0, 3.0)
    sigmas = (found.altitude_sigma_m, found.velocity_sigma_mps, found.acceleration_sigma_mps2)
    assert sigmas == pytest.approx((0.4, 0.5, 0.6))
    kalman.phh = -1e-18  # rounding may leave such a thing where nothing is uncertain
    assert kalman.estimate(0.0).altitude_sigma_m == 0.0
    kalman.phh = 2.0
    assert kalman.estimate(0.0).altitude_sigma_m == sqrt(2.0)
