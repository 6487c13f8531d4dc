"""Numbers written with their unit, as a person writes them in a plan ("500 ft", "15 mph"), to SI.

Factors are exact by definition: the international foot is 0.3048 m and the mile 5,280 ft (international
yard and pound agreement of 1959); degrees Fahrenheit and Celsius as in the SI brochure and NIST SP 811.
"""

import math
import re
from dataclasses import dataclass

_FOOT_M = 0.3048
_MILE_M = 5280 * _FOOT_M
_WRITTEN = re.compile(r"\s*(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>\S.*?)?\s*", re.ASCII)


class QuantityError(ValueError):
    """A text that is not a number with a fitting unit; its message says what would be right."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity: its units as (factor, offset), SI = (value + offset) * factor, and an example."""

    name: str
    units: dict[str, tuple[float, float]]
    example: str


LENGTH = Dimension(
    "length",
    {"m": (1.0, 0.0), "km": (1000.0, 0.0), "ft": (_FOOT_M, 0.0), "mi": (_MILE_M, 0.0)},
    '"500 ft" or "152 m"',
)
SPEED = Dimension(
    "speed",
    {
        "m/s": (1.0, 0.0),
        "km/h": (1000.0 / 3600.0, 0.0),
        "ft/s": (_FOOT_M, 0.0),
        "mph": (_MILE_M / 3600.0, 0.0),
    },
    '"60 ft/s" or "18 m/s"',
)
TEMPERATURE = Dimension(
    "temperature",
    {"degC": (1.0, 0.0), "degF": (5.0 / 9.0, -32.0), "K": (1.0, -273.15)},
    '"25 degC" or "77 degF"',
)


def parse_quantity(text: str, dimension: Dimension) -> float:
    """The value in metres, metres a second or degrees Celsius, as `dimension` says.

    Raises QuantityError when the text is no number, has no unit, or has a unit of another kind.
    """
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise QuantityError(f'"{text}" is not a number with a unit: write for example {dimension.example}')
    unit = match["unit"]
    if unit is None:
        raise QuantityError(f'"{text}" has no unit: write for example {dimension.example}')
    unit = unit.replace("°", "deg")
    if unit not in dimension.units:
        known = ", ".join(dimension.units)
        raise QuantityError(f'"{unit}" is not a unit of {dimension.name} known here: use one of {known}')
    factor, offset = dimension.units[unit]
    value = (float(match["number"]) + offset) * factor
    if not math.isfinite(value):
        raise QuantityError(f'"{text}" is too large a number')
    return value
