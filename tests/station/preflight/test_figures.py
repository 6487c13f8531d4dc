"""The figures that follow from a plan, against the closed forms and hand calculation."""

import pytest

from station.descent_forecast import WayDown
from station.plan import FlightPlan, Recovery
from station.preflight import look_ahead

# 2 kg, 200 N for 2 s, 75 mm, drag coefficient 0.6. In air of 1.225 kg/m^3 at every height the closed forms
# (Fehskens-Malewicki, as widely printed) give 164.62 m/s, apogee 896.9 m at 13.007 s; in air that thins, more.
REFERENCE = FlightPlan(
    rocket_mass_kg=2.0,
    rocket_diameter_m=0.075,
    rocket_drag_coefficient=0.6,
    rail_length_m=2.0,
    total_impulse_ns=400.0,
    mean_thrust_n=200.0,
    burn_time_s=2.0,
)


def test_an_empty_plan_has_no_figures_but_standard_air() -> None:
    ahead = look_ahead(FlightPlan())
    assert ahead.air_density_kgpm3 == pytest.approx(1.225, rel=1e-5)  # US Standard Atmosphere 1976 at sea level
    names = set(ahead.__dataclass_fields__) - {"plan", "air_density_kgpm3", "descents"}
    assert {getattr(ahead, name) for name in names} == {None}
    assert ahead.descents == ()


def test_the_reference_rocket() -> None:
    ahead = look_ahead(REFERENCE)
    assert (ahead.impulse_class, ahead.certification_level) == ("I", 1)
    assert ahead.thrust_to_weight == pytest.approx(10.2, abs=0.005)  # 200/(2 x 9.80665)
    assert ahead.rail_exit_mps == pytest.approx((2.0 * (100.0 - 9.80665) * 2.0) ** 0.5)
    assert ahead.ascent is not None
    assert ahead.ascent.burnout_mps == pytest.approx(164.62, rel=0.005)
    assert 896.9 < ahead.ascent.apogee_m < 896.9 * 1.03
    assert ahead.delay is not None
    assert ahead.delay.wanted_s == pytest.approx(11.007, rel=0.02)
    assert ahead.top_mach == pytest.approx(164.6 / 340.294, rel=0.005)


@pytest.mark.parametrize("left_out", ["total_impulse_ns", "mean_thrust_n", "burn_time_s"])
def test_the_third_figure_of_the_motor_follows_from_two(left_out: str) -> None:
    plan = {name: getattr(REFERENCE, name) for name in REFERENCE.__dataclass_fields__} | {left_out: None}
    ahead = look_ahead(FlightPlan(**plan))
    assert (ahead.total_impulse_ns, ahead.mean_thrust_n, ahead.burn_time_s) == (400.0, 200.0, 2.0)
    assert ahead.ascent is not None


def test_without_a_drag_coefficient_no_height_is_made_up() -> None:
    plan = {name: getattr(REFERENCE, name) for name in REFERENCE.__dataclass_fields__}
    ahead = look_ahead(FlightPlan(**(plan | {"rocket_drag_coefficient": None})))
    assert (ahead.ascent, ahead.apogee_m, ahead.delay) == (None, None, None)


def test_the_delay_from_the_predicted_time() -> None:
    ahead = look_ahead(FlightPlan(burn_time_s=2.0, predicted_apogee_s=13.0072, predicted_apogee_m=500.0))
    assert ahead.delay is not None
    assert ahead.delay.wanted_s == pytest.approx(11.0072)


def test_the_delay_from_the_predicted_height_and_speed() -> None:
    # The reference flight: 164.6211 m/s, 896.9124 m, and 11.0072 s of coast by the closed forms. It burns out at
    # 172.2 m, half of top speed times burn time is 164.6 m: hence the tolerance.
    ahead = look_ahead(FlightPlan(burn_time_s=2.0, predicted_apogee_m=896.9124, predicted_speed_mps=164.6211))
    assert ahead.delay is not None
    assert ahead.delay.wanted_s == pytest.approx(11.0072, abs=0.1)


def test_a_prediction_that_cannot_be_gives_no_delay() -> None:
    ahead = look_ahead(FlightPlan(burn_time_s=2.0, predicted_apogee_m=5000.0, predicted_speed_mps=100.0))
    assert ahead.delay is None


def test_the_prediction_comes_before_our_own_forecast() -> None:
    plan = {name: getattr(REFERENCE, name) for name in REFERENCE.__dataclass_fields__}
    ahead = look_ahead(FlightPlan(**(plan | {"predicted_apogee_m": 850.0, "predicted_speed_mps": 150.0})))
    assert ahead.apogee_m == 850.0
    assert ahead.top_mach == pytest.approx(150.0 / 340.294, rel=1e-4)


def test_both_ways_down_of_the_worked_example() -> None:
    # By hand: 850 m at 20 m/s and 150 m at 5.5 m/s are 69.77 s, 348.9 m in 5 m/s; 1000 m at 5.5 m/s are 181.8 s.
    plan = FlightPlan(
        recovery=Recovery.DUAL, drogue_rate_mps=20.0, main_rate_mps=5.5, main_height_m=150.0, wind_mps=5.0,
        predicted_apogee_m=1000.0,
    )  # fmt: skip
    planned, from_apogee = look_ahead(plan).descents
    assert planned.way is WayDown.DROGUE_THEN_MAIN
    assert planned.seconds == pytest.approx(69.77, abs=0.005)
    assert planned.drift_m == pytest.approx(348.9, abs=0.05)
    assert from_apogee.way is WayDown.MAIN_AT_APOGEE
    assert from_apogee.seconds == pytest.approx(181.8, abs=0.05)


def test_motor_ejection_has_one_way_down() -> None:
    plan = FlightPlan(recovery=Recovery.MOTOR, main_rate_mps=5.0, predicted_apogee_m=300.0)
    (down,) = look_ahead(plan).descents
    assert (down.way, down.seconds, down.drift_m) == (WayDown.ONE_PARACHUTE, 60.0, None)


def test_it_lands_without_its_propellant() -> None:
    # By hand: 2 kg at 5.7928 m/s is 33.56 J.
    plan = FlightPlan(rocket_mass_kg=2.5, propellant_mass_kg=0.5, main_rate_mps=5.7928)
    ahead = look_ahead(plan)
    assert ahead.landing_mass_kg == 2.0
    assert ahead.landing_energy_j == pytest.approx(33.56, abs=0.005)


def test_the_drag_that_the_canopies_need() -> None:
    # Terminal speeds of 2 kg under 0.90 m and 0.30 m with Cd 1.5 at sea level: 5.7928 and 17.378 m/s.
    plan = FlightPlan(
        rocket_mass_kg=2.0, main_diameter_m=0.90, main_rate_mps=5.7928, drogue_diameter_m=0.30, drogue_rate_mps=17.378
    )
    ahead = look_ahead(plan)
    assert ahead.main_drag_coefficient == pytest.approx(1.5, rel=2e-4)
    assert ahead.drogue_drag_coefficient == pytest.approx(1.5, rel=2e-4)


def test_hot_and_high_air_is_thin() -> None:
    # ICAO table: 898.746 hPa at 1000 m; with 303.15 K and the gas constant 287.053 that is 1.0328 kg/m^3.
    ahead = look_ahead(FlightPlan(field_elevation_m=1000.0, air_temperature_c=30.0))
    assert ahead.air_density_kgpm3 == pytest.approx(89874.6 / (287.053 * 303.15), rel=1e-5)
