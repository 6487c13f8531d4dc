"""The questions that make a flight plan, and the file that the answers make. Pure.

Each key of `station/plan_format.py` is asked for once, in its order.
"""

from dataclasses import dataclass
from typing import Any

from station.plan import FlightPlan, Recovery
from station.plan_format import PLAN_FORMAT
from station.plan_text import contradiction_in
from station.plan_values import Choice, Number, RefusedValueError

Answers = dict[tuple[str, str], str]
"""Answers as they were typed, by (table, key); all of them can be read."""


@dataclass(frozen=True, slots=True)
class Question:
    """One key of the plan, asked for in plain words; `example` is an answer as one would type it."""

    table: str
    key: str
    words: str
    example: str


TITLES = {
    "rocket": "The rocket",
    "motor": "The motor: its package or its maker's list has these figures",
    "recovery": "The way down",
    "field": "The field and the day",
    "prediction": "What your simulation says",
}

QUESTIONS = (
    Question("rocket", "name", "What is the rocket called?", "Little Comet"),
    Question("rocket", "mass", "What does it weigh ready to fly, motor in?", "3.3 lb"),
    Question("rocket", "diameter", "How wide is its body tube, outside?", "2.6 in"),
    Question("rocket", "drag_coefficient", "What is its drag coefficient? Only if you know it.", "0.6"),
    Question("rocket", "rail_length", "How far does the rail or rod guide it?", "8 ft"),
    Question("motor", "name", "What is the motor called?", "H-1"),
    Question("motor", "total_impulse", "What is its total impulse?", "200 N s"),
    Question("motor", "burn_time", "How long does it burn?", "2 s"),
    Question("motor", "mean_thrust", "What is its mean (average) thrust?", "100 N"),
    Question("motor", "propellant_mass", "What does its propellant weigh?", "90 g"),
    Question("motor", "stock_delay", "What is its delay as sold, from burnout to ejection?", "14 s"),
    Question("motor", "delay", "What delay will it fly with, after it was made shorter?", "9 s"),
    Question("recovery", "deployment", "What lets the parachutes out?", "dual deployment"),
    Question("recovery", "drogue_rate", "How fast should it come down under the drogue?", "60 ft/s"),
    Question(
        "recovery", "main_rate", "How fast should it come down under the main (or its only parachute)?", "18 ft/s"
    ),
    Question("recovery", "main_height", "How high above the pad should the main be fired?", "500 ft"),
    Question("recovery", "drogue_diameter", "How wide is the drogue's canopy?", "12 in"),
    Question("recovery", "main_diameter", "How wide is the main's canopy (or that of its only parachute)?", "42 in"),
    Question("field", "air_temperature", "How warm is the air, in the shade at the pad?", "77 degF"),
    Question("field", "wind", "How strong is the wind, its mean and not its gusts?", "10 mph"),
    Question("field", "wind_from", "Where does it come from? 0 is north, 90 east, 180 south, 270 west.", "270 deg"),
    Question("field", "elevation", "How high is the pad above the sea?", "500 ft"),
    Question("field", "ceiling", "How high may it fly, above the pad?", "2500 ft"),
    Question("field", "size", "How long is the field's shortest side?", "3000 ft"),
    Question("prediction", "apogee", "How high should it fly, above the pad?", "1800 ft"),
    Question("prediction", "speed", "How fast at most, on the way up?", "250 mph"),
    Question("prediction", "apogee_time", "How long from liftoff to the highest point?", "10.8 s"),
    Question("prediction", "curve", "Which CSV file beside the plan has its curve?", "simulation.csv"),
    Question(
        "prediction",
        "columns",
        "Which of its columns are which? Only if their headers do not tell.",
        "time=1,altitude=Height[ft]",
    ),
)


def next_question(asked: int, answers: Answers) -> int | None:
    """The place in QUESTIONS of the next question from `asked` on that still makes sense; None at the end."""
    skipped = ("drogue_rate", "drogue_diameter", "main_height")
    one_parachute = _plan(answers).recovery is Recovery.MOTOR
    for place in range(asked, len(QUESTIONS)):
        if not (one_parachute and QUESTIONS[place].key in skipped):
            return place
    return None


def take_answer(question: Question, typed: str, answers: Answers) -> Answers:
    """`answers` with one more.

    Raises RefusedValueError, saying what would be right, if it cannot be read or contradicts another one.
    """
    answer = _written(question, _unquoted(typed))
    _read_answer(question, answer)
    more = answers | {(question.table, question.key): answer}
    contradiction = contradiction_in(_plan(more))
    if contradiction is not None:
        raise RefusedValueError(contradiction[-1])
    return more


def _read_answer(question: Question, answer: str) -> object:
    """What an answer means for the plan. Raises RefusedValueError."""
    return PLAN_FORMAT[question.table][question.key].value.read(_toml_value(question, answer))


def choices(question: Question) -> list[str]:
    """The answers that there are, if there are only a few."""
    kind = PLAN_FORMAT[question.table][question.key].value
    return [str(choice) for choice in kind.choices] if isinstance(kind, Choice) else []


def plan_toml(answers: Answers) -> str:
    """The plan as a file to go on with: every key that was skipped stands in it as a comment."""
    lines = [
        "# Flight plan. Measured values stand in quotes with their unit. A line that begins with # says nothing;",
        "# take the # away, write your own value, and look at it with: station plan show FILE",
    ]
    table = None
    for question in QUESTIONS:
        if question.table != table:
            table = question.table
            lines += ["", f"# {TITLES[table]}", f"[{table}]"]
        answer = answers.get((question.table, question.key))
        is_number = isinstance(PLAN_FORMAT[question.table][question.key].value, Number)
        written = question.example if answer is None else answer
        assignment = f"{question.key} = {written if is_number else _toml_string(written)}"
        lines.append(f"{'# ' if answer is None else ''}{assignment:<34} # {question.words}")
    return "\n".join([*lines, ""])


def _plan(answers: Answers) -> FlightPlan:
    fields: dict[str, Any] = {
        PLAN_FORMAT[question.table][question.key].field: _read_answer(question, answers[question.table, question.key])
        for question in QUESTIONS
        if (question.table, question.key) in answers
    }
    return FlightPlan(**fields)


def _toml_value(question: Question, answer: str) -> object:
    """What TOML will make of the answer."""
    if isinstance(PLAN_FORMAT[question.table][question.key].value, Number):
        try:
            return float(answer)
        except ValueError:
            return answer
    return answer


def _written(question: Question, typed: str) -> str:
    """The answer as the plan writes it: a choice in full, a number as TOML has it."""
    fitting = [choice for choice in choices(question) if typed and choice.startswith(typed.lower())]
    if len(fitting) == 1:
        return fitting[0]
    number = _toml_value(question, typed)
    return repr(number) if isinstance(number, float) else typed


def _unquoted(typed: str) -> str:
    """A person may type the quotes of the file."""
    typed = typed.strip()
    return typed[1:-1].strip() if len(typed) > 1 and typed[0] == typed[-1] == '"' else typed


def _toml_string(text: str) -> str:
    """A basic string of TOML; readable answers have no signs in them that would need more."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
