"""The smoother against filterpy's, and against one batch solution that knows no recursion at all."""

import numpy as np
import pytest
from filterpy.common import Q_continuous_white_noise
from filterpy.kalman import KalmanFilter

from station.estimator import VerticalFilter
from station.smoothing import SmoothedCurve, SmoothingStep, smooth

START = np.array([1.0, -3.0, 20.0])
START_SIGMAS = np.array([0.7, 2.0, 15.0])


def transition(dt: float) -> np.ndarray:
    return np.array([[1.0, dt, 0.5 * dt * dt], [0.0, 1.0, dt], [0.0, 0.0, 1.0]])


def start() -> VerticalFilter:
    h, v, a = (float(x) for x in START)
    sh, sv, sa = (float(x) for x in START_SIGMAS)
    return VerticalFilter(h, v, a, altitude_sigma_m=sh, velocity_sigma_mps=sv, acceleration_sigma_mps2=sa)


def samples(seed: int, count: int, step_at: int | None = None) -> list[SmoothingStep]:
    """Irregular times with a gap, process noise that changes, accelerations for the first part only."""
    rng = np.random.default_rng(seed)
    found, t = [], 10.0
    for k in range(count):
        found.append(
            SmoothingStep(
                t_s=t,
                altitude_m=float(5.0 * (t - 10.0) + rng.normal(0.0, 0.5)),
                variance_m2=float(rng.choice([0.09, 0.25, 1e10], p=[0.5, 0.4, 0.1])),
                acceleration_mps2=float(rng.normal(0.0, 3.0)) if k < count // 2 else None,
                acceleration_variance=0.5,
                jerk_density=4000.0 if k < count // 3 else 20.0,
                step_mps2=25.0 if k == step_at else 0.0,
            )
        )
        t += 1.5 if k == count // 2 else float(rng.uniform(0.02, 0.12))
    return found


def process_noise(steps: list[SmoothingStep], k: int) -> np.ndarray:
    """From sample k - 1 to sample k; a step of acceleration happens at k itself."""
    dt = steps[k].t_s - steps[k - 1].t_s if k else 0.0
    q = Q_continuous_white_noise(3, dt=dt, spectral_density=steps[k].jerk_density)
    q[2, 2] += steps[k].step_mps2 ** 2
    return np.asarray(q)


def by_filterpy(steps: list[SmoothingStep]) -> tuple[np.ndarray, np.ndarray]:
    kalman = KalmanFilter(dim_x=3, dim_z=1)
    kalman.x, kalman.P = START.reshape(3, 1).copy(), np.diag(START_SIGMAS**2)
    means, covariances, transitions, noises = [], [], [], []
    for k, step in enumerate(steps):
        f = transition(step.t_s - steps[k - 1].t_s if k else 0.0)
        q = process_noise(steps, k)
        kalman.predict(F=f, Q=q)
        if step.acceleration_mps2 is not None:
            kalman.update(
                np.array([[step.acceleration_mps2]]),
                R=np.array([[step.acceleration_variance]]),
                H=np.array([[0.0, 0.0, 1.0]]),
            )
        kalman.update(np.array([[step.altitude_m]]), R=np.array([[step.variance_m2]]), H=np.array([[1.0, 0.0, 0.0]]))
        means.append(kalman.x.copy())
        covariances.append(kalman.P.copy())
        transitions.append(f)
        noises.append(q)
    # Its smoother takes the transition to sample k at k, as the filter had it.
    x, p, _, _ = kalman.rts_smoother(np.array(means), np.array(covariances), np.array(transitions), np.array(noises))
    return x[:, :, 0], p


def in_one_batch(steps: list[SmoothingStep]) -> tuple[np.ndarray, np.ndarray]:
    """The posterior of all states at once: every prior, motion and reading is a row of one least-squares problem."""
    n = len(steps)
    rows: list[np.ndarray] = []
    values: list[np.ndarray] = []

    def add(row: np.ndarray, value: np.ndarray, covariance: np.ndarray) -> None:
        root = np.linalg.cholesky(covariance)
        rows.append(np.linalg.solve(root, row))
        values.append(np.linalg.solve(root, value))

    first = np.zeros((3, 3 * n))
    first[:, :3] = np.eye(3)
    add(first, START, np.diag(START_SIGMAS**2) + process_noise(steps, 0))
    for k, step in enumerate(steps):
        if k:
            row = np.zeros((3, 3 * n))
            row[:, 3 * k - 3 : 3 * k] = -transition(step.t_s - steps[k - 1].t_s)
            row[:, 3 * k : 3 * k + 3] = np.eye(3)
            add(row, np.zeros(3), process_noise(steps, k))
        for column, value, variance in (
            (0, step.altitude_m, step.variance_m2),
            (2, step.acceleration_mps2, step.acceleration_variance),
        ):
            if value is not None:
                row = np.zeros((1, 3 * n))
                row[0, 3 * k + column] = 1.0
                add(row, np.array([value]), np.array([[variance]]))
    orthogonal, triangle = np.linalg.qr(np.vstack(rows))
    states = np.linalg.solve(triangle, orthogonal.T @ np.concatenate(values))
    inverse = np.linalg.inv(triangle)
    covariance = inverse @ inverse.T
    blocks = np.array([covariance[3 * k : 3 * k + 3, 3 * k : 3 * k + 3] for k in range(n)])
    return states.reshape(n, 3), blocks


def same(curve: SmoothedCurve, states: np.ndarray, covariances: np.ndarray, tolerance: float) -> None:
    np.testing.assert_allclose(curve.states, states, rtol=tolerance, atol=tolerance)
    sigmas = np.sqrt(np.diagonal(covariances, axis1=1, axis2=2))
    units = sigmas[:, :, None] * sigmas[:, None, :]
    np.testing.assert_allclose(curve.covariances / units, covariances / units, atol=tolerance)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_equals_filterpys_smoother(seed: int) -> None:
    steps = samples(seed, 300)
    same(smooth(start(), steps), *by_filterpy(steps), 1e-8)


def test_a_step_of_acceleration_between_two_samples_equals_filterpy_with_that_noise() -> None:
    steps = samples(5, 200, step_at=120)
    same(smooth(start(), steps), *by_filterpy(steps), 1e-8)


def test_it_equals_a_batch_solution_that_knows_no_recursion() -> None:
    steps = samples(7, 60, step_at=40)
    same(smooth(start(), steps), *in_one_batch(steps), 1e-8)


def test_the_last_state_is_the_filters_and_no_state_is_less_sure_than_the_filter() -> None:
    steps = samples(11, 150)
    curve = smooth(start(), steps)
    kalman, last_s = start(), steps[0].t_s
    for k, step in enumerate(steps):
        kalman.predict(step.t_s - last_s, step.jerk_density)
        last_s = step.t_s
        if step.acceleration_mps2 is not None:
            kalman.update_acceleration(step.acceleration_mps2, step.acceleration_variance)
        kalman.update_altitude(step.altitude_m, step.variance_m2)
        smoothed = np.diag(curve.covariances[k])
        assert np.all(smoothed <= np.array([kalman.phh, kalman.pvv, kalman.paa]) * (1.0 + 1e-9))
    np.testing.assert_allclose(curve.states[-1], [kalman.h, kalman.v, kalman.a], rtol=1e-12)
    np.testing.assert_array_equal(curve.t_s, [step.t_s for step in steps])


def test_on_a_curve_of_its_own_model_it_errs_as_much_as_it_says_and_less_than_the_filter() -> None:
    """Forty flights drawn from the model itself: errors over sigma are standard normal."""
    rng = np.random.default_rng(17)
    dt, q, variance, count = 0.05, 30.0, 0.09, 100
    root = np.linalg.cholesky(Q_continuous_white_noise(3, dt=dt, spectral_density=q))
    squared, filtered, smoothed = [], [], []
    for _ in range(40):
        state = START + START_SIGMAS * rng.normal(size=3)
        truth, steps = [], []
        for k in range(count):
            if k:
                state = transition(dt) @ state + root @ rng.normal(size=3)
            truth.append(state)
            reading = float(state[0] + rng.normal(0.0, variance**0.5))
            steps.append(SmoothingStep(k * dt, reading, variance, None, 1.0, q))
        curve = smooth(start(), steps)
        error = curve.states - np.array(truth)
        squared.append(np.einsum("ki,kij,kj->k", error, np.linalg.inv(curve.covariances), error)[50])
        smoothed.append(error[20:80, 1])
        kalman = start()
        live = []
        for k, step in enumerate(steps):
            kalman.predict(dt if k else 0.0, q)
            kalman.update_altitude(step.altitude_m, variance)
            live.append(kalman.v - truth[k][1])
        filtered.append(live[20:80])
    # Chi-square with 3 degrees, 40 runs: 99.9 % of means lie within 1.9 to 4.4.
    assert 1.9 < float(np.mean(squared)) < 4.4
    assert np.std(smoothed) < 0.6 * np.std(filtered)


def test_a_reading_that_is_not_trusted_leaves_no_mark() -> None:
    steps = samples(13, 80)
    wild = list(steps)
    wild[40] = SmoothingStep(steps[40].t_s, 9e4, 1e16, None, 1.0, steps[40].jerk_density)
    calm = list(wild)
    calm[40] = SmoothingStep(steps[40].t_s, 0.0, 1e16, None, 1.0, steps[40].jerk_density)
    np.testing.assert_allclose(smooth(start(), wild).states, smooth(start(), calm).states, rtol=1e-6, atol=1e-6)
