"""A drawing as values: lines, areas and text on a sheet, in pixels from its upper left corner. Pure."""

from dataclasses import dataclass
from enum import StrEnum

Points = tuple[tuple[float, float], ...]


class Anchor(StrEnum):
    """Which part of a text stands at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points."""

    points: Points
    colour: str
    width: float
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled outline."""

    points: Points
    colour: str


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `y` is its baseline. `most` is the width that it must not be wider than."""

    x: float
    y: float
    text: str
    size: float
    colour: str
    bold: bool = False
    anchor: Anchor = Anchor.START
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    """A sheet with what is on it, from back to front; `title` and `description` are for who cannot see it."""

    width: int
    height: int
    paper: str
    title: str
    description: str
    shapes: tuple[Line | Area | Text, ...]
