"""CSV, read back by pandas and by the standard library."""

import csv
from io import BytesIO, StringIO

import pandas
import pytest

from station.renditions.csv_text import csv_bytes, csv_text
from station.renditions.table import Column, Table, events_table, samples_table
from station.whole_flight import WholeFlight


def as_frame(table: Table) -> pandas.DataFrame:
    return pandas.DataFrame({column.header: list(column.values) for column in table})


@pytest.mark.parametrize("whole_record", [False, True])
def test_pandas_reads_the_samples_back_equal(nominal: WholeFlight, whole_record: bool) -> None:
    table = samples_table(nominal, whole_record=whole_record)
    read = pandas.read_csv(StringIO(csv_text(table)))
    pandas.testing.assert_frame_equal(read, as_frame(table), check_exact=True)


def test_pandas_reads_the_events_back_equal(nominal: WholeFlight) -> None:
    table = events_table(nominal)
    read = pandas.read_csv(StringIO(csv_text(table)))
    wanted = as_frame(table)
    for name in ("event", "basis"):
        assert list(read[name]) == list(wanted[name])
    for name in ("time_from_liftoff (s)", "altitude (m)", "velocity (m/s)", "time_sigma (s)"):
        assert read[name].tolist() == pytest.approx(wanted[name].astype(float).tolist(), abs=0.0, nan_ok=True)


def test_with_decimal_commas_pandas_reads_the_same(nominal: WholeFlight) -> None:
    table = samples_table(nominal)
    text = csv_text(table, decimal_comma=True)
    assert "." not in text.splitlines()[5]
    read = pandas.read_csv(StringIO(text), sep=";", decimal=",")
    pandas.testing.assert_frame_equal(read, as_frame(table), check_exact=True)


def test_lines_end_as_the_standard_says() -> None:
    """RFC 4180, section 2.1: each record is on a line of its own, ended by CR LF."""
    assert csv_text((Column("a", "m", (1, None)), Column("b", "", (2.5, "x")))) == "a (m),b\r\n1,2.5\r\n,x\r\n"


@pytest.mark.parametrize("text", ["=1+2", "+1", "-cmd", "@SUM(A1)", "\tx"])
def test_text_is_never_a_spreadsheet_s_formula(text: str) -> None:
    """The characters are those of OWASP's page on CSV injection, from memory."""
    written = csv_text((Column("text", "", (text,)),))
    assert list(csv.reader(StringIO(written)))[1] == [f"'{text}"]


def test_letters_beyond_ascii_are_announced_to_spreadsheets() -> None:
    """The mark is U+FEFF at the start (Unicode standard, section 23.8); pandas knows it too."""
    data = csv_bytes((Column("text", "", ("Komét, 3 °C",)),))
    assert data.startswith(b"\xef\xbb\xbftext")
    assert pandas.read_csv(BytesIO(data))["text"].tolist() == ["Komét, 3 °C"]
    assert csv_bytes((Column("a", "m", (1,)),)) == b"a (m)\r\n1\r\n"


def test_numbers_below_zero_stay_numbers() -> None:
    assert csv_text((Column("v", "m/s", (-1.5,)),)).splitlines()[1] == "-1.5"


def test_text_with_commas_quotes_and_breaks_is_read_back_whole() -> None:
    text = 'a, "b"\nc'
    written = csv_text((Column("text", "", (text,)),))
    assert next(iter(list(csv.reader(StringIO(written)))[1:])) == [text]
