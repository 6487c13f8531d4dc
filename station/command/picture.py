"""`station picture`: a still of the flight for a message."""

from pathlib import Path

import click

from station.command.keeping import keeping_options, kept_flight, targets, units_option, write_and_say
from station.renditions.png import png_bytes
from station.renditions.still import still
from station.renditions.svg import svg_text
from station.renditions.units import UNITS, System

EXAMPLES = """\b
Examples:
  station picture flights/NAME.flight
  station picture flights/NAME.flight --units feet --to comet.png
"""


@click.command("picture", epilog=EXAMPLES, short_help="A picture of the flight for a message.")
@keeping_options
@units_option
def command(
    path: Path, to: Path | None, force: bool, plan_path: Path | None, air_temperature_c: float | None, units: str
) -> None:
    """Draw the saved flight FILE: its figures, its parachutes, its curve, as PNG and as SVG."""
    chosen = targets(path, to, (".png", ".svg"), (".png", ".svg"))
    kept = kept_flight(path, plan_path, air_temperature_c)
    drawing = still(kept.flight, UNITS[System(units)], kept.flown_at)
    makers = {".png": lambda: png_bytes(drawing), ".svg": lambda: svg_text(drawing).encode()}
    write_and_say({where: makers[ending]() for ending, where in chosen.items()}, source=path, force=force)
