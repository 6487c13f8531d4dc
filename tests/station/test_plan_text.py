"""The flight plan: what it says, and what each mistake gets."""

import re
from importlib.resources import files

import pytest

from station.errors import PlanError
from station.plan import FlightPlan, Recovery, parse_plan
from station.records import Role

DOCUMENT = files("station").joinpath("PLAN.md").read_text(encoding="utf-8")


def worked_example() -> str:
    match = re.search(r"```toml\n(.*?)```", DOCUMENT, re.DOTALL)
    assert match is not None
    return match[1]


def test_the_worked_example_of_the_document_reads_as_the_document_says() -> None:
    plan = parse_plan(worked_example(), "comet.toml")
    assert plan.rocket_name == "Little Comet"
    assert plan.recovery is Recovery.DUAL
    assert plan.planned_roles == (Role.DROGUE, Role.MAIN)
    # 60 ft/s, 18 ft/s, 500 ft, 2400 ft by 0.3048 m a foot; 270 mph by 0.44704 m/s; 77 degF is 25 degC.
    assert plan.drogue_rate_mps == pytest.approx(18.288, rel=1e-12)
    assert plan.main_rate_mps == pytest.approx(5.4864, rel=1e-12)
    assert plan.main_height_m == pytest.approx(152.4, rel=1e-12)
    assert plan.air_temperature_c == pytest.approx(25.0, rel=1e-12)
    assert plan.predicted_apogee_m == pytest.approx(731.52, rel=1e-12)
    assert plan.predicted_speed_mps == pytest.approx(120.7008, rel=1e-12)
    # 3.3 lb by 0.45359237 kg a pound, 2.6 in by 0.0254 m an inch; feet and miles an hour as above.
    assert plan.rocket_mass_kg == pytest.approx(1.496854821, rel=1e-12)
    assert plan.rocket_diameter_m == pytest.approx(0.06604, rel=1e-12)
    assert plan.rocket_drag_coefficient == 0.6
    assert plan.rail_length_m == pytest.approx(1.8288, rel=1e-12)
    assert plan.motor_name == "H-1"
    assert (plan.total_impulse_ns, plan.burn_time_s, plan.mean_thrust_n) == (160.0, 1.6, 100.0)
    assert plan.propellant_mass_kg == pytest.approx(0.09, rel=1e-12)
    assert (plan.stock_delay_s, plan.flown_delay_s) == (14.0, 9.0)
    assert plan.drogue_diameter_m == pytest.approx(0.4572, rel=1e-12)
    assert plan.main_diameter_m == pytest.approx(1.0668, rel=1e-12)
    assert plan.wind_mps == pytest.approx(4.4704, rel=1e-12)
    assert plan.wind_from_deg == 270.0
    assert plan.field_elevation_m == pytest.approx(152.4, rel=1e-12)
    assert plan.ceiling_m == pytest.approx(1524.0, rel=1e-12)
    assert plan.field_size_m == pytest.approx(609.6, rel=1e-12)
    assert (plan.predicted_apogee_s, plan.prediction_file) == (11.5, "simulation.csv")
    said = " ".join(DOCUMENT.split()).split("It reads as:")[1]
    for figure in (
        "1.496855 kg, 0.06604 m across, rail 1.8288 m, propellant 0.09 kg, drogue 18.288 m/s, main 5.4864 m/s",
        "from 152.4 m, canopies 0.4572 m and 1.0668 m, air at 25 degC, wind 4.4704 m/s, pad at 152.4 m,",
        "ceiling 1524 m, field 609.6 m, apogee 731.52 m, 120.7008 m/s",
    ):
        assert figure in said


def test_every_key_and_unit_of_the_format_is_in_the_document() -> None:
    from station.plan import _FORMAT
    from station.quantity import DIMENSIONS

    words = {word for table, keys in _FORMAT.items() for word in (table, *keys)}
    words |= {unit for dimension in DIMENSIONS for unit in dimension.units}
    assert {word for word in words if f"`{word}`" not in DOCUMENT} == set()


def test_an_empty_plan_says_nothing() -> None:
    assert parse_plan("", "empty.toml") == FlightPlan()
    assert FlightPlan().planned_roles is None


def test_motor_ejection_plans_one_parachute() -> None:
    plan = parse_plan('[recovery]\ndeployment = "motor ejection"\nmain_rate = "5 m/s"\n', "a.toml")
    assert plan.planned_roles == (Role.MAIN,)


def test_dotted_and_inline_keys_are_plans_too() -> None:
    expected = FlightPlan(main_rate_mps=5.0)
    assert parse_plan('recovery.main_rate = "5 m/s"', "a.toml") == expected
    assert parse_plan('recovery = {main_rate = "5 m/s"}', "a.toml") == expected


MISTAKES = [
    (
        "[recovery]\nmain_height = 500\n",
        "line 2: main_height in [recovery]: write it in quotes with its unit",
    ),
    ('[recovery]\nmain_height = "500"\n', 'line 2: main_height in [recovery]: "500" has no unit'),
    ('[recovery]\n\nmain_rate = "18 fps"\n', 'line 3: main_rate in [recovery]: "fps" is not a unit of speed'),
    (
        '[recovery]\nmain_rate = "500 ft"\n',
        '"ft" is not a unit of speed known here: use one of m/s, km/h, ft/s',
    ),
    ('[recovery]\nmain_rate = "fast"\n', "not a number with a unit"),
    ('[recovery]\nmain_rate = "nan m/s"\n', "not a number with a unit"),
    ('[recovery]\nmain_rate = "-5 m/s"\n', "outside 0.5 to 100 m/s"),
    ('[recovery]\nmain_rate = "1800 ft/s"\n', '"1800 ft/s" is 548.6 m/s, which is outside 0.5 to 100 m/s'),
    (
        '[recovery]\nmain_hight = "500 ft"\n',
        "line 2: main_hight in [recovery]: no such key: did you mean main_h",
    ),
    (
        '[recovry]\nmain_height = "500 ft"\n',
        "line 1: [recovry]: a plan has no such table: did you mean recovery?",
    ),
    ('[kitchen]\nsink = "1 m"\n', "it knows rocket, motor, recovery, field, prediction"),
    ('rocket = "Comet"\n', "line 1: [rocket]: this is a table: write [rocket] on a line of its own"),
    ('[[rocket]]\nname = "Comet"\n', "line 1: [rocket]: this is a table"),
    ("[rocket]\nname = 7\n", "line 2: name in [rocket]: write one line of text in quotes"),
    ('[rocket]\nname = "a\\nb"\n', "write one line of text"),
    ('[recovery]\ndeployment = "dual"\n', 'write "dual deployment" or "motor ejection"'),
    ('recovery.main_rate = "5"\n', 'line 1: main_rate in [recovery]: "5" has no unit'),
    ('recovery = {main_rate = "5"}\n', 'line 1: main_rate in [recovery]: "5" has no unit'),
    ("[recovery]\nmain_height = 500 ft\n", "line 2, column 19: "),
    ("[recovery]\nmain_height =\n", "line 2, column 14: "),
    ('[recovery]\nmain_rate = "5 m/s', "at the end: "),
    ('[recovery]\nmain_rate = "5 m/s"\nmain_rate = "6 m/s"\n', "line 3, column "),
    ("a = " + "[" * 5000, "nested too deep"),
    (
        '[recovery]\ndrogue_rate = "5 m/s"\nmain_rate = "18 m/s"\n',
        "line 3: main_rate in [recovery]: the main must be slower than the drogue",
    ),
    (
        '[recovery]\ndeployment = "motor ejection"\ndrogue_rate = "18 m/s"\n',
        "line 3: drogue_rate in [recovery]: motor ejection has one parachute",
    ),
    (
        '[recovery]\ndeployment = "motor ejection"\nmain_height = "150 m"\n',
        "line 3: main_height in [recovery]: motor ejection has one parachute",
    ),
]


@pytest.mark.parametrize(("text", "said"), MISTAKES, ids=range(len(MISTAKES)))
def test_a_mistake_is_one_line_with_file_line_and_remedy(text: str, said: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan(text, "comet.toml")
    message = str(caught.value)
    assert message.startswith("comet.toml: ")
    assert said in message
    assert message.isprintable()


def test_the_mistake_in_the_document_is_what_the_reader_says() -> None:
    said = next(line.strip() for line in DOCUMENT.splitlines() if line.startswith("    comet.toml: "))
    lines = ["", "", "", "", "", "", "[recovery]", 'main_height = "500"']
    with pytest.raises(PlanError) as caught:
        parse_plan("\n".join(lines), "comet.toml")
    assert str(caught.value) == said
