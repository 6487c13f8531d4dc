"""`station plan`: make a flight plan by answering questions, and look at what follows from one."""

import json
import sys
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path

import click

from station.command.predicting import named_prediction
from station.errors import PlanError, PlanNotWrittenError, StationError
from station.flight_log import read_flight_file
from station.plan import FlightPlan
from station.plan_file import read_plan_text, write_plan
from station.plan_questions import QUESTIONS, TITLES, Answers, choices, next_question, plan_toml, take_answer
from station.plan_text import parse_plan
from station.plan_values import RefusedValueError
from station.preflight import judge_plan, left_open, look_ahead
from station.preflight.finding import Finding
from station.preflight.findings_of_simulation import simulation_finding, unread_simulation
from station.preflight.report import exit_status, preflight_json, preflight_text

FLIGHT_SUFFIX = ".flight"
EXAMPLES = """\b
Examples:
  station plan new comet.toml      asks, and writes comet.toml
  station plan show comet.toml     what follows from it, and what stands out
  station live --plan comet.toml   judges the flight against it
"""
NEW_EXAMPLES = """\b
Examples:
  station plan new
  station plan new comet.toml
  station plan new comet.toml < answers.txt
"""
SHOW_EXAMPLES = """\b
Examples:
  station plan show comet.toml
  station plan show --json comet.toml
  station plan show flights/NAME.flight

\b
Exit status:
  0  nothing in the plan stands out
  1  something does: look at it
  3  the plan says too little for anything to follow from it
  2  wrong use, or a plan that cannot be read
"""


@click.group(
    "plan",
    epilog=EXAMPLES,
    invoke_without_command=True,
    short_help="Make a flight plan, and look at what follows from it.",
)
@click.pass_context
def command(ctx: click.Context) -> None:
    """Make a flight plan, and look at what follows from it before the flight."""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


@command.command("new", epilog=NEW_EXAMPLES, short_help="Ask the questions and write a plan.")
@click.argument("file", type=click.Path(path_type=Path), default="plan.toml")
def new(file: Path) -> None:
    """Ask what is planned, one question at a time, and write the answers to FILE (default: plan.toml).

    Enter skips a question; what was skipped stands in the file as a comment. A file that is there already is
    not written over without asking. Ctrl-C ends it and writes nothing. Answers may also come from a file or
    another program, one a line; where they end, the rest is skipped.
    """
    if isinstance(sys.stdin, TextIOWrapper):
        # An answer in another character set can still be read, or be refused.
        sys.stdin.reconfigure(errors="replace")
    overwrite = _may_be_written(file)
    click.echo("Enter skips a question. Measured values want their unit. Ctrl-C ends this and writes nothing.")
    _write_or_show(file, plan_toml(_asked()), overwrite=overwrite)
    click.echo(f"\nWritten: {file}\nWhat follows from it: station plan show {file}")


@command.command("show", epilog=SHOW_EXAMPLES, short_help="Check a plan and say what follows from it.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON document, for programs.")
@click.pass_context
def show(ctx: click.Context, file: Path, as_json: bool) -> None:
    """Check the plan in FILE, and say what follows from it before the flight.

    It says what the plan reads as in both unit systems, class and certification, thrust to weight, the delay
    wanted, time in the air and drift, how hard it lands, and first of all what stands out. Each rule comes with its
    source. A simulation that the plan names is opened too. FILE may also be a recorded flight (NAME.flight) that
    carries a plan.
    """
    ahead = look_ahead(parse_plan(*_text_and_name(file)))
    findings, unsaid = (*judge_plan(ahead), *_simulation(ahead.plan, file)), left_open(ahead)
    if as_json:
        click.echo(json.dumps(preflight_json(str(file), ahead, findings, unsaid)))
    else:
        click.echo(preflight_text(str(file), ahead, findings, unsaid))
    ctx.exit(exit_status(findings))


def _write_or_show(file: Path, text: str, *, overwrite: bool) -> None:
    """Write the plan. Where that fails the answers are shown, so that they are not lost."""
    try:
        write_plan(file, text, overwrite=overwrite)
    except PlanNotWrittenError:
        click.echo(f"\n{text}")
        raise


def _simulation(plan: FlightPlan, file: Path) -> list[Finding]:
    """What the simulation says that the plan names, or why it cannot be read; it lies beside the plan.

    A recorded flight carries its plan, the simulation need not lie beside it.
    """
    if plan.prediction_file is None:
        return []
    path = file.parent / plan.prediction_file
    if file.suffix == FLIGHT_SUFFIX and not path.is_file():
        return []
    try:
        return [simulation_finding(named_prediction(path, plan.prediction_columns, ask=True), plan)]
    except StationError as error:
        return [unread_simulation(str(error))]


def _text_and_name(file: Path) -> tuple[str, str]:
    if file.suffix != FLIGHT_SUFFIX:
        return read_plan_text(file), str(file)
    header = read_flight_file(file).header
    if header is None or header.plan is None:
        raise PlanError(f"{file}: this flight was recorded without a plan: name a plan's file")
    return header.plan, f"{file} (the plan in it)"


def _may_be_written(file: Path) -> bool:
    """Asked before the first question, so that nobody answers in vain. True: the file is to be written over."""
    if file.is_dir():
        raise PlanNotWrittenError(f"{file} is a folder: name a file in it, for example {file / 'plan.toml'}")
    if not file.absolute().parent.is_dir():
        raise PlanNotWrittenError(f"{file}: there is no folder {file.parent}: make it first, or name another")
    if file.suffix == FLIGHT_SUFFIX:
        raise PlanNotWrittenError(f"{file}: so are recorded flights named: name the plan's file, for example plan.toml")
    if not file.exists():
        return False
    answer = _typed(f"{file} is there already. Write over it? y or n: ")
    if answer is None or answer.strip().lower() not in ("y", "yes"):
        raise PlanNotWrittenError(f"{file} was left as it is: name another file after station plan new")
    return True


def _asked() -> Answers:
    """The answers to all questions that make sense, up to the end of the input."""
    answers: Answers = {}
    table, place = None, next_question(0, {})
    while place is not None:
        question = QUESTIONS[place]
        if question.table != table:
            table = question.table
            click.echo(f"\n{TITLES[table]}")
        example = " or ".join(choices(question)) or f"for example {question.example}"
        click.echo(f"  {question.words} ({example})")
        refused = None
        while True:
            typed = _typed("  > ")
            if typed is None and refused is not None:
                raise PlanNotWrittenError(
                    f"the answers end after one that was not taken ({question.key} in [{question.table}]: {refused}): "
                    "nothing was written"
                )
            if typed is None:
                return answers
            if not typed.strip():
                break
            try:
                answers = take_answer(question, typed, answers)
                break
            except RefusedValueError as error:
                refused = error
                click.echo(f"    Not taken: {error}. Once more, or Enter to skip it.")
        place = next_question(place + 1, answers)
    return answers


def _typed(prompt: str) -> str | None:
    """One line from standard input; None at its end."""
    try:
        typed = input(prompt)
    except (EOFError, RuntimeError):
        # A program without standard input has no line to give.
        click.echo()
        return None
    except KeyboardInterrupt:
        click.echo("\nNothing was written.")
        raise
    with suppress(ValueError, AttributeError):
        if not sys.stdin.isatty():
            click.echo(typed)
    return typed
