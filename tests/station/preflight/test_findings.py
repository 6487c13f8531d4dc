"""What follows from plans, and what of it stands out: published limits with their source, else common practice."""

from typing import Any

import pytest

from station import rules
from station.plan import FlightPlan, Recovery
from station.plan_text import parse_plan
from station.preflight import Finding, judge_plan, left_open, look_ahead
from station.rules import Standing

MPH = 0.44704
FT = 0.3048
LBF_FT = 1.3558179483314
G = 9.80665


def findings(**plan: Any) -> dict[str, Finding]:
    return {finding.code: finding for finding in judge_plan(look_ahead(FlightPlan(**plan)))}


def test_an_empty_plan_has_no_findings_and_leaves_all_open() -> None:
    assert findings() == {}
    assert len(left_open(look_ahead(FlightPlan()))) == 11


def test_what_is_left_open_names_only_the_keys_that_lack() -> None:
    said = left_open(look_ahead(FlightPlan(rocket_mass_kg=1.0, total_impulse_ns=50.0, main_rate_mps=5.0)))
    assert "thrust to weight: mean_thrust in [motor]" in said
    assert "speed at the end of the rail: rail_length in [rocket] and mean_thrust in [motor]" in said
    assert not [what for what in said if what.endswith(": ") or "hard" in what or "class" in what]


@pytest.mark.parametrize(
    # National Association of Rocketry, high-power certification procedures; class limits of NFPA 1125.
    ("impulse", "said"),
    [(320.0, "class H"), (321.0, "class I"), (640.0, "level 1"), (641.0, "level 2"), (5120.0, "level 2"),
     (5121.0, "level 3"), (40_960.0, "class O"), (159.0, "aged 18"), (79.0, "asks for no certification")],
)  # fmt: skip
def test_class_and_certification(impulse: float, said: str) -> None:
    finding = findings(total_impulse_ns=impulse)["impulse_class"]
    assert said in finding.text
    assert not finding.stands_out
    assert rules.CERTIFICATION in finding.rules


def test_more_than_class_o_stands_out() -> None:
    assert findings(total_impulse_ns=41_000.0)["impulse_class"].stands_out


@pytest.mark.parametrize(
    # NFPA 1122 (2018) 4.4: at most 1,500 g and 125 g of propellant; 80 N mean thrust is widely repeated, no source.
    ("plan", "over"),
    [
        ({"rocket_mass_kg": 1.5, "propellant_mass_kg": 0.125, "mean_thrust_n": 80.0}, False),
        ({"rocket_mass_kg": 1.51}, True),
        ({"rocket_mass_kg": 1.5, "propellant_mass_kg": 0.126}, True),
        ({"mean_thrust_n": 80.1}, True),
    ],
)
def test_a_small_motor_in_more_than_a_model_rocket_stands_out(plan: dict[str, float], over: bool) -> None:
    found = findings(total_impulse_ns=100.0, **plan).get("model_limits")
    assert (found is not None and found.stands_out) is over


def test_high_power_by_its_letter_is_not_told_so_again() -> None:
    assert "model_limits" not in findings(total_impulse_ns=400.0, rocket_mass_kg=3.0)


def test_class_1_and_2_of_the_american_regulation() -> None:
    # 14 CFR 101.22(a): at most 1,500 g and 125 g. 101.25: a quarter of the height, at least 457 m: equal at 1,828 m.
    assert "class 1" in findings(rocket_mass_kg=1.5, propellant_mass_kg=0.125)["amateur_class"].text
    for apogee, clear in ((1000.0, "457 m (1,500 ft)"), (1828.0, "457 m"), (3000.0, "750 m")):
        text = findings(rocket_mass_kg=5.0, propellant_mass_kg=0.5, predicted_apogee_m=apogee)["amateur_class"].text
        assert "class 2" in text
        assert clear in text


def test_beyond_class_2() -> None:
    # 14 CFR 101.22(b): class 2 goes to 40,960 N s.
    plan = {"rocket_mass_kg": 99.0, "propellant_mass_kg": 20.0}
    assert "class 2" in findings(total_impulse_ns=40_960.0, **plan)["amateur_class"].text
    assert "class 3" in findings(total_impulse_ns=40_961.0, **plan)["amateur_class"].text


@pytest.mark.parametrize(
    # Common practice, no source: at least 3 to 1, better 5 to 1.
    ("ratio", "stands_out", "said"),
    [(0.9, True, "does not lift"), (2.9, True, "too little"), (4.9, True, "under the usual 5"), (5.1, False, "5 to 1")],
)
def test_thrust_to_weight_at_its_marks(ratio: float, stands_out: bool, said: str) -> None:
    finding = findings(rocket_mass_kg=2.0, mean_thrust_n=ratio * 2.0 * G)["thrust_to_weight"]
    assert finding.stands_out is stands_out
    assert f"{ratio} times" in finding.text
    assert said in finding.text
    assert finding.rules[0].reference == "common practice, no source"


def test_motor_figures_that_disagree_stand_out() -> None:
    # NFPA 1125 as printed by a motor retailer: mean thrust within 20 %.
    assert "motor_figures" not in findings(total_impulse_ns=200.0, mean_thrust_n=119.0, burn_time_s=2.0)
    finding = findings(total_impulse_ns=200.0, mean_thrust_n=122.0, burn_time_s=2.0)["motor_figures"]
    assert finding.stands_out
    assert "244 N s" in finding.text


@pytest.mark.parametrize(("length", "slow"), [(1.0, True), (4.0, False)])
def test_a_slow_start_from_the_rail_stands_out(length: float, slow: bool) -> None:
    # v^2 = 2 (50 - g) L: 9.0 m/s from 1 m, 17.9 m/s from 4 m.
    finding = findings(rocket_mass_kg=2.0, mean_thrust_n=100.0, rail_length_m=length)["rail_exit"]
    assert finding.stands_out is slow
    assert ("9 m/s" if slow else "17.9 m/s") in finding.text


@pytest.mark.parametrize(
    ("apogee", "stands_out", "said"),
    [(700.0, True, "above the field's ceiling"), (580.0, True, "closer than"), (500.0, False, "is below")],
)
def test_the_ceiling(apogee: float, stands_out: bool, said: str) -> None:
    finding = findings(predicted_apogee_m=apogee, ceiling_m=600.0)["ceiling"]
    assert finding.stands_out is stands_out
    assert said in finding.text


def test_near_the_speed_of_sound_stands_out() -> None:
    # 0.8 of 340.3 m/s is 272 m/s.
    assert "mach" not in findings(predicted_speed_mps=270.0)
    assert findings(predicted_speed_mps=275.0)["mach"].stands_out


def test_a_prediction_that_no_speed_could_reach_stands_out() -> None:
    # 100 m/s carry 509.9 m in a coast without air, and less than 200 m in 2 s of burn.
    plan = {"burn_time_s": 2.0, "predicted_speed_mps": 100.0}
    assert "prediction" not in findings(predicted_apogee_m=700.0, **plan)
    assert findings(predicted_apogee_m=720.0, **plan)["prediction"].stands_out


def test_our_forecast_far_from_the_prediction_stands_out() -> None:
    # The closed forms of the reference rocket: 897 m in air of one density, a little more in air that thins.
    rocket = {
        "rocket_mass_kg": 2.0, "rocket_diameter_m": 0.075, "rocket_drag_coefficient": 0.6, "mean_thrust_n": 200.0,
        "burn_time_s": 2.0,
    }  # fmt: skip
    assert not findings(**rocket, predicted_apogee_m=850.0)["forecast"].stands_out
    far = findings(**rocket, predicted_apogee_m=600.0)["forecast"]
    assert far.stands_out
    assert "600 m" in far.text


@pytest.mark.parametrize(
    # Speed grows by g a second on either side of apogee: 20 m/s (zipper, common practice, no source) after 2.04 s.
    ("delay", "stands_out", "said"),
    [(10.0, False, "fires 0.0 s after"), (12.0, False, "2.0 s after"), (12.1, True, "2.1 s after"),
     (7.9, True, "2.1 s before"), (8.0, False, "2.0 s before apogee, at about 19.6 m/s")],
)  # fmt: skip
def test_the_delay_flown_against_the_delay_wanted(delay: float, stands_out: bool, said: str) -> None:
    finding = findings(
        burn_time_s=2.0, predicted_apogee_s=12.0, flown_delay_s=delay, recovery=Recovery.MOTOR
    )["delay"]  # fmt: skip
    assert finding.stands_out is stands_out
    assert "it coasts 10.0 s" in finding.text
    assert said in finding.text


def test_how_much_to_take_off_the_stock_delay_and_never_to_add() -> None:
    plan = {"burn_time_s": 2.0, "predicted_apogee_s": 12.0}
    longer = findings(**plan, stock_delay_s=14.0)["delay"]
    assert "stock delay of 14 s is 4.0 s longer" in longer.text
    shorter = findings(**plan, stock_delay_s=6.0)["delay"]
    assert "4.0 s too short" in shorter.text
    assert shorter.stands_out
    assert rules.NEVER_LONGER in shorter.rules


@pytest.mark.parametrize(("mph", "over"), [(20.0, False), (20.1, True)])
def test_the_wind_at_the_codes_limit(mph: float, over: bool) -> None:
    # California Code of Regulations, title 19, 1036(c): 20 mph.
    finding = findings(wind_mps=mph * MPH)["wind"]
    assert finding.stands_out is over
    assert finding.rules[0].standing is Standing.PUBLISHED


def test_limits_written_in_their_own_units_are_not_passed_by_rounding() -> None:
    text = """
    [rocket]
    mass = "1500 g"
    [motor]
    propellant_mass = "125 g"
    total_impulse = "160 N s"
    mean_thrust = "80 N"
    [field]
    wind = "20 mph"
    """
    found = judge_plan(look_ahead(parse_plan(text, "limits.toml")))
    assert [finding.code for finding in found if finding.stands_out] == []


def worked_descent(**more: Any) -> list[Finding]:
    plan = FlightPlan(
        recovery=Recovery.DUAL, drogue_rate_mps=20.0, main_rate_mps=5.5, main_height_m=150.0, wind_mps=5.0,
        predicted_apogee_m=1000.0, **more,
    )  # fmt: skip
    return [finding for finding in judge_plan(look_ahead(plan)) if finding.code == "drift"]


def test_drift_under_both_ways_down_in_words() -> None:
    planned, early = worked_descent(wind_from_deg=270.0)
    assert planned.text.startswith(
        "Under the drogue, then the main: 70 s from apogee to the ground, and a drift of 349 m"
    )
    assert "to the east" in planned.text
    assert early.text.startswith("If the main came out at apogee: 182 s")
    assert not planned.stands_out


@pytest.mark.parametrize(("size", "outside"), [(690.0, True), (700.0, False)])
def test_drift_past_the_edge_of_the_field_stands_out(size: float, outside: bool) -> None:
    # 348.9 m against half of the field, from its middle.
    planned, early = worked_descent(field_size_m=size)
    assert planned.stands_out is outside
    assert ("past its edge" in planned.text) is outside
    # 909 m: a main that comes out at the top is no rare slip, and then it lies outside.
    assert "past its edge" in early.text
    assert early.stands_out


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        # It cannot fire before its delay has burnt: 14 s against 10.8 s, and g * 3.2 s = 31 m/s.
        ({"flown_delay_s": 14.0, "predicted_apogee_s": 10.8}, "so it fires at least 3.2 s after apogee"),
        ({"stock_delay_s": 14.0, "predicted_apogee_s": 10.8}, "The stock delay, 14 s, is too long"),
        # sqrt(2 * 400 / 9.80665) = 9.03 s: with air the coast is shorter.
        ({"flown_delay_s": 12.0, "predicted_apogee_m": 400.0}, "no rocket coasts for more than 9.0 s, so"),
    ],
)  # fmt: skip
def test_without_a_burn_time_a_delay_too_long_for_any_stands_out(plan: dict[str, float], says: str) -> None:
    found = findings(**plan)["delay"]
    assert found.stands_out
    assert says in found.text
    assert "does not follow without burn_time in [motor]" in found.text
    assert any(
        open_.startswith("the delay wanted: burn_time in [motor]")
        for open_ in left_open(look_ahead(FlightPlan(**plan)))
    )


@pytest.mark.parametrize(
    "plan",
    [
        {"flown_delay_s": 9.0, "predicted_apogee_s": 10.8},
        {"flown_delay_s": 12.0, "predicted_apogee_s": 10.8},  # 1.2 s late is 12 m/s, which is no harm
        {"flown_delay_s": 14.0},
        {"predicted_apogee_s": 10.8},
    ],
)
def test_without_a_burn_time_nothing_is_guessed_of_a_delay(plan: dict[str, float]) -> None:
    assert "delay" not in findings(**plan)


def test_a_main_that_would_come_out_at_the_top_stands_out() -> None:
    assert findings(main_height_m=500.0, predicted_apogee_m=400.0)["main_height"].stands_out
    left = findings(main_height_m=150.0, predicted_apogee_m=400.0, drogue_rate_mps=20.0)["main_height"]
    assert not left.stands_out
    assert "7.5 s later" in left.text


def test_fast_rates_stand_out() -> None:
    # Common practice, no source: drogue at most 30 m/s, main at most 7 m/s.
    assert "rates" not in findings(drogue_rate_mps=30.0, main_rate_mps=7.0)
    finding = findings(drogue_rate_mps=31.0, main_rate_mps=7.1)["rates"]
    assert finding.stands_out
    assert "under the drogue and 7.1 m/s (23 ft/s) under the main" in finding.text


def test_a_canopy_that_does_not_fit_its_rate_stands_out() -> None:
    # 2 kg under 0.90 m with Cd 1.5 come down at 5.79 m/s.
    plan = {"rocket_mass_kg": 2.0, "main_diameter_m": 0.90}
    assert "canopies" not in findings(main_rate_mps=5.79, **plan)
    assert "bigger" in findings(main_rate_mps=12.0, **plan)["canopies"].text
    assert "smaller" in findings(main_rate_mps=3.0, **plan)["canopies"].text


@pytest.mark.parametrize(("energy_ft_lbf", "hard"), [(24.75, False), (74.0, False), (76.0, True)])
def test_a_hard_landing_stands_out(energy_ft_lbf: float, hard: bool) -> None:
    # 75 ft lbf: a contest's limit, from memory.
    rate = (2.0 * energy_ft_lbf * LBF_FT / 2.0) ** 0.5
    finding = findings(rocket_mass_kg=2.0, propellant_mass_kg=0.0, main_rate_mps=rate)["landing_energy"]
    assert finding.stands_out is hard


def test_landing_energy_of_the_worked_example_in_words() -> None:
    finding = findings(rocket_mass_kg=2.0, main_rate_mps=5.7928)["landing_energy"]
    assert "33.6 J (25 ft lbf), all parts together, the propellant still counted" in finding.text


def test_every_rule_says_how_well_it_is_known() -> None:
    known = [rule for rule in vars(rules).values() if isinstance(rule, rules.Rule)]
    assert len(known) > 15
    for rule in known:
        assert (rule.source is None) is (rule.standing is Standing.PRACTICE), rule
        assert rule.says.endswith("."), rule
