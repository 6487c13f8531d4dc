"""Reads a simulation's table, the text of a CSV file, into a `Prediction`. Pure.

A table has a line of headers and below it a row for each moment. Cells are set apart by commas, semicolons or tabs,
numbers have a decimal point or, where cells are not set apart by commas or stand in quotes, a decimal comma. Lines
that begin with # are left out; the headers may stand in the last of them before the first row.
"""

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from station.errors import PredictionError
from station.prediction import CourseError, Prediction, prediction_of
from station.prediction_columns import Column, find_columns, unit_of
from station.quantity import quoted

MOST_LINES = 200_000
LEAST_ROWS = 5
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_BEYOND_READING = re.compile(r"[+-]?(?:nan|inf|infinity)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    text: str
    is_comment: bool


def parse_prediction(text: str, file_name: str, named: Mapping[str, str] | None = None) -> Prediction:
    """The prediction in `text`; `named` are columns that the user told (see `columns_named`).

    Raises PredictionError, one line with file, line and remedy, for whatever cannot be understood.
    """
    lines = _lines(text, file_name)
    data = [line for line in lines if not line.is_comment]
    if not data:
        raise PredictionError(
            f"{file_name}: line 1: it is empty: save the simulation with its headers and a row a moment"
        )
    # A title above the table is a line of one cell.
    first = next((line for line in data if _delimiter(line.text) is not None), data[0])
    table = _Table(file_name, first, lines)
    columns = find_columns(table.headers, named or {}, table.units_below, f"{file_name}: line {table.header_line}")
    values = table.read(columns)
    told = ", ".join(f"{quantity} from {quoted(column.header)}" for quantity, column in columns.items())
    try:
        return prediction_of(values["time"], values["altitude"], values.get("speed"), file=file_name, columns=told)
    except CourseError as error:
        line = table.header_line if error.row is None else table.rows[error.row].number
        raise PredictionError(f"{file_name}: line {line}: {error} ({told})") from error


def _lines(text: str, file_name: str) -> list[_Line]:
    raw = text.splitlines()
    if len(raw) > MOST_LINES:
        raise PredictionError(
            f"{file_name}: line {MOST_LINES + 1}: more than {MOST_LINES:,} lines: save a row every 0.05 s or so"
        )
    return [
        _Line(number, line.lstrip()[1:] if line.lstrip().startswith("#") else line, line.lstrip().startswith("#"))
        for number, line in enumerate(raw, start=1)
        if line.strip()
    ]


def _delimiter(text: str) -> str | None:
    """What sets the cells of a line apart; None if it has one cell only. Quoted words do not count."""
    bare = re.sub(r'"[^"]*"', "", text)
    return next((mark for mark in "\t;," if mark in bare), None)


class _Table:
    """The headers and the rows below them."""

    def __init__(self, file_name: str, first: _Line, lines: Sequence[_Line]) -> None:
        self.file_name = file_name
        self.delimiter = _delimiter(first.text) or ","
        cells = self._cells(first)
        header = first
        if all(_is_numeric(cell) for cell in cells):
            # No words: the headers stand in a comment above, or nowhere.
            above = [line for line in lines if line.is_comment and line.number < first.number]
            fitting = [line for line in above if len(self._cells(line)) == len(cells)]
            if not fitting:
                raise PredictionError(
                    f"{file_name}: line {first.number}: there is no line of headers above the numbers: write one, "
                    'for example "Time (s),Altitude (m)"'
                )
            header = fitting[-1]
        if len(cells) < 2:
            raise PredictionError(
                f"{file_name}: line {first.number}: there is one column only: save with commas, semicolons or tabs "
                "between the columns, time and altitude at least"
            )
        self.headers = [cell.strip() for cell in self._cells(header)]
        self.header_line = header.number
        self.rows = [line for line in lines if not line.is_comment and line.number > header.number]
        self.units_below = self._take_units()

    def _take_units(self) -> list[str] | None:
        """A row of units under headers that have none is no data."""
        if not self.rows or any(unit_of(header) for header in self.headers):
            return None
        cells = [cell.strip() for cell in self._cells(self.rows[0])]
        if any(_is_numeric(cell) for cell in cells) or not any(cells) or len(cells) != len(self.headers):
            return None
        self.rows = self.rows[1:]
        return cells

    def read(self, columns: Mapping[str, Column]) -> dict[str, np.ndarray]:
        """The columns as arrays in SI, all of one length."""
        values: dict[str, list[float]] = {quantity: [] for quantity in columns}
        marks: dict[str, int] = {}
        last_s = -math.inf
        for line in self.rows:
            cells = self._cells(line)
            self._refuse_extra_cells(line, cells)
            for quantity, column in columns.items():
                cell = self._cell(line, cells, quantity, column)
                values[quantity].append(self._value(line, cell, quantity, column))
                for mark in ".,":
                    if mark in cell:
                        marks.setdefault(mark, line.number)
            if len(marks) > 1:
                raise PredictionError(
                    f"{self.file_name}: line {line.number}: numbers with a point and numbers with a comma (line "
                    f"{min(marks.values())}): write all with a decimal point, and nothing between thousands"
                )
            now_s = values["time"][-1]
            if now_s < last_s:
                raise PredictionError(
                    f"{self.file_name}: line {line.number}: the time goes back from {last_s:g} s to {now_s:g} s: "
                    "save one flight a file, its rows in order of time"
                )
            last_s = now_s
        # Last, so that a cell that is no number is named, however few rows there are.
        self._refuse_a_mere_summary()
        return {quantity: np.array(column) for quantity, column in values.items()}

    def _refuse_a_mere_summary(self) -> None:
        if len(self.rows) < LEAST_ROWS:
            raise PredictionError(
                f"{self.file_name}: line {self.rows[-1].number if self.rows else self.header_line}: "
                f"{len(self.rows) or 'no'} rows below the headers: save the simulated flight's course, not its summary"
            )

    def _cells(self, line: _Line) -> list[str]:
        try:
            if line.text.count('"') % 2:
                raise csv.Error("a quote does not close")
            return next(csv.reader([line.text], delimiter=self.delimiter, skipinitialspace=True), [])
        except csv.Error as error:
            raise PredictionError(
                f"{self.file_name}: line {line.number}: this cannot be a table's line ({error}): is it a CSV file?"
            ) from error

    def _refuse_extra_cells(self, line: _Line, cells: Sequence[str]) -> None:
        if any(cell.strip() for cell in cells[len(self.headers) :]):
            raise PredictionError(
                f"{self.file_name}: line {line.number}: more cells than there are headers: with decimal commas, save "
                "with semicolons between the columns"
            )

    def _cell(self, line: _Line, cells: Sequence[str], quantity: str, column: Column) -> str:
        if column.index >= len(cells):
            raise PredictionError(
                f"{self.file_name}: line {line.number}: {quantity}: the row ends before column {column.index + 1}: "
                "save it with all its columns"
            )
        return cells[column.index].strip()

    def _value(self, line: _Line, cell: str, quantity: str, column: Column) -> float:
        where = f"{self.file_name}: line {line.number}: {quantity}"
        if _BEYOND_READING.fullmatch(cell):
            raise PredictionError(f"{where} is {cell}: leave such rows out, or look into the simulation")
        if _NUMBER.fullmatch(cell) is None:
            raise PredictionError(f"{where} is {quoted(cell)}, which is no number: write plain numbers, no units")
        value = float(cell.replace(",", ".")) * column.factor
        if not math.isfinite(value):
            raise PredictionError(f"{where} is {quoted(cell)}, which is too large a number: look into the simulation")
        return value


def _is_numeric(cell: str) -> bool:
    stripped = cell.strip()
    return _NUMBER.fullmatch(stripped) is not None or _BEYOND_READING.fullmatch(stripped) is not None
