"""The kinds of value in a written plan: each reads what TOML found, or says what would be right. Pure."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

from station.errors import PredictionError
from station.prediction_columns import columns_named
from station.quantity import Dimension, QuantityError, parse_quantity, quoted

_LONGEST_TEXT = 200


class RefusedValueError(ValueError):
    """Why a value was not taken and what would be right, in one line; the caller adds where it stands."""


class PlanValue(Protocol):
    """A kind of value."""

    def read(self, value: Any) -> object:
        """The value for the FlightPlan. Raises RefusedValueError."""


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text."""

    example: str = "Little Comet"

    def read(self, value: Any) -> str:
        """The text without blanks around it. Raises RefusedValueError."""
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            raise RefusedValueError(f'write one line of text in quotes, for example "{self.example}"')
        if len(value) > _LONGEST_TEXT:
            raise RefusedValueError(f"write at most {_LONGEST_TEXT} characters")
        return value.strip()


@dataclass(frozen=True, slots=True)
class FileName:
    """The name of a file beside the plan, without folder: a plan from elsewhere must not reach into yours."""

    def read(self, value: Any) -> str:
        """The name. Raises RefusedValueError."""
        name = Text("simulation.csv").read(value)
        if name in (".", "..") or set(name) & set("/\\:"):
            raise RefusedValueError('write the name of a file that lies beside the plan, for example "simulation.csv"')
        return name


@dataclass(frozen=True, slots=True)
class ColumnNames:
    """Which columns of a simulation's table are which."""

    def read(self, value: Any) -> str:
        """The text as it is written. Raises RefusedValueError."""
        text = Text("time=1,altitude=Height[ft]").read(value)
        try:
            columns_named(text)
        except PredictionError:
            raise RefusedValueError(
                f'{quoted(text)} names no column: write for example "time=1,altitude=Height[ft]", with a column\'s '
                "number or header"
            ) from None
        return text


@dataclass(frozen=True, slots=True)
class Number:
    """A number without unit, from `lowest` to `highest`."""

    lowest: float
    highest: float
    example: str

    def read(self, value: Any) -> float:
        """The number. Raises RefusedValueError."""
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if not is_number or not self.lowest <= value <= self.highest:
            raise RefusedValueError(
                f"write a number from {self.lowest:g} to {self.highest:g} without quotes, for example {self.example}"
            )
        return float(value)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few fixed texts."""

    choices: type[StrEnum]

    def read(self, value: Any) -> StrEnum:
        """The choice. Raises RefusedValueError."""
        try:
            return self.choices(value)
        except ValueError:
            known = " or ".join(f'"{choice}"' for choice in self.choices)
            raise RefusedValueError(f"write {known}") from None


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with a unit, from `lowest` to `highest` in the SI unit of its dimension."""

    dimension: Dimension
    lowest: float
    highest: float

    def read(self, value: Any) -> float:
        """The number in the SI unit. Raises RefusedValueError."""
        if not isinstance(value, str):
            raise RefusedValueError(f"write it in quotes with its unit, for example {self.dimension.example}")
        try:
            number = parse_quantity(value, self.dimension)
        except QuantityError as error:
            raise RefusedValueError(str(error)) from error
        if not self.lowest <= number <= self.highest:
            unit = self.dimension.si_unit
            raise RefusedValueError(
                f"{quoted(value)} is {number:.4g} {unit}, which is outside {self.lowest:g} to {self.highest:g} {unit}: "
                "is the unit right?"
            )
        return number
