"""`station find`: where the rocket lies, and its way over the ground as a file for a phone."""

import sys
from pathlib import Path

import click

from station.check_report import CAUTION
from station.command.judging import carried_plan
from station.errors import OutputError
from station.flight_log import read_flight_file
from station.flight_log.entries import VERSION_PREFIX
from station.gpx import gpx_document
from station.kml import kml_document
from station.phone_track import phone_track
from station.pipeline import Pipeline
from station.place_words import TRUE_NORTH, whereabouts_text
from station.plan_file import read_plan

NOT_KNOWN_STATUS = 3

EXAMPLES = """\b
Examples:
  station find flights/NAME.flight
  station find flights/NAME.flight --gpx rocket.gpx --kml rocket.kml
  station find flights/NAME.flight --plan comet.toml

\b
Exit status:
  0  a place or, by the wind, a stretch to look in was told
  2  wrong use, or a file that is not a flight
  3  nothing is known of where it lies
"""


@click.command("find", epilog=EXAMPLES, short_help="Say where the rocket lies, and write its track for a phone.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--gpx", "gpx_path", metavar="OUT", type=click.Path(path_type=Path), help="Write pad, rocket and its way as GPX."
)
@click.option("--kml", "kml_path", metavar="OUT", type=click.Path(path_type=Path), help="Write the same as KML.")
@click.option("--force", is_flag=True, help="Replace a file that is there already.")
@click.option(
    "--plan", "plan_path", metavar="FILE", help="The flight plan, for its wind [default: the one in the log]."
)
@click.pass_context
def command(
    ctx: click.Context,
    file: Path,
    gpx_path: Path | None,
    kml_path: Path | None,
    force: bool,
    plan_path: str | None,
) -> None:
    """Say how far from the pad, and in which direction, the rocket of the saved flight FILE lies.

    With a satellite receiver aboard: its last known place, how old and how good that is. Without: by the wind that
    the plan tells, where it would have been taken, a stretch to look in and not a point. GPX and KML are for a map
    program on a phone, which needs no internet to show them.
    """
    plan = read_plan(Path(plan_path)) if plan_path is not None else None
    saved = read_flight_file(file)
    pipeline = Pipeline(plan=plan or carried_plan(saved))
    for line, arrival_us in saved.lines:
        pipeline.take_line(line, arrival_us)
    snapshot = pipeline.snapshot(over=True)
    lines = whereabouts_text(snapshot)
    found = snapshot.whereabouts
    wanted = [(path, make) for path, make in ((gpx_path, gpx_document), (kml_path, kml_document)) if path is not None]
    track = phone_track(
        file.stem,
        pipeline.ground.points,
        found,
        liftoff_ms=snapshot.liftoff_t_ms,
        opened=saved.header.opened if saved.header is not None else None,
    )
    if wanted and not track.landmarks:
        raise OutputError(f"{file}: no satellite fix in it, so there is no place to write: leave out --gpx and --kml")
    for path, _ in wanted:
        _refuse_taken(path, file, force=force)
    said = lines or ["No liftoff was observed: nothing says that it left the pad."]
    click.echo("\n".join([*said, "", TRUE_NORTH, CAUTION]))
    for path, make in wanted:
        _write(path, make(track))
        click.echo(f"written: {path}")
    sys.stdout.flush()
    ctx.exit(0 if found.place is not None or found.drift is not None else NOT_KNOWN_STATUS)


def _refuse_taken(path: Path, source: Path, *, force: bool) -> None:
    if not path.exists():
        return
    if path.is_dir():
        raise OutputError(f"{path} is a folder: name a file in it")
    if path.samefile(source) or _is_a_log(path):
        raise OutputError(f"{path} is a recorded flight and is not written over: name another file")
    if not force:
        raise OutputError(f"{path} exists already: --force replaces it, or name another file")


def _is_a_log(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(VERSION_PREFIX)) == VERSION_PREFIX
    except OSError:
        return False


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror or error}): name another file") from error
