"""Judges one saved flight, by the plan that the user names or else the one that its log carries."""

from pathlib import Path

import click

from station.after_landing import CheckReport, judge_lines
from station.command.predicting import planned_prediction
from station.command.saying import say
from station.errors import PlanError
from station.flight_log import FlightFile, read_flight_file
from station.plan import FlightPlan
from station.plan_gaps import not_judged_sentence
from station.prediction import Prediction


def judge_saved_flight(
    path: Path,
    air_temperature_c: float | None = None,
    plan: FlightPlan | None = None,
    prediction: Prediction | None = None,
) -> CheckReport:
    """The check's report on the file at `path`; a plan that its log carries names a simulation beside the log.

    Raises FileUnreadableError or NotAFlightError.
    """
    file = read_flight_file(path)
    plan, prediction = what_was_meant(file, path.parent, plan, prediction)
    return judge_lines(
        file.lines,
        file=file.name,
        torn=file.torn,
        unheard=file.unheard,
        air_temperature_c=air_temperature_c,
        plan=plan,
        prediction=prediction,
    )


def what_was_meant(
    file: FlightFile, folder: Path, plan: FlightPlan | None, prediction: Prediction | None
) -> tuple[FlightPlan | None, Prediction | None]:
    """The plan and the simulation given, else those of a log that lies in `folder`."""
    if plan is None:
        plan = carried_plan(file)
        # The plan was copied into the log, its simulation was not: it may lie there or not.
        if prediction is None and plan is not None and (folder / (plan.prediction_file or "")).is_file():
            prediction = planned_prediction(plan, folder)
    return plan, prediction


def carried_plan(file: FlightFile) -> FlightPlan | None:
    """The plan in the log's header. One that cannot be understood is complained of and left out."""
    if file.header is None or file.header.plan is None:
        return None
    # Only now: most flights carry no plan, and what reads one takes longer to load than a short flight to read.
    from station.plan_text import parse_plan

    try:
        return parse_plan(file.header.plan, f"{file.name} (the plan in it)")
    except PlanError as error:
        click.echo(f"station: {error}; judged without a plan: give one with --plan", err=True)
        return None


def say_what_is_not_judged(plan: FlightPlan | None) -> None:
    """What the plan leaves out, and how to make one, where a flight is shown."""
    sentence = not_judged_sentence(plan)
    if sentence is not None:
        say(f"plan: {sentence} station plan new makes one; give it with --plan FILE")
