"""The course of a coasting rocket against closed forms, scipy and the array form of the same law."""

from math import atan, cos, log, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.boost_fit import _coasting_mps2
from station.coast_path import coast_path, coasting_mps2

G = 9.80665


@pytest.mark.parametrize("velocity_mps", [40.0, 120.0, 220.0])
def test_a_climb_in_even_air_is_the_closed_form(velocity_mps: float) -> None:
    """v = w tan(atan(v0/w) - g t/w), h = w^2/g ln(cos(..)/cos(..)), w^2 = g/k: so little height is even air."""
    drag = 0.002
    times = [0.05 * n for n in range(11)]
    heights, velocities = coast_path(0.0, velocity_mps, drag, times)
    w = sqrt(G / drag)
    start = atan(velocity_mps / w)
    for t, h, v in zip(times, heights, velocities, strict=True):
        assert v == pytest.approx(w * tan(start - G * t / w), abs=0.002 * velocity_mps)
        assert h == pytest.approx(w * w / G * log(cos(start - G * t / w) / cos(start)), rel=2e-3, abs=1e-9)


@pytest.mark.parametrize(("velocity_mps", "altitude_m"), [(450.0, 300.0), (180.0, 2500.0), (-60.0, 900.0)])
def test_the_steps_are_scipys_solution(velocity_mps: float, altitude_m: float) -> None:
    times = np.arange(0.0, 6.0, 0.1)
    heights, velocities = coast_path(altitude_m, velocity_mps, 8e-4, times.tolist())
    solved = solve_ivp(
        lambda _t, y: [y[1], coasting_mps2(float(y[0]), float(y[1]), 8e-4)],
        (0.0, times[-1]),
        [altitude_m, velocity_mps],
        "DOP853",
        times,
        rtol=1e-10,
        atol=1e-8,
        max_step=0.02,
    )
    assert heights == pytest.approx(solved.y[0], abs=5e-3)
    # The rise of the drag has kinks, which a step goes over.
    assert velocities == pytest.approx(solved.y[1], abs=0.02)


def test_back_in_time_it_comes_to_where_it_began() -> None:
    times = [0.1 * n for n in range(60)]
    heights, velocities = coast_path(200.0, 250.0, 5e-4, times)
    back_m, back_mps = coast_path(heights[-1], velocities[-1], 5e-4, times[::-1])
    assert back_m[-1] == pytest.approx(200.0, abs=1e-3)
    assert back_mps[-1] == pytest.approx(250.0, abs=1e-3)


def test_one_at_a_time_it_is_what_many_at_once_are() -> None:
    rng = np.random.default_rng(5)
    h, v = rng.uniform(-50.0, 9000.0, 500), rng.uniform(-700.0, 900.0, 500)
    many = _coasting_mps2(h, v, 7e-4)
    one = [coasting_mps2(float(a), float(b), 7e-4) for a, b in zip(h, v, strict=True)]
    assert one == pytest.approx(many, rel=1e-12)


def test_a_trial_that_runs_away_stays_a_number() -> None:
    assert np.isfinite(coast_path(0.0, 1e6, 0.05, [0.0, 0.2, 0.4])).all()
    assert np.isfinite(coasting_mps2(-1e9, -1e9, 3.0))
