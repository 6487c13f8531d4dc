"""Parquet, by pandas and pyarrow where they are."""

import sys
from io import BytesIO

import pandas
import pytest

from station.errors import MissingLibraryError
from station.renditions.parquet import parquet_bytes
from station.renditions.table import Column, events_table, samples_table
from station.whole_flight import WholeFlight


def test_pandas_reads_the_samples_back_equal(nominal: WholeFlight) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow is not installed here: install '.[test]'")
    table = samples_table(nominal)
    read = pandas.read_parquet(BytesIO(parquet_bytes(table)))
    wanted = pandas.DataFrame({column.header: list(column.values) for column in table})
    pandas.testing.assert_frame_equal(read, wanted, check_exact=True)


def test_events_and_columns_of_nothing_can_be_written_too(nominal: WholeFlight) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow is not installed here: install '.[test]'")
    read = pandas.read_parquet(BytesIO(parquet_bytes(events_table(nominal))))
    assert read["event"].iloc[0] == "liftoff"
    empty = parquet_bytes((Column("temperature", "degC", (None, None)),))
    assert pandas.read_parquet(BytesIO(empty))["temperature (degC)"].isna().all()


@pytest.mark.parametrize("name", ["pandas", "pyarrow"])
def test_without_the_libraries_the_error_names_the_one_and_the_remedy(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setitem(sys.modules, name, None)  # as the import system marks what is not there
    with pytest.raises(MissingLibraryError, match=rf"{name} is not installed: .* -m pip install pandas pyarrow"):
        parquet_bytes((Column("a", "m", (1.0,)),))
