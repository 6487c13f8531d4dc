"""`station captions`: captions for the onboard camera's film."""

import re
from pathlib import Path

import click

from station.command.keeping import KeptFlight, keeping_options, kept_flight, targets, units_option, write_and_say
from station.command.numbers import FiniteRange
from station.renditions.captions import flight_cues, left_out_words, srt, webvtt
from station.renditions.units import UNITS, System

_FILM_TIME = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,3}):)?(\d{1,6}(?:\.\d{1,6})?)")
_LONGEST_OFFSET_S = 1_000_000

EXAMPLES = """\b
Examples:
  station captions flights/NAME.flight --liftoff-at 1:23.4
  station captions flights/NAME.flight --video-offset -12.5 --units feet

\b
Laid over a film (ffmpeg is a program of its own):
  ffmpeg -i film.mp4 -vf subtitles=NAME.srt with-captions.mp4
"""


def _film_time(_ctx: click.Context, _option: click.Parameter, written: str | None) -> float | None:
    """Seconds of `83.4`, `1:23.4` or `0:01:23.4`."""
    if written is None:
        return None
    match = _FILM_TIME.fullmatch(written)
    if match is None:
        raise click.BadParameter(f"{written!r} is not a film's time, such as 83.4 or 1:23.4")
    hours, minutes, seconds = match.groups()
    return 3600.0 * int(hours or 0) + 60.0 * int(minutes or 0) + float(seconds)


@click.command("captions", epilog=EXAMPLES, short_help="Captions for the onboard camera's film.")
@keeping_options
@click.option(
    "--liftoff-at",
    "film_liftoff_s",
    metavar="TIME",
    callback=_film_time,
    help="The film's time at liftoff, as the player shows it: 83.4 or 1:23.4.",
)
@click.option(
    "--video-offset",
    "offset_s",
    metavar="S",
    type=FiniteRange(-_LONGEST_OFFSET_S, _LONGEST_OFFSET_S),
    help="Instead: the film's time, in seconds, at which the log begins; negative if the film began later.",
)
@click.option(
    "--every",
    "every_s",
    metavar="S",
    type=FiniteRange(0.1, 10),
    default=0.5,
    show_default=True,
    help="How often the figures change, in seconds.",
)
@units_option
def command(
    path: Path,
    to: Path | None,
    force: bool,
    plan_path: Path | None,
    air_temperature_c: float | None,
    film_liftoff_s: float | None,
    offset_s: float | None,
    every_s: float,
    units: str,
) -> None:
    """Write captions of the saved flight FILE, as SRT and as WebVTT: flight time, altitude, speed, events.

    Players and film programs lay them over the film. Say how film and flight fit together by one of --liftoff-at and
    --video-offset.
    """
    if (film_liftoff_s is None) == (offset_s is None):
        raise click.UsageError("give one of --liftoff-at TIME and --video-offset S: how else to know where to put them")
    chosen = targets(path, to, (".srt", ".vtt"), (".srt", ".vtt"))
    kept = kept_flight(path, plan_path, air_temperature_c)
    liftoff_s = film_liftoff_s if film_liftoff_s is not None else (offset_s or 0.0) + _liftoff_in_log(kept)
    cues = flight_cues(kept.flight, liftoff_s, UNITS[System(units)], every_s)
    if not cues:
        raise click.UsageError(f"by this the flight is over before the film begins (liftoff at {liftoff_s:.1f} s)")
    texts = {".srt": srt(cues), ".vtt": webvtt(cues)}
    write_and_say({where: texts[ending].encode() for ending, where in chosen.items()}, source=path, force=force)
    if liftoff_s < 0.0:
        click.echo(f"liftoff is {-liftoff_s:.1f} s before the film's start")
    else:
        click.echo(f"liftoff is at {liftoff_s:.1f} s of the film")
    left_out = left_out_words(kept.flight, liftoff_s, every_s)
    if left_out is not None:
        click.echo(left_out)


def _liftoff_in_log(kept: KeptFlight) -> float:
    """Seconds from the log's beginning to liftoff; a bare capture begins with its first line."""
    arrival_us = kept.flight.liftoff_arrival_us
    return -kept.flight.begins_s if arrival_us is None else arrival_us / 1e6
