"""What `live` and `demo` share: a port is read, recorded and shown."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

import station
from station.command.page import MakePage, announce, served_page
from station.command.predicting import NOT_DRAWN, planned_prediction
from station.flight_log import FlightLogWriter, LogHeader, host_clock
from station.live import LiveFlight, start_clock
from station.pipeline import Pipeline
from station.plan_file import read_plan_text
from station.plan_text import parse_plan
from station.serial_link import DEFAULT_BAUD, SerialLink
from station.session import FlightSession

Function = TypeVar("Function", bound=Callable[..., Any])


def listening_options(command: Function) -> Function:
    """Add --baud, --plan and --logs."""
    for option in (
        click.option(
            "--logs",
            type=click.Path(file_okay=False, path_type=Path),
            default="flights",
            show_default=True,
            metavar="FOLDER",
            help="Where to record the flight; the folder is made if need be.",
        ),
        click.option(
            "--plan",
            "plan_path",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="The flight plan, to judge the flight against; the log carries it.",
        ),
        click.option(
            "--baud",
            type=click.IntRange(min=1),
            default=DEFAULT_BAUD,
            show_default=True,
            help="Speed of the port, as the receiver sends.",
        ),
    ):
        command = option(command)
    return command


@contextmanager
def recorded_flight(
    make_page: MakePage,
    link: SerialLink,
    *,
    page: tuple[str, int] | None,
    no_open: bool,
    logs: Path,
    plan_path: Path | None,
) -> Iterator[tuple[LiveFlight, FlightSession, FlightLogWriter]]:
    """Everything ready for `LiveFlight.run_forever`, the page served while inside, and the user told so.

    Raises StationError for a plan, page, port or folder that will not do, before anything is recorded.
    """
    plan_text = None if plan_path is None else read_plan_text(plan_path)
    plan = None if plan_text is None else parse_plan(plan_text, str(plan_path))
    opened, clock_us = datetime.now(UTC), start_clock()
    session = FlightSession(Pipeline(plan=plan), link.name, clock_us)
    if plan_path is not None:
        session.set_prediction(planned_prediction(plan, plan_path.parent, without_it=NOT_DRAWN))

    def mark(text: str) -> None:
        live.mark(text)

    with served_page(make_page, session, page, on_mark=mark) as address:
        # Opened last, as the system keeps only a second or two of what comes in before it is read.
        link.open()
        try:
            header = LogHeader(opened, link.name, f"station {station.__version__}", host_clock(), plan_text)
            writer = FlightLogWriter(logs, header)
        except BaseException:
            link.close()
            raise
        live = LiveFlight(link, writer, session, clock_us)
        announce(address, no_open=no_open, log=writer.path.absolute())
        yield live, session, writer
