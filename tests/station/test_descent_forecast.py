"""The way down foretold, against worked figures."""

import pytest

from station.descent_forecast import WayDown, canopy_drag_coefficient, descent, landing_energy_j

FOOT_POUND_J = 1.3558179483314  # exact, from the foot, the pound and standard gravity


def test_time_and_drift_of_the_worked_example() -> None:
    # By hand: 850 m at 20 m/s and 150 m at 5.5 m/s are 42.5 s + 27.27 s; times 5 m/s, and times 20 mph = 8.9408 m/s.
    for wind, drift in ((5.0, 348.9), (8.9408, 623.8)):
        down = descent(WayDown.DROGUE_THEN_MAIN, apogee_m=1000.0, main_mps=5.5, wind_mps=wind, drogue=(20.0, 150.0))
        assert down.seconds == pytest.approx(69.77, abs=0.005)
        assert down.drift_m == pytest.approx(drift, abs=0.05)


def test_the_main_from_apogee_takes_all_the_way() -> None:
    down = descent(WayDown.MAIN_AT_APOGEE, apogee_m=1000.0, main_mps=5.0, wind_mps=4.0)
    assert (down.seconds, down.drift_m) == (200.0, 800.0)


def test_below_its_height_the_main_carries_from_apogee() -> None:
    down = descent(WayDown.DROGUE_THEN_MAIN, apogee_m=100.0, main_mps=5.0, wind_mps=None, drogue=(20.0, 150.0))
    assert (down.seconds, down.drift_m) == (20.0, None)


def test_landing_energy_of_the_worked_example() -> None:
    # By hand: 2 kg at 5.7928 m/s is 33.56 J, 24.75 ft lbf.
    energy = landing_energy_j(2.0, 5.7928)
    assert energy == pytest.approx(33.56, abs=0.005)
    assert energy / FOOT_POUND_J == pytest.approx(24.75, abs=0.005)


@pytest.mark.parametrize(
    # Terminal speeds of 2 kg, computed from v = sqrt(2 m g/(rho Cd A)) with Cd 1.5: diameter, air density, speed.
    ("diameter", "density", "speed"),
    [
        (0.90, 1.225, 5.7928),
        (0.30, 1.225, 17.378),
        (0.30, 1.11166, 18.243),
        (0.30, 0.909254, 20.173),
        (1.1586, 1.225, 4.5),
    ],
)
def test_the_drag_coefficient_that_a_terminal_speed_means(diameter: float, density: float, speed: float) -> None:
    assert canopy_drag_coefficient(2.0, density, diameter, speed) == pytest.approx(1.5, rel=3e-4)


def test_the_nose_first_body_of_a_printed_example() -> None:
    # A hobby drogue-sizing page: 5 lb, 4 in, coefficient 0.75, 253 ft/s (with air of 0.0023769 slug/ft^3).
    coefficient = canopy_drag_coefficient(5 * 0.45359237, 0.0023769 * 14.593903 / 0.3048**3, 4 * 0.0254, 253.0 * 0.3048)
    assert coefficient == pytest.approx(0.75, rel=5e-3)
