"""What cannot be judged for want of a plan."""

from station.plan import FlightPlan, Recovery
from station.plan_gaps import not_judged, not_judged_sentence

WHOLE = {
    "recovery": Recovery.DUAL, "drogue_rate_mps": 18.0, "main_rate_mps": 5.0, "main_height_m": 150.0,
    "rocket_mass_kg": 2.0, "rocket_diameter_m": 0.07, "propellant_mass_kg": 0.1, "rail_length_m": 2.0,
    "predicted_apogee_m": 700.0, "ceiling_m": 1000.0,
    "wind_mps": 3.0, "field_size_m": 800.0,
}  # fmt: skip


def test_without_a_plan_all_of_it_is_not_judged() -> None:
    assert len(not_judged(None)) == 8
    assert not_judged(None) == not_judged(FlightPlan())
    sentence = not_judged_sentence(None)
    assert sentence is not None
    assert sentence.startswith("No flight plan, so not judged: which parachutes were meant")


def test_a_whole_plan_leaves_nothing_out() -> None:
    assert not_judged(FlightPlan(**WHOLE)) == ()
    assert not_judged_sentence(FlightPlan(**WHOLE)) is None


def test_what_one_key_leaves_out_is_said() -> None:
    (gap,) = not_judged(FlightPlan(**(WHOLE | {"field_size_m": None})))
    assert gap == "whether it stayed below the ceiling and on the field"
    sentence = not_judged_sentence(FlightPlan(**(WHOLE | {"field_size_m": None})))
    assert sentence == "The plan does not say all, so not judged: whether it stayed below the ceiling and on the field."


def test_motor_ejection_needs_no_drogue_but_a_delay() -> None:
    motor = WHOLE | {"recovery": Recovery.MOTOR, "drogue_rate_mps": None, "main_height_m": None}
    assert not_judged(FlightPlan(**motor)) == ("the motor's delay",)
    assert not_judged(FlightPlan(**motor, flown_delay_s=6.0)) == ()


def test_a_simulation_stands_in_for_the_predicted_apogee() -> None:
    assert not_judged(FlightPlan(**(WHOLE | {"predicted_apogee_m": None, "prediction_file": "simulation.csv"}))) == ()
