"""The simulation to lay a flight beside: the one that the user names, else the one that the plan names."""

from pathlib import Path

import click

from station.errors import StationError
from station.plan import FlightPlan
from station.prediction import Prediction

NOT_DRAWN = "the simulation is not drawn on the page"


def named_prediction(path: Path, columns: str | None) -> Prediction:
    """The simulation in the file at `path`, with the columns that the user told.

    Raises FileUnreadableError or PredictionError.
    """
    # Loaded only when wanted: most checks have no simulation beside them.
    from station.prediction_columns import columns_named
    from station.prediction_file import read_prediction

    return read_prediction(path, None if columns is None else columns_named(columns))


def planned_prediction(
    plan: FlightPlan | None,
    folder: Path,
    columns: str | None = None,
    *,
    without_it: str = "not compared with the simulation: give one with --prediction",
) -> Prediction | None:
    """The simulation that the plan names, beside it in `folder`; one that cannot be read is complained of, no more."""
    if plan is None or plan.prediction_file is None:
        return None
    try:
        return named_prediction(folder / plan.prediction_file, columns)
    except StationError as error:
        click.echo(f"station: {error}; {without_it}", err=True)
        return None
