"""The climb foretold, against the closed forms of steady drag and an integrator of another make."""

from math import pi, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.ascent_forecast import Ascent, coast_time_s, foretell_ascent, rail_exit_mps
from station.atmosphere import density_ratio

G = 9.80665


def reference(**changes: float) -> Ascent | None:
    """2 kg, 200 N for 2 s, 75 mm, drag coefficient 0.6, air of 1.225 kg/m^3 at every height."""
    figures = {
        "mass_kg": 2.0,
        "propellant_kg": 0.0,
        "thrust_n": 200.0,
        "burn_s": 2.0,
        "drag_area_m2": 0.6 * pi * 0.075**2 / 4.0,
    }
    return foretell_ascent(**(figures | changes), density_kgpm3=lambda height_m: 1.225)


def test_the_reference_flight_of_the_closed_forms() -> None:
    # Fehskens-Malewicki closed forms (as widely printed) of these figures, and scipy's DOP853 agreeing to 4 decimals.
    ascent = reference()
    assert ascent is not None
    assert ascent.burnout_mps == pytest.approx(164.6211, abs=1e-3)
    assert ascent.burnout_m == pytest.approx(172.2135, abs=1e-3)
    assert ascent.apogee_m == pytest.approx(896.9124, abs=2e-3)
    assert ascent.apogee_s == pytest.approx(13.0072, abs=1e-3)
    assert ascent.coast_s == pytest.approx(11.0072, abs=1e-3)


def test_lighter_propellant_and_thinner_air_as_an_integrator_of_another_make_has_them() -> None:
    drag_area, kelvin = 0.6 * pi * 0.066**2 / 4.0, 298.15

    def rates(t: float, state: np.ndarray) -> list[float]:
        h, v = state
        mass = 1.5 - 0.09 * min(t, 2.0) / 2.0
        drag = 0.5 * 1.16 * density_ratio(h, kelvin) * drag_area * v * abs(v)
        return [v, ((100.0 if t < 2.0 else 0.0) - drag) / mass - G]

    def turning(t: float, state: np.ndarray) -> float:
        return float(state[1]) if t > 2.0 else 1.0

    turning.terminal = True  # type: ignore[attr-defined]
    boost = solve_ivp(rates, (0.0, 2.0), [0.0, 0.0], rtol=1e-9, atol=1e-9)
    coast = solve_ivp(rates, (2.0, 60.0), boost.y[:, -1], events=turning, rtol=1e-9, atol=1e-9)
    ascent = foretell_ascent(
        mass_kg=1.5,
        propellant_kg=0.09,
        thrust_n=100.0,
        burn_s=2.0,
        drag_area_m2=drag_area,
        density_kgpm3=lambda height_m: 1.16 * density_ratio(height_m, kelvin),
    )
    assert ascent is not None
    assert ascent.burnout_mps == pytest.approx(boost.y[1, -1], rel=1e-5)
    assert ascent.apogee_m == pytest.approx(coast.y[0, -1], rel=1e-5)
    assert ascent.apogee_s == pytest.approx(coast.t[-1], rel=1e-5)


def test_thrust_that_does_not_lift_the_weight_has_no_ascent() -> None:
    assert reference(thrust_n=2.0 * G) is None
    assert rail_exit_mps(mass_kg=2.0, thrust_n=2.0 * G, rail_length_m=2.0) is None


def test_a_height_without_end_is_no_forecast() -> None:
    assert reference(thrust_n=1e5, burn_s=60.0, drag_area_m2=0.0) is None


def test_speed_at_the_end_of_the_rail() -> None:
    # v^2 = 2 a L: 100 N on 2 kg is 50 - 9.80665 m/s^2 net, over 2 m.
    assert rail_exit_mps(mass_kg=2.0, thrust_n=100.0, rail_length_m=2.0) == pytest.approx(sqrt(4.0 * (50.0 - G)))


@pytest.mark.parametrize(
    # Closed forms of the coast with k 0.001623565 kg/m and 2 kg, computed with scipy: speed, height gained, time.
    ("speed", "height", "seconds"),
    [
        (50.0, 115.852, 4.7850),
        (100.0, 371.470, 8.2738),
        (150.0, 647.774, 10.5178),
        (200.0, 899.998, 11.9732),
        (300.0, 1314.500, 13.6692),
        # Without drag: v^2/(2 g) and v/g.
        (100.0, 509.858, 10.1972),
    ],
)
def test_coast_time_from_speed_and_height(speed: float, height: float, seconds: float) -> None:
    assert coast_time_s(speed_mps=speed, height_m=height) == pytest.approx(seconds, abs=2e-3)


@pytest.mark.parametrize(("speed", "height"), [(100.0, 511.0), (100.0, 0.0), (100.0, -5.0), (0.0, 10.0)])
def test_a_height_that_no_coast_reaches_has_no_time(speed: float, height: float) -> None:
    assert coast_time_s(speed_mps=speed, height_m=height) is None
