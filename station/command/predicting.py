"""The simulation to lay a flight beside: the one that the user names, else the one that the plan names.

Where its columns are not plain, whoever sits at a terminal is asked; a program gets an error.
"""

import sys
from pathlib import Path

import click

from station.errors import ColumnsUnclearError, StationError
from station.plan import FlightPlan
from station.prediction import Prediction
from station.quantity import quoted

NOT_DRAWN = "the simulation is not drawn on the page"


def named_prediction(path: Path, columns: str | None, *, ask: bool = False) -> Prediction:
    """The simulation in the file at `path`, with the columns that the user told; `ask` for those that are not plain.

    Raises FileUnreadableError or PredictionError.
    """
    # Loaded only when wanted: most checks have no simulation beside them.
    from station.prediction_columns import columns_named
    from station.prediction_file import read_prediction

    told = {} if columns is None else columns_named(columns)
    asked = False
    while True:
        try:
            found = read_prediction(path, told)
        except ColumnsUnclearError as error:
            answer = _asked(path, error) if ask and sys.stdin.isatty() and sys.stderr.isatty() else None
            if answer is None:
                raise
            told[error.quantity] = answer
            asked = True
        else:
            if asked:
                said = ",".join(f"{quantity}={column}" for quantity, column in told.items())
                click.echo(
                    f'To be asked no more: columns = "{said}" in the plan, or --columns "{said}" behind the command.\n',
                    err=True,
                )
            return found


def planned_prediction(
    plan: FlightPlan | None,
    folder: Path,
    columns: str | None = None,
    *,
    ask: bool = False,
    without_it: str = "not compared with the simulation: give one with --prediction",
) -> Prediction | None:
    """The simulation that the plan names, beside it in `folder`; one that cannot be read is complained of, no more."""
    if plan is None or plan.prediction_file is None:
        return None
    try:
        return named_prediction(folder / plan.prediction_file, columns or plan.prediction_columns, ask=ask)
    except StationError as error:
        click.echo(f"station: {error}; {without_it}", err=True)
        return None


def _asked(path: Path, error: ColumnsUnclearError) -> str | None:
    """What the user chooses by its number; None at the end of the input."""
    click.echo(f"{path}: {error.asks}", err=True)
    for number, (shown, _) in enumerate(error.choices, 1):
        click.echo(f"  {number:>2}  {quoted(shown)[1:-1]}", err=True)
    while True:
        click.echo("  > ", nl=False, err=True)
        typed = sys.stdin.readline()
        if not typed:
            click.echo(err=True)
            return None
        if typed.strip().isdecimal() and 1 <= int(typed) <= len(error.choices):
            return error.choices[int(typed) - 1][1]
        click.echo(f"    Type a number from 1 to {len(error.choices)}, or press Ctrl-C.", err=True)
