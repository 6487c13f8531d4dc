"""The page of `station check --page`: made of a saved flight, and written beside it."""

from pathlib import Path

import click

from station.after_landing import CheckReport, judge_lines
from station.command.judging import what_was_meant
from station.command.keeping import flown_at
from station.errors import NoLiftoffError, OutputError
from station.flight_log import read_flight_file
from station.plan import FlightPlan
from station.prediction import Prediction
from station.renditions.after_page import MADE_BY, after_page
from station.renditions.output_file import write_outputs
from station.renditions.page_parts import after_style
from station.whole_flight import whole_flight

ENDING = "-check.html"
_HEAD_BYTES = 1000


def judge_and_write_page(
    path: Path,
    folder: Path | None,
    air_temperature_c: float | None,
    plan: FlightPlan | None,
    prediction: Prediction | None,
) -> tuple[CheckReport, Path | None]:
    """The check's report, and where its page was written: beside the flight, or in `folder`.

    A page of an earlier check is replaced, nothing else. Without a liftoff there is no page. Raises
    FileUnreadableError, NotAFlightError or OutputError.
    """
    file = read_flight_file(path)
    plan, prediction = what_was_meant(file, path.parent, plan, prediction)
    try:
        flight = whole_flight(
            file.lines,
            file=file.name,
            torn=file.torn,
            unheard=file.unheard,
            air_temperature_c=air_temperature_c,
            plan=plan,
            prediction=prediction,
        )
    except NoLiftoffError:
        click.echo(f"station: {path}: no page of it, as no liftoff was observed.", err=True)
        return judge_lines(
            file.lines, file=file.name, torn=file.torn, air_temperature_c=air_temperature_c, plan=plan
        ), None
    page = (folder or path.parent) / f"{path.stem}{ENDING}"
    if page.exists() and not _is_ours(page):
        raise OutputError(f"{page} exists already and is not a page of the check: name another folder with --to.")
    html = after_page(flight, after_style(), day=flown_at(file, flight))
    write_outputs({page: html.encode()}, source=path, force=True)
    click.echo(f"written: {page}", err=True)
    return flight.report, page


def _is_ours(page: Path) -> bool:
    try:
        with page.open("rb") as file:
            return MADE_BY.encode() in file.read(_HEAD_BYTES)
    except OSError:
        return False
