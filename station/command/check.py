"""`station check`: what the evidence in saved flights says, for people and for programs."""

import json
import logging
import sys
from pathlib import Path

import click

from station.after_landing import CheckReport, exit_status
from station.check_report import report_json, report_text
from station.command.judging import judge_saved_flight
from station.command.numbers import FiniteRange
from station.command.page import open_browser
from station.command.predicting import named_prediction, planned_prediction
from station.errors import StationError
from station.plan import FlightPlan
from station.prediction import Prediction

_log = logging.getLogger(__name__)
# Which exit status stands for several files: a flight that needs a look outranks a file that could not be
# read, which outranks too little data, which outranks all is confirmed.
_MOST_SERIOUS_FIRST = (1, StationError.exit_code, 3, 0)

EXAMPLES = """\b
Examples:
  station check flights/*.flight
  station check --plan comet.toml my.flight
  station check --page my.flight
  station check --json --air-temperature 31 capture.txt
  station check --plan comet.toml --prediction simulation.csv my.flight
  station check --prediction simulation.csv --columns "time=1,altitude=Height[ft]" my.flight

\b
Exit status:
  0  every planned deployment is confirmed by the descent
  1  attention: look at what the check says
  3  too little data to say
  2  wrong use, or a file that is not a flight
With several files, the first of 1, 2, 3, 0 that any of them gave.
"""


@click.command("check", epilog=EXAMPLES, short_help="Say from evidence whether the parachutes opened.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--json", "as_json", is_flag=True, help="One JSON document a file, one a line, for programs.")
@click.option(
    "--air-temperature",
    "air_temperature_c",
    metavar="DEGC",
    type=FiniteRange(-60, 60),
    help="Air temperature at the pad, degrees Celsius [default: the plan's, else the altimeter's own sensor].",
)
@click.option("--plan", "plan_path", metavar="FILE", help="The flight plan, to judge the flight against.")
@click.option(
    "--prediction",
    "prediction_path",
    metavar="CSV",
    help="A simulation of the flight, to compare it with [default: the one that the plan names].",
)
@click.option(
    "--columns",
    metavar="WHICH",
    help="Which columns of the simulation are which, by number or header, with the unit in brackets where the header "
    'has none: "time=1,altitude=Height[ft],speed=3" [default: those of the plan, else guessed from the headers; at a '
    "terminal you are asked].",
)
@click.option(
    "--page", "with_page", is_flag=True, help="Write a page of each flight too, to read and print, and open it."
)
@click.option(
    "--to",
    "folder",
    metavar="FOLDER",
    type=click.Path(file_okay=False, exists=True, path_type=Path),
    help="Where to write the page [default: beside FILE, as NAME-check.html].",
)
@click.option("--no-open", is_flag=True, help="Do not open a browser: only say where the page is.")
@click.pass_context
def command(
    ctx: click.Context,
    files: tuple[str, ...],
    as_json: bool,
    air_temperature_c: float | None,
    plan_path: str | None,
    prediction_path: str | None,
    columns: str | None,
    with_page: bool,
    folder: Path | None,
    no_open: bool,
) -> None:
    """Judge saved flights: each FILE is a log of this station, or a bare capture of the altimeter's lines.

    The answer comes from the descent itself. A command that was sent or a charge that fired is not yet an
    open parachute, and what was not heard is said to be not observed.
    """
    plan = None
    if plan_path is not None:
        # Only now, as below: to load what reads a plan takes longer than to read a short flight.
        from station.plan_file import read_plan

        plan = read_plan(Path(plan_path))
    prediction = _prediction(prediction_path, columns, plan, plan_path)
    statuses = set()
    pages: list[Path] = []
    if with_page:
        # Only now: it takes a fifth of the time of judging a flight to load.
        from station.command.check_page import judge_and_write_page
    for file in files:
        try:
            if with_page:
                report, page = judge_and_write_page(Path(file), folder, air_temperature_c, plan, prediction)
                pages += [] if page is None else [page]
            else:
                report = judge_saved_flight(Path(file), air_temperature_c, plan, prediction)
        except StationError as error:
            sys.stdout.flush()
            click.echo(f"station: {' '.join(str(error).split())}", err=True)
            statuses.add(error.exit_code)
        except Exception as defect:
            # One file that shows a defect must not keep the others from being judged.
            _log.error("%s", file, exc_info=defect)
            statuses.add(StationError.exit_code)
        else:
            click.echo(_shown(report, as_json=as_json))
            statuses.add(exit_status(report))
    # A page for each of many files would bury the screen in windows.
    if len(files) == 1 and pages and not no_open:
        open_browser(pages[0].absolute().as_uri())
    ctx.exit(next(status for status in _MOST_SERIOUS_FIRST if status in statuses))


def _prediction(
    path: str | None, columns: str | None, plan: FlightPlan | None, plan_path: str | None
) -> Prediction | None:
    if path is not None:
        return named_prediction(Path(path), columns, ask=True)
    if columns is not None and (plan is None or plan.prediction_file is None):
        raise click.UsageError("--columns is for a simulation: name it with --prediction, or in the plan")
    return planned_prediction(plan, Path(plan_path or ".").parent, columns, ask=True)


def _shown(report: CheckReport, *, as_json: bool) -> str:
    return json.dumps(report_json(report)) if as_json else report_text(report)
