"""What share, captions, picture and export have in common: reading the flight, and where the outcome goes."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from station.command.judging import carried_plan
from station.command.numbers import FiniteRange
from station.flight_log import FlightFile, read_flight_file
from station.plan_file import read_plan
from station.renditions.output_file import write_outputs
from station.whole_flight import WholeFlight, whole_flight

Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class KeptFlight:
    """A saved flight as read and judged; `flown_at` is its liftoff by the clock on this computer's wall, if known."""

    path: Path
    file: FlightFile
    flight: WholeFlight
    flown_at: datetime | None


def keeping_options(command: Function) -> Function:
    """Add FILE, --to, --force, --plan and --air-temperature."""
    for decorate in (
        click.option(
            "--air-temperature",
            "air_temperature_c",
            metavar="DEGC",
            type=FiniteRange(-60, 60),
            help="Air temperature at the pad, degrees Celsius [default: the plan's, else the altimeter's own sensor].",
        ),
        click.option(
            "--plan",
            "plan_path",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="The flight plan [default: the one that the log carries].",
        ),
        click.option("--force", is_flag=True, help="Replace files that exist already."),
        click.option(
            "--to",
            metavar="FILE|FOLDER",
            type=click.Path(path_type=Path),
            help="Where to write: a folder, or a file whose ending says what it is to be [default: beside FILE].",
        ),
        click.argument("path", metavar="FILE", type=click.Path(path_type=Path)),
    ):
        command = decorate(command)
    return command


def units_option(command: Function) -> Function:
    """Add --units, metres or feet."""
    return click.option(
        "--units",
        type=click.Choice(["metres", "feet"]),
        default="metres",
        show_default=True,
        help="Metres and m/s, or feet and miles an hour.",
    )(command)


def kept_flight(path: Path, plan_path: Path | None, air_temperature_c: float | None) -> KeptFlight:
    """Read and judge. Raises what reading the file or the plan raises, NoLiftoffError if nothing flew in it."""
    plan = None if plan_path is None else read_plan(plan_path)
    file = read_flight_file(path)
    flight = whole_flight(
        file.lines,
        file=file.name,
        torn=file.torn,
        air_temperature_c=air_temperature_c,
        plan=plan or carried_plan(file),
    )
    return KeptFlight(path, file, flight, flown_at(file, flight))


def flown_at(file: FlightFile, flight: WholeFlight) -> datetime | None:
    """When it lifted off by the clock on this computer's wall; None in a bare capture."""
    opened = None if file.header is None else file.header.opened
    if opened is None or flight.liftoff_arrival_us is None:
        return None
    return (opened + timedelta(microseconds=flight.liftoff_arrival_us)).astimezone()


def targets(source: Path, to: Path | None, endings: Iterable[str], default: Iterable[str]) -> dict[str, Path]:
    """Where each form goes, by its ending: the default ones beside the flight or in the folder `to`, or the one that
    the name `to` ends in.
    """
    if to is None or to.is_dir():
        folder = source.parent if to is None else to
        return {ending: folder / f"{source.stem}{ending}" for ending in default}
    ending = next((ending for ending in endings if to.name.lower().endswith(ending)), None)
    if ending is None:
        choices = " or ".join(endings)
        raise click.BadParameter(f"{to} is neither a folder nor a name that ends in {choices}", param_hint="--to")
    return {ending: to}


def write_and_say(outputs: Mapping[Path, bytes], *, source: Path, force: bool) -> None:
    """Write the files and name them. Raises OutputError."""
    write_outputs(outputs, source=source, force=force)
    for path in outputs:
        click.echo(f"written: {path}")
