"""A table as a Parquet file, by pandas and pyarrow where they are installed."""

import sys
from importlib import import_module
from io import BytesIO
from typing import Any

from station.errors import MissingLibraryError
from station.renditions.table import Table


def parquet_bytes(table: Table) -> bytes:
    """The file's bytes, columns named as in the CSV. Raises MissingLibraryError."""
    pandas = _library("pandas")
    _library("pyarrow")
    frame = pandas.DataFrame({column.header: pandas.Series(list(column.values)) for column in table})
    for column in table:
        # A column of which nothing was measured is one of numbers all the same.
        if all(value is None for value in column.values):
            frame[column.header] = frame[column.header].astype("float64")
    file = BytesIO()
    frame.to_parquet(file, engine="pyarrow", index=False)
    return file.getvalue()


def _library(name: str) -> Any:
    try:
        return import_module(name)
    except ImportError as error:
        raise MissingLibraryError(
            f"Parquet files need pandas and pyarrow, and {name} is not installed: "
            f"{sys.executable} -m pip install pandas pyarrow, or export to CSV or JSON."
        ) from error
