"""Honest sigmas: normalised errors and innovations squared inside their chi-square bounds.

Bar-Shalom, Li and Kirubarajan 2001, section 5.4: the mean over N independent runs of the normalised estimation error
squared (NEES) times N is chi-square with N n_x degrees; of the normalised innovation squared (NIS) with N n_z. Points
follow each other in time and are not independent, so what is asked is that at least 90 % of them lie inside the
two-sided 95 % bounds. The truth is drawn from the filter's own model.
"""

from collections.abc import Callable

import numpy as np
import pytest
from filterpy.common import Q_continuous_white_noise
from scipy.stats import chi2

from station.atmosphere import G0_MPS2, isa_altitude_m, isa_pressure_pa
from station.estimator import VerticalFilter
from station.flight_state import Phase
from station.vertical_motion import JERK_DENSITY, VerticalMotion

RUNS, STEPS = 50, 200
SIGMAS = np.array([1.0, 4.0, 10.0])


def share_inside(squares: np.ndarray, degrees: int) -> float:
    """`squares` (runs, steps): the share of steps whose mean over the runs lies inside the 95 % bounds."""
    runs = squares.shape[0]
    low, high = chi2.ppf([0.025, 0.975], runs * degrees) / runs
    means = squares.mean(axis=0)
    return float(np.mean((means > low) & (means < high)))


def covariance(state: VerticalFilter) -> np.ndarray:
    return np.array(
        [[state.phh, state.phv, state.pha], [state.phv, state.pvv, state.pva], [state.pha, state.pva, state.paa]]
    )


def nees(state: VerticalFilter, truth: np.ndarray) -> float:
    error = np.array([state.h, state.v, state.a]) - truth
    return float(error @ np.linalg.solve(covariance(state), error))


def begun(mean: np.ndarray) -> VerticalFilter:
    h, v, a = (float(x) for x in mean)
    return VerticalFilter(
        h, v, a, altitude_sigma_m=SIGMAS[0], velocity_sigma_mps=SIGMAS[1], acceleration_sigma_mps2=SIGMAS[2]
    )


def test_the_bounds_are_those_of_the_printed_table() -> None:
    # Two-sided 95 % of the mean of 50 runs, by scipy.
    assert chi2.ppf([0.025, 0.975], 50) / 50 == pytest.approx([0.6471, 1.4284], abs=1e-4)
    assert chi2.ppf([0.025, 0.975], 150) / 50 == pytest.approx([2.3597, 3.7160], abs=1e-4)


@pytest.mark.parametrize("with_force", [False, True])
@pytest.mark.parametrize("density", [1.0, 2500.0])
def test_the_filter_on_its_own_model_with_irregular_steps_and_gaps(density: float, with_force: bool) -> None:
    rng = np.random.default_rng(31)
    dts = rng.choice([0.02, 0.05, 0.1, 0.8], STEPS, p=[0.6, 0.2, 0.15, 0.05])
    roots = {dt: np.linalg.cholesky(Q_continuous_white_noise(3, dt=dt, spectral_density=density)) for dt in set(dts)}
    errors, height_nis, force_nis = (np.zeros((RUNS, STEPS)) for _ in range(3))
    for run in range(RUNS):
        start = np.array([100.0, 80.0, -20.0])
        truth = start + SIGMAS * rng.normal(size=3)
        kalman = begun(start)
        for k, dt in enumerate(dts):
            h, v, a = truth
            truth = np.array([h + dt * v + 0.5 * dt * dt * a, v + dt * a, a]) + roots[dt] @ rng.normal(size=3)
            kalman.predict(float(dt), density)
            if with_force:
                z, r = float(truth[2] + rng.normal(0.0, 0.7)), 0.49
                y, s = kalman.acceleration_innovation(z, r)
                force_nis[run, k] = y * y / s
                kalman.update_acceleration(z, r)
            z, r = float(truth[0] + rng.normal(0.0, 0.4)), 0.16
            y, s = kalman.altitude_innovation(z, r)
            height_nis[run, k] = y * y / s
            kalman.update_altitude(z, r)
            errors[run, k] = nees(kalman, truth)
    assert share_inside(errors, 3) >= 0.9
    assert share_inside(height_nis, 1) >= 0.9
    if with_force:
        assert share_inside(force_nis, 1) >= 0.9


def drag_jerk(v: float, a: float) -> float:
    """With drag per mass D = a + g growing as v^2, da/dt = 2 D a / v."""
    return 2.0 * (a + G0_MPS2) * a / v


def coasting(rng: np.random.Generator, density: float, start: np.ndarray, dt: float) -> Callable[[], np.ndarray]:
    """A coast along its drag, shaken by white jerk: one sample after the other."""
    state = start.copy()
    fine = 5

    def step() -> np.ndarray:
        nonlocal state
        h, v, a = state
        for _ in range(fine):
            part = dt / fine
            jerk = drag_jerk(v, a)
            kick = rng.normal(0.0, (density * part) ** 0.5)
            h, v, a = h + part * v + 0.5 * part * part * a, v + part * a + 0.5 * part * kick, a + part * jerk + kick
        state = np.array([h, v, a])
        return state

    return step


@pytest.mark.parametrize(
    ("phase", "start"),
    [
        (Phase.COAST, np.array([300.0, 150.0, -25.0])),
        (Phase.DESCENT, np.array([900.0, -22.0, 0.0])),
    ],
)
def test_the_estimator_as_it_flies_where_its_model_holds(phase: Phase, start: np.ndarray) -> None:
    """With its gates, its watch for steps and its course along the drag; four seconds at 50 Hz."""
    rng = np.random.default_rng(32)
    sigmas = np.array([1.0, 2.0, 1.5])
    squares = np.zeros((RUNS, STEPS))
    for run in range(RUNS):
        truth_of = coasting(rng, JERK_DENSITY[phase], start + sigmas * rng.normal(size=3), 0.02)
        h, v, a = (float(x) for x in start)
        first = VerticalFilter(
            h, v, a, altitude_sigma_m=sigmas[0], velocity_sigma_mps=sigmas[1], acceleration_sigma_mps2=sigmas[2]
        )
        motion = VerticalMotion(0.0, first, 3.0, 288.15)
        for k in range(STEPS):
            truth = truth_of()
            pressure = isa_pressure_pa(float(truth[0])) + float(rng.normal(0.0, 3.0))
            motion.move(20.0 * (k + 1), pressure, isa_altitude_m(pressure), None, phase)
            squares[run, k] = nees(motion.state, truth)
    assert share_inside(squares, 3) >= 0.9


def test_a_filter_that_thinks_its_sensor_too_good_is_found_out() -> None:
    """The test itself can fail: half the true noise puts the innovations far outside."""
    rng = np.random.default_rng(33)
    squares = np.zeros((RUNS, STEPS))
    for run in range(RUNS):
        kalman = begun(np.array([0.0, 0.0, 0.0]))
        for k in range(STEPS):
            kalman.predict(0.02, 1.0)
            z = float(rng.normal(0.0, 0.4))
            y, s = kalman.altitude_innovation(z, 0.04)
            squares[run, k] = y * y / s
            kalman.update_altitude(z, 0.04)
    assert share_inside(squares[:, 50:], 1) < 0.2
