"""`station import`: what was read out of the altimeter becomes a log, joined with what the radio brought."""

from pathlib import Path

import click

import station
from station.errors import DifferentFlightError, FileUnreadableError
from station.flight_log import FlightFile, read_flight_file
from station.flight_log.folder import SUFFIX, logs_holding, write_new_log
from station.read_out import as_log, compare, join, probes

EXAMPLES = """\b
Examples:
  station import readout.txt                              finds its flight among the logs under flights
  station import readout.txt --join flights/NAME.flight
  station import old/*.txt --logs flights
"""
SOFTWARE = f"station {station.__version__}"


@click.command("import", epilog=EXAMPLES, short_help="Make a log of what was read out of the altimeter.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path))
@click.option(
    "--join",
    "flight",
    metavar="FLIGHT",
    type=click.Path(path_type=Path),
    help="The log to join with [default: the one in --logs that is of the same flight].",
)
@click.option(
    "--logs",
    type=click.Path(file_okay=False, path_type=Path),
    default="flights",
    show_default=True,
    metavar="FOLDER",
    help="Where your logs are, and where a read-out without one goes.",
)
def command(files: tuple[Path, ...], flight: Path | None, logs: Path) -> None:
    """Make a log of each FILE: a bare capture of an altimeter's lines, or what was read out of it after landing.

    A read-out is often fuller than what the radio brought. If one of your logs is of the same flight, which the lines
    tell by themselves, both are joined in a new log beside it, and station check says what the radio had missed. The
    files that you have stay as they are.
    """
    if flight is not None and len(files) > 1:
        raise click.BadOptionUsage("--join", "--join goes with one FILE")
    for path in files:
        read = read_flight_file(path)
        heard_path = flight or _log_of_same_flight(read, path, logs)
        if heard_path is None:
            _keep(logs / f"{path.stem}{SUFFIX}", as_log(read, software=SOFTWARE))
            click.echo(f"  None of the logs in {logs} is of this flight, so it stands by itself; its day is not known.")
        else:
            _join(heard_path, read)


def _join(heard_path: Path, read: FlightFile) -> None:
    joined = join(read_flight_file(heard_path), read, software=SOFTWARE)
    if joined is None:
        click.echo(f"{read.name}: {heard_path} has all of it already. Nothing was written.")
        return
    assert joined.header is not None
    target = heard_path.with_name(f"{heard_path.stem}-joined{SUFFIX}")
    _keep(target, joined)
    click.echo(f"  Joined with {heard_path}: the radio had missed {joined.header.unheard} of its lines.")


def _keep(target: Path, log: FlightFile) -> None:
    assert log.header is not None
    write_new_log(target, log.header, log.entries)
    click.echo(f"written: {target}")


def _log_of_same_flight(read: FlightFile, path: Path, logs: Path) -> Path | None:
    """The only log that is of the same flight, if there is one. Raises DifferentFlightError if there are more."""
    if not logs.is_dir():
        return None
    found = []
    for candidate in logs_holding(probes(read), logs):
        if candidate.samefile(path):
            continue
        try:
            heard = read_flight_file(candidate)
        except FileUnreadableError:
            continue
        if heard.header is not None and compare(heard, read).is_same_flight:
            found.append(candidate)
    if len(found) > 1:
        names = ", ".join(map(str, found))
        raise DifferentFlightError(f"{path} fits more than one log ({names}): name the one to join with --join.")
    return found[0] if found else None
