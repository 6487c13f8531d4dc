"""`station share`: one HTML file that plays the flight, for friends and family."""

from pathlib import Path

import click

from station.command.keeping import keeping_options, kept_flight, targets, write_and_say
from station.renditions.page_parts import page_script, page_style
from station.renditions.png import png_bytes
from station.renditions.share_page import PageParts, share_page
from station.renditions.still import still
from station.renditions.units import UNITS, System

EXAMPLES = """\b
Examples:
  station share flights/NAME.flight
  station share flights/NAME.flight --units feet --to comet.html
"""


@click.command("share", epilog=EXAMPLES, short_help="One file that plays the flight, for friends and family.")
@keeping_options
@click.option(
    "--units",
    type=click.Choice(["metres", "feet"]),
    help="Units to begin with; the reader can change them [default: by the language of the reader's browser].",
)
def command(
    path: Path,
    to: Path | None,
    force: bool,
    plan_path: Path | None,
    air_temperature_c: float | None,
    units: str | None,
) -> None:
    """Make one HTML file of the saved flight FILE, to send to friends and family.

    It opens in any browser, on a phone or a computer, without internet. It plays the flight, tells it in sentences
    and says what was seen of each parachute. It carries the flight's day, but no place and no operator's marks.
    """
    ((_, page_path),) = targets(path, to, (".html", ".htm"), (".html",)).items()
    kept = kept_flight(path, plan_path, air_temperature_c)
    system = None if units is None else System(units)
    picture = still(kept.flight, UNITS[system or System.METRES], kept.flown_at)
    parts = PageParts(page_script(), page_style(), png_bytes(picture))
    page = share_page(kept.flight, parts, day=kept.flown_at, units=system)
    write_and_say({page_path: page.encode()}, source=path, force=force)
