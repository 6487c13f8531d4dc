"""A simulated course against the closed-form flight that it was made from."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.prediction import MOST_POINTS, CourseError, Prediction, prediction_of

# 2 kg, 200 N for 2 s, diameter 0.075 m, Cd 0.60, density 1.225, g 9.80665, mass and density held: by the closed form of
# Fehskens and Malewicki (as widely printed) 164.6211 m/s at burnout and 896.9124 m at 13.0072 s; scipy agrees.
K = 0.001623565
BURNOUT_MPS, APOGEE_M, APOGEE_S = 164.6211, 896.9124, 13.0072


def reference(step_s: float = 0.02, pad_s: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, heights and velocities: at rest for `pad_s`, up, and down again without a parachute."""

    def change(t: float, y: np.ndarray) -> list[float]:
        thrust = 200.0 if t < 2.0 else 0.0
        return [y[1], (thrust - K * abs(y[1]) * y[1]) / 2.0 - 9.80665]

    t = np.arange(0.0, 34.0, step_s)
    y = solve_ivp(change, (0.0, 34.0), [0.0, 0.0], "DOP853", t, rtol=1e-9, atol=1e-9, max_step=0.02).y
    up = y[0] >= 0.0
    waits = np.arange(0.0, pad_s, step_s)
    return (
        np.concatenate([waits, t[up] + pad_s]),
        np.concatenate([0.0 * waits, y[0][up]]),
        np.concatenate([0.0 * waits, y[1][up]]),
    )


def made(t: np.ndarray, altitude: np.ndarray, velocity: np.ndarray | None, *, file: str = "comet.csv") -> Prediction:
    return prediction_of(t, altitude, velocity, file=file, columns="as made")


@pytest.mark.parametrize("pad_s", [0.0, 5.0])
@pytest.mark.parametrize("with_speed", [True, False])
@pytest.mark.parametrize("pad_m", [0.0, 1250.0])
def test_the_figures_are_those_of_the_closed_form(pad_s: float, with_speed: bool, pad_m: float) -> None:
    """Whenever its clock begins, whatever height its pad has, and if need be with speeds from the heights."""
    t, altitude, velocity = reference(pad_s=pad_s)
    found = made(t, altitude + pad_m, velocity if with_speed else None)
    assert found.apogee_m == pytest.approx(APOGEE_M, abs=0.01)
    assert found.apogee_s == pytest.approx(APOGEE_S, abs=0.03)
    assert found.max_speed_mps == pytest.approx(BURNOUT_MPS, rel=0.005)
    assert found.max_speed_s == pytest.approx(2.0, abs=0.03)
    assert found.touchdown_s == pytest.approx(float(t[-1]) - pad_s, abs=0.1)


def test_the_course_to_be_drawn_is_thinned_but_keeps_its_ends_and_tops() -> None:
    t, altitude, velocity = reference(step_s=0.002)
    found = made(t, altitude, velocity)
    assert len(found.t_s) <= MOST_POINTS + 4
    assert (np.diff(found.t_s) > 0.0).all()
    assert found.altitude_m.max() == found.apogee_m
    assert found.velocity_mps.max() == found.max_speed_mps
    assert found.t_s[-1] - found.t_s[0] == pytest.approx(float(t[-1]))
    assert -0.03 < found.t_s[0] <= 0.0


def test_a_simulation_that_ends_in_the_air_has_no_touchdown() -> None:
    t, altitude, velocity = reference()
    early = t < 15.0
    assert made(t[early], altitude[early], velocity[early]).touchdown_s is None


def test_rows_of_the_same_moment_are_allowed() -> None:
    t, altitude, _ = reference()
    twice = np.sort(np.concatenate([np.arange(len(t)), np.arange(len(t))]))
    assert made(t[twice], altitude[twice], None).max_speed_mps == pytest.approx(BURNOUT_MPS, rel=0.005)


def test_what_is_no_flight_is_refused_with_a_remedy() -> None:
    t, altitude, velocity = reference()
    with pytest.raises(CourseError, match=r"never climbs 5 m .*: is that column the altitude\?"):
        made(t, 0.001 * altitude, None)
    up = t < 10.0
    with pytest.raises(CourseError, match="still climbs in its last row: save the simulation up to the ground"):
        made(t[up], altitude[up], velocity[up])
    with pytest.raises(CourseError, match=r"540 m/s by the speeds, but 164 m/s by the altitudes .*: is a unit wrong"):
        made(t, altitude, velocity / 0.3048)
