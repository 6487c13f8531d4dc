"""`station logbook`: every flight of a folder in a table, in the terminal or on a page."""

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from station.command.keeping import units_option
from station.command.page import page_options
from station.errors import NotALogError
from station.logbook.book import Logbook
from station.logbook.choosing import SortKey, search_flights, sort_flights
from station.logbook.entry import LogbookEntry
from station.logbook.logbook_json import logbook_json
from station.logbook.note import BadNoteError
from station.logbook.notes import change_note
from station.logbook.table import logbook_table, totals_table
from station.logbook.totals import by_impulse_class, by_rocket
from station.renditions.units import UNITS, System, Units

Function = TypeVar("Function", bound=Callable[..., Any])

EXAMPLES = """\b
Examples:
  station logbook
  station logbook --browser
  station logbook flights/2031 --sort apogee --search "comet windy"
  station logbook --remark flights/NAME.flight "New drogue, 12 s delay."
  station logbook --rocket flights/NAME.flight "Little Comet"
"""
_NOTE_OPTIONS = {
    "remark": ("remarks", "TEXT", "Write a remark on a flight; an empty one takes it back."),
    "rocket": ("rocket", "NAME", "Say which rocket it was, whatever the plan says."),
    "motor": ("motor", "NAME", "Say which motor it was."),
    "day": ("day", "YYYY-MM-DD", "Say which day it was."),
}


def _note_options(command: Function) -> Function:
    for option, (key, what, told) in reversed(_NOTE_OPTIONS.items()):
        command = click.option(f"--{option}", f"note_{key}", nargs=2, multiple=True, metavar=f"FILE {what}", help=told)(
            command
        )
    return command


@click.command("logbook", epilog=EXAMPLES, short_help="Every flight of a folder, with totals and remarks.")
@click.argument("folder", default="flights", type=click.Path(path_type=Path))
@click.option(
    "--sort",
    type=click.Choice([key.value for key in SortKey]),
    default=SortKey.DATE.value,
    show_default=True,
    help="What to sort by: dates the newest first, figures the greatest first, names from A.",
)
@click.option("--reverse", is_flag=True, help="Sort the other way round.")
@click.option("--search", metavar="WORDS", default="", help="Only flights in which all these words stand somewhere.")
@units_option
@_note_options
@click.option("--json", "as_json", is_flag=True, help="One JSON document, for programs.")
@click.option("--browser", is_flag=True, help="Show it on a page, with curves, and with remarks to edit.")
@page_options
@click.pass_context
def command(
    ctx: click.Context,
    folder: Path,
    sort: str,
    reverse: bool,
    search: str,
    units: str,
    note_remarks: tuple[tuple[str, str], ...],
    note_rocket: tuple[tuple[str, str], ...],
    note_motor: tuple[tuple[str, str], ...],
    note_day: tuple[tuple[str, str], ...],
    as_json: bool,
    browser: bool,
    page: tuple[str, int] | None,
    no_open: bool,
) -> None:
    """List every flight in FOLDER (default: flights): what flew, how high and fast, what its parachutes did.

    New flights are judged first, on every processor core, and what was found is kept in an index beside them. What you
    write of a flight is kept in a small file beside its log and is never lost with the index.
    """
    given = {"remarks": note_remarks, "rocket": note_rocket, "motor": note_motor, "day": note_day}
    if any(given.values()):
        _write_notes(given)
        return
    book = Logbook(folder)
    if browser or page is not None:
        # Where the table alone is wanted, nothing of the page is loaded.
        from station.command.front import LOGBOOK, serve_front

        serve_front(ctx.obj, folder, page, no_open=no_open, show=LOGBOOK)
        return
    _refresh(book)
    shown = sort_flights(search_flights(book.entries(), search), SortKey(sort), reverse=reverse)
    if as_json:
        click.echo(json.dumps(logbook_json(shown, book.problems()), ensure_ascii=False))
        return
    width = shutil.get_terminal_size().columns if sys.stdout is not None and sys.stdout.isatty() else None
    _print(book, shown, searched=bool(search.split()), units=UNITS[System(units)], width=width)


def _write_notes(given: dict[str, tuple[tuple[str, str], ...]]) -> None:
    for key, pairs in given.items():
        for name, value in pairs:
            path = Path(name)
            if not path.is_file() or path.suffix != ".flight":
                raise NotALogError(f"{path} is no recorded flight to write a note on: name a log, flights/NAME.flight.")
            try:
                change_note(path, {key: value})
            except BadNoteError as error:
                raise NotALogError(f"{path}: {error}.") from error
            click.echo(f"noted: {path}, {key}")


def _refresh(book: Logbook) -> None:
    pending = book.pending()
    if not pending:
        return
    with click.progressbar(
        length=len(pending), label="Judging flights", file=sys.stderr, show_pos=True, hidden=not _is_watched()
    ) as bar:
        book.refresh(pending, lambda done: bar.update(done - bar.pos))


def _is_watched() -> bool:
    return sys.stderr is not None and sys.stderr.isatty()


def _print(book: Logbook, shown: list[LogbookEntry], *, searched: bool, units: Units, width: int | None) -> None:
    if shown:
        click.echo(logbook_table(shown, units, width))
        rockets = totals_table("by rocket", by_rocket(shown), "not named", units, width)
        classes = totals_table("by impulse class", by_impulse_class(shown), "not known", units, width)
        click.echo(f"\n{rockets}\n\n{classes}")
    elif searched:
        click.echo("No flight has all of these words.")
    else:
        click.echo(f"No flights in {book.folder} yet: station live records one, station demo an invented one.")
    for entry in shown:
        if entry.note_problem is not None:
            click.echo(f"station: a note cannot be read: {entry.note_problem}", err=True)
    for file, reason in book.problems():
        click.echo(f"station: passed over {file}: {' '.join(reason.split())}", err=True)
    if book.index_problem is not None:
        click.echo(
            f"station: the index cannot be kept in {book.folder} ({book.index_problem}): it is made anew each time",
            err=True,
        )
