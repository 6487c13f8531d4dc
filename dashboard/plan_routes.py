"""The plan page's routes: the questions, what follows from the answers so far, and writing them to a file."""

import re
from typing import Any

from flask import Flask, Response, jsonify

from dashboard.guarding import Refused, asked_by_operator
from station.command.front_desk import FrontDesk
from station.errors import PlanError
from station.plan_file import write_plan
from station.plan_questions import QUESTIONS, TITLES, Answers, choices, plan_toml, take_answer
from station.plan_text import parse_plan
from station.plan_values import RefusedValueError
from station.preflight import judge_plan, left_open, look_ahead
from station.preflight.report import preflight_text

_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,59}")


def add_plan_routes(server: Flask, desk: FrontDesk, *, served_on: str) -> None:
    """Add them."""

    @server.get("/api/plan/questions")
    def _questions() -> Response:
        return jsonify(
            {
                "titles": list(TITLES.items()),
                "questions": [
                    {
                        "table": question.table,
                        "key": question.key,
                        "words": question.words,
                        "example": question.example,
                        "choices": choices(question),
                    }
                    for question in QUESTIONS
                ],
            }
        )

    @server.post("/api/plan")
    def _plan() -> Response:
        match asked_by_operator(served_on):
            case {"answers": dict() as given, "write": str() | None as name}:
                pass
            case _:
                raise Refused('send {"answers": {"rocket.name": "..."}, "write": NAME or null}', 400)
        answers, problems = _taken(given)
        told: dict[str, Any] = {"problems": problems, "follows": None, "written": None}
        if not problems:
            text = plan_toml(answers)
            try:
                plan = parse_plan(text, "the plan")
            except PlanError as error:
                raise Refused(str(error), 400) from error
            ahead = look_ahead(plan)
            # Its first line names the file, of which there is none yet.
            told["follows"] = preflight_text("", ahead, judge_plan(ahead), left_open(ahead)).lstrip("\n")
            if name is not None:
                told["written"] = _write(desk, name, text)
        return jsonify(told)


def _taken(given: dict[str, Any]) -> tuple[Answers, dict[str, str]]:
    """The answers that can be read, and by key what is wrong with the others."""
    answers: Answers = {}
    problems: dict[str, str] = {}
    for question in QUESTIONS:
        key = f"{question.table}.{question.key}"
        typed = given.get(key, "")
        if not isinstance(typed, str) or len(typed) > 500:
            problems[key] = "write one line of text"
        elif typed.strip():
            try:
                answers = take_answer(question, typed, answers)
            except RefusedValueError as error:
                problems[key] = str(error)
    return answers, problems


def _write(desk: FrontDesk, name: str, text: str) -> str:
    """Write a new plan in the station's folder; returns its name. Raises PlanNotWrittenError, Refused."""
    name = name.strip()
    if not _FILE_NAME.fullmatch(name):
        raise Refused("name the plan with letters and digits, for example comet", 400)
    if not name.endswith(".toml"):
        name += ".toml"
    write_plan(desk.plans_folder / name, text, overwrite=False)
    return name
