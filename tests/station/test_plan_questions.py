"""The questions that make a plan, and the file that the answers make."""

import tomllib

import pytest

from station.plan import FlightPlan, Recovery
from station.plan_format import PLAN_FORMAT
from station.plan_questions import QUESTIONS, TITLES, Answers, choices, next_question, plan_toml, take_answer
from station.plan_text import parse_plan
from station.plan_values import RefusedValueError


def question(table: str, key: str) -> int:
    return next(n for n, asked in enumerate(QUESTIONS) if (asked.table, asked.key) == (table, key))


def answered(*typed: tuple[str, str, str]) -> Answers:
    answers: Answers = {}
    for table, key, text in typed:
        answers = take_answer(QUESTIONS[question(table, key)], text, answers)
    return answers


def test_every_key_of_the_format_is_asked_for_once_in_its_order() -> None:
    assert [(asked.table, asked.key) for asked in QUESTIONS] == [
        (table, key) for table, keys in PLAN_FORMAT.items() for key in keys
    ]
    assert list(TITLES) == list(PLAN_FORMAT)


def test_the_examples_are_answers_and_together_a_plan_without_holes() -> None:
    plan = parse_plan(plan_toml(answered(*((q.table, q.key, q.example) for q in QUESTIONS))), "new.toml")
    assert [name for name in plan.__dataclass_fields__ if getattr(plan, name) is None] == []


def test_what_was_skipped_stands_in_the_file_as_a_comment_that_can_be_taken_up() -> None:
    text = plan_toml(answered(("rocket", "mass", "5 lb")))
    assert tomllib.loads(text) == {
        "rocket": {"mass": "5 lb"}, "motor": {}, "recovery": {}, "field": {}, "prediction": {},
    }  # fmt: skip
    uncommented = "\n".join(line.removeprefix("# ") if " = " in line else line for line in text.splitlines())
    assert parse_plan(uncommented, "new.toml").motor_name == "H-1"


def test_no_answers_make_a_plan_that_says_nothing() -> None:
    assert parse_plan(plan_toml({}), "new.toml") == FlightPlan()


@pytest.mark.parametrize("name", ['The "Comet"', "back\\slash", "# no comment", "Komét ☄", "'single'"])
def test_any_name_survives_the_file(name: str) -> None:
    assert parse_plan(plan_toml(answered(("rocket", "name", name))), "new.toml").rocket_name == name


@pytest.mark.parametrize(
    ("typed", "recovery"),
    [
        ("dual deployment", Recovery.DUAL),
        ("Dual", Recovery.DUAL),
        ("m", Recovery.MOTOR),
        ('"motor ejection"', Recovery.MOTOR),
    ],
)
def test_a_choice_may_be_shortened(typed: str, recovery: Recovery) -> None:
    plan = parse_plan(plan_toml(answered(("recovery", "deployment", typed))), "new.toml")
    assert plan.recovery is recovery
    assert choices(QUESTIONS[question("recovery", "deployment")]) == ["dual deployment", "motor ejection"]


@pytest.mark.parametrize("typed", ["0.6", ".6", "6e-1", " 0.6 "])
def test_a_number_is_written_as_toml_has_it(typed: str) -> None:
    plan = parse_plan(plan_toml(answered(("rocket", "drag_coefficient", typed))), "new.toml")
    assert plan.rocket_drag_coefficient == 0.6


@pytest.mark.parametrize(
    ("table", "key", "typed", "said"),
    [
        ("rocket", "mass", "5", '"5" has no unit: write for example "5 lb" or "2.3 kg"'),
        ("rocket", "mass", "5 stone", "use one of kg, g, lb, oz"),
        ("rocket", "drag_coefficient", "nan", "write a number from 0.05 to 3"),
        ("rocket", "drag_coefficient", "low", "write a number from 0.05 to 3"),
        ("recovery", "deployment", "both", 'write "dual deployment" or "motor ejection"'),
        ("prediction", "curve", "a/b.csv", "beside the plan"),
        ("rocket", "name", "tab\there", "one line of text"),
    ],
)
def test_a_wrong_answer_is_explained(table: str, key: str, typed: str, said: str) -> None:
    with pytest.raises(RefusedValueError, match=said):
        answered((table, key, typed))


def test_an_answer_that_contradicts_an_earlier_one_is_explained() -> None:
    with pytest.raises(RefusedValueError, match="the main must be slower than the drogue"):
        answered(("recovery", "drogue_rate", "10 m/s"), ("recovery", "main_rate", "12 m/s"))


def test_motor_ejection_is_not_asked_about_a_drogue() -> None:
    asked, place = [], next_question(0, {})
    answers = answered(("recovery", "deployment", "motor"))
    while place is not None:
        asked.append(QUESTIONS[place].key)
        place = next_question(place + 1, answers)
    assert {"drogue_rate", "drogue_diameter", "main_height"} & set(asked) == set()
    assert len(asked) == len(QUESTIONS) - 3
