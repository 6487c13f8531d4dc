"""The text of a flight plan: what it reads as, and what each mistake gets."""

import re
from importlib.resources import files

import pytest

from station.errors import PlanError
from station.plan import FlightPlan, Recovery
from station.plan_format import PLAN_FORMAT
from station.plan_text import parse_plan
from station.quantity import DIMENSIONS

DOCUMENT = files("station").joinpath("PLAN.md").read_text(encoding="utf-8")


def worked_example() -> str:
    match = re.search(r"```toml\n(.*?)```", DOCUMENT, re.DOTALL)
    assert match is not None
    return match[1]


def test_the_worked_example_of_the_document_reads_as_the_document_says() -> None:
    plan = parse_plan(worked_example(), "comet.toml")
    assert plan.rocket_name == "Little Comet"
    assert plan.recovery is Recovery.DUAL
    # 60 ft/s, 18 ft/s, 500 ft, 1800 ft by 0.3048 m a foot; 250 mph by 0.44704 m/s; 77 degF is 25 degC.
    assert plan.drogue_rate_mps == pytest.approx(18.288, rel=1e-12)
    assert plan.main_rate_mps == pytest.approx(5.4864, rel=1e-12)
    assert plan.main_height_m == pytest.approx(152.4, rel=1e-12)
    assert plan.air_temperature_c == pytest.approx(25.0, rel=1e-12)
    assert plan.predicted_apogee_m == pytest.approx(548.64, rel=1e-12)
    assert plan.predicted_speed_mps == pytest.approx(111.76, rel=1e-12)
    # 3.3 lb by 0.45359237 kg a pound, 2.6 in by 0.0254 m an inch; feet and miles an hour as above.
    assert plan.rocket_mass_kg == pytest.approx(1.496854821, rel=1e-12)
    assert plan.rocket_diameter_m == pytest.approx(0.06604, rel=1e-12)
    assert plan.rocket_drag_coefficient == 0.6
    assert plan.rail_length_m == pytest.approx(2.4384, rel=1e-12)
    assert plan.motor_name == "H-1"
    assert (plan.total_impulse_ns, plan.burn_time_s, plan.mean_thrust_n) == (200.0, 2.0, 100.0)
    assert plan.propellant_mass_kg == pytest.approx(0.09, rel=1e-12)
    assert (plan.stock_delay_s, plan.flown_delay_s) == (14.0, 9.0)
    assert plan.drogue_diameter_m == pytest.approx(0.3048, rel=1e-12)
    assert plan.main_diameter_m == pytest.approx(1.0668, rel=1e-12)
    assert plan.wind_mps == pytest.approx(4.4704, rel=1e-12)
    assert plan.wind_from_deg == 270.0
    assert plan.field_elevation_m == pytest.approx(152.4, rel=1e-12)
    assert plan.ceiling_m == pytest.approx(762.0, rel=1e-12)
    assert plan.field_size_m == pytest.approx(914.4, rel=1e-12)
    assert (plan.predicted_apogee_s, plan.prediction_file) == (10.8, "simulation.csv")
    said = " ".join(DOCUMENT.split()).split("It reads as:")[1]
    for figure in (
        "1.496855 kg, 0.06604 m across, rail 2.4384 m, propellant 0.09 kg, drogue 18.288 m/s, main 5.4864 m/s",
        "from 152.4 m, canopies 0.3048 m and 1.0668 m, air at 25 degC, wind 4.4704 m/s, pad at 152.4 m,",
        "ceiling 762 m, field 914.4 m, apogee 548.64 m, 111.76 m/s",
    ):
        assert figure in said


def test_every_key_and_unit_of_the_format_is_in_the_document() -> None:
    words = {word for table, keys in PLAN_FORMAT.items() for word in (table, *keys)}
    words |= {unit for dimension in DIMENSIONS for unit in dimension.units}
    assert {word for word in words if f"`{word}`" not in DOCUMENT} == set()


def test_an_empty_plan_says_nothing() -> None:
    assert parse_plan("", "empty.toml") == FlightPlan()


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
        "line 1: recovry: a plan has no such table: did you mean recovery?",
    ),
    ('[kitchen]\nsink = "1 m"\n', "it knows rocket, motor, recovery, field, prediction"),
    ('mass = "5 lb"\n', "line 1: mass: it stands in no table: write [rocket] on a line of its own above it"),
    ('\nname = "Comet"\n', "line 2: name: it stands in no table: write [rocket] or [motor] on a line of its own"),
    ('rocket = "Comet"\n', "line 1: rocket: this is a table: write [rocket] on a line of its own"),
    ('[[rocket]]\nname = "Comet"\n', "line 1: rocket: this is a table"),
    ("[rocket]\nname = 7\n", "line 2: name in [rocket]: write one line of text in quotes"),
    ('[rocket]\nname = "a\\nb"\n', "write one line of text"),
    ('[recovery]\ndeployment = "dual"\n', 'write "dual deployment" or "motor ejection"'),
    ('recovery.main_rate = "5"\n', 'line 1: main_rate in [recovery]: "5" has no unit'),
    ('recovery = {main_rate = "5"}\n', 'line 1: main_rate in [recovery]: "5" has no unit'),
    ("[recovery]\nmain_height = 500 ft\n", "line 2, column 19: "),
    ("[recovery]\nmain_height =\n", "line 2, column 14: "),
    ('[recovery]\nmain_rate = "5 m/s', "at the end: "),
    ('[recovery]\nmain_rate = "5 m/s"\nmain_rate = "6 m/s"\n', "line 3, column "),
    ("a = 1\nb = " + "[" * 5000, "comet.toml: line 2: nested too deep"),
    ("[motor]\n\nburn_time = " + "9" * 5000, "comet.toml: line 3: a number of far too many digits"),
    ('\n[field]\nwind = "10"\n', 'line 3: wind in [field]: "10" has no unit: write for example "10 mph" or "4.5 m/s"'),
    ('[field]\nwind_from = "west"\n', 'write for example "270 deg" for a wind from the west'),
    ('[field]\nwind = "10 deg"\n', '"deg" is not a unit of speed known here: use one of m/s, km/h, ft/s, mph, kn'),
    ('[motor]\ntotal_impulse = "160 N"\n', '"N" is not a unit of impulse known here: use one of N s, Ns, lbf s'),
    ('[motor]\nburn_time = "1.75"\n', 'line 2: burn_time in [motor]: "1.75" has no unit: write for example "1.75 s"'),
    ('[motor]\nmean_thrust = "inf N"\n', "not a number with a unit"),
    ("[motor]\nmean_thrust = inf\n", "write it in quotes with its unit"),
    ('[rocket]\ndiameter = "66 m"\n', '"66 m" is 66 m, which is outside 0.005 to 1 m: is the unit right?'),
    ('[rocket]\ndrag_coefficient = "0.6"\n', "line 2: drag_coefficient in [rocket]: write a number from 0.05 to 3"),
    ("[rocket]\ndrag_coefficient = nan\n", "write a number from 0.05 to 3 without quotes, for example 0.6"),
    ("[rocket]\ndrag_coefficient = true\n", "write a number from 0.05 to 3"),
    ("[rocket]\nmass = 1979-05-27\n", "write it in quotes with its unit"),
    ('[rocket]\nname = "' + "a" * 201 + '"\n', "write at most 200 characters"),
    ('[prediction]\ncurve = "../other/secret.csv"\n', "the name of a file that lies beside the plan"),
    ('[prediction]\ncurve = "C:\\\\x.csv"\n', "the name of a file that lies beside the plan"),
    ('[rocket]\nmass\t=\t"5\t"\n', 'line 2: mass in [rocket]: "5?" has no unit'),
    ("[rocket]\n\tmass\t=\t5 lb\n", "line 2, column 11: "),
    ('[rocket]\nmass = "' + "5" * 10_000 + ' lb"\n', "is not a number with a unit"),
    ('[rocket]\nmass = "5' + " " * 50_000 + 'lb"\n', "is not a number with a unit"),
    ('[rocket]\nmass = "1e999 lb"\n', '"1e999 lb" is too large a number'),
    ('[rocket]\nmass = "\\u001b[31m5"\n', '"?[31m5" is not a number with a unit'),
    ('"\\u001b[31m" = 1\n', "?[31m: a plan has no such table"),
    ("[rocket]\n" + "k" * 10_000 + " = 1\n", "kkk... in [rocket]: no such key"),
    ("\x00\x01", "line 1, column 1: "),
    (
        '[recovery]\ndrogue_rate = "5 m/s"\nmain_rate = "18 m/s"\n',
        "line 3: main_rate in [recovery]: the main must be slower than the drogue",
    ),
    (
        '[motor]\nstock_delay = "6 s"\ndelay = "10 s"\n',
        "line 3: delay in [motor]: longer than stock_delay, and a delay can only be made shorter",
    ),
    (
        '[rocket]\nmass = "1 kg"\n[motor]\npropellant_mass = "1 kg"\n',
        "line 4: propellant_mass in [motor]: not less than the rocket's mass",
    ),
    (
        '[motor]\nburn_time = "2 s"\n[prediction]\napogee_time = "2 s"\n',
        "line 4: apogee_time in [prediction]: not after the end of burn_time",
    ),
    (
        '[recovery]\ndeployment = "motor ejection"\ndrogue_diameter = "0.3 m"\n',
        "line 3: drogue_diameter in [recovery]: motor ejection has one parachute",
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
    assert len(message) < 400


def test_the_mistake_in_the_document_is_what_the_reader_says() -> None:
    said = next(line.strip() for line in DOCUMENT.splitlines() if line.startswith("    comet.toml: "))
    lines = ["", "", "", "", "", "", "[recovery]", 'main_height = "500"']
    with pytest.raises(PlanError) as caught:
        parse_plan("\n".join(lines), "comet.toml")
    assert str(caught.value) == said
