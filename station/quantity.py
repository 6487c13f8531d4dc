"""Numbers written with their unit, as a person writes them in a plan ("500 ft", "15 mph"), to SI.

Factors are exact by definition: the international foot is 0.3048 m, the inch a twelfth of it, the mile 5,280 ft,
the pound 0.45359237 kg and the ounce a sixteenth of it (international yard and pound agreement of 1959); the
pound-force is a pound times standard gravity 9.80665 m/s^2 and the knot 1,852 m an hour (NIST SP 811); degrees
Fahrenheit and Celsius as in the SI brochure and NIST SP 811.
"""

import math
import re
from dataclasses import dataclass

_FOOT_M = 0.3048
_MILE_M = 5280 * _FOOT_M
_POUND_KG = 0.45359237
_POUND_FORCE_N = _POUND_KG * 9.80665
_LONGEST = 40
_WRITTEN = re.compile(r"\s*(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(?P<unit>\S.*?)?\s*", re.ASCII)

_WITH_COMMA = re.compile(r"\s*[+-]?\d+(?:,\d+)+(?:\.\d+)?(?:\s*[^\s\d.,].*)?", re.ASCII)


class QuantityError(ValueError):
    """A text that is not a number with a fitting unit; its message says what would be right."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity: its units as (factor, offset), SI = (value + offset) * factor, and an example."""

    name: str
    units: dict[str, tuple[float, float]]
    example: str

    @property
    def si_unit(self) -> str:
        """The unit of `parse_quantity`'s answer; it stands first."""
        return next(iter(self.units))


LENGTH = Dimension(
    "length",
    {
        "m": (1.0, 0.0),
        "km": (1000.0, 0.0),
        "cm": (0.01, 0.0),
        "mm": (0.001, 0.0),
        "ft": (_FOOT_M, 0.0),
        "in": (_FOOT_M / 12.0, 0.0),
        "mi": (_MILE_M, 0.0),
    },
    '"500 ft" or "152 m"',
)
WIDTH = Dimension("length", LENGTH.units, '"2.6 in" or "66 mm"')
SPEED = Dimension(
    "speed",
    {
        "m/s": (1.0, 0.0),
        "km/h": (1000.0 / 3600.0, 0.0),
        "ft/s": (_FOOT_M, 0.0),
        "mph": (_MILE_M / 3600.0, 0.0),
        "kn": (1852.0 / 3600.0, 0.0),
    },
    '"60 ft/s" or "18 m/s"',
)
WIND = Dimension("speed", SPEED.units, '"10 mph" or "4.5 m/s"')
FLIGHT_SPEED = Dimension("speed", SPEED.units, '"250 mph" or "110 m/s"')
TEMPERATURE = Dimension(
    "temperature",
    {"degC": (1.0, 0.0), "degF": (5.0 / 9.0, -32.0), "K": (1.0, -273.15)},
    '"25 degC" or "77 degF"',
)
MASS = Dimension(
    "mass",
    {"kg": (1.0, 0.0), "g": (0.001, 0.0), "lb": (_POUND_KG, 0.0), "oz": (_POUND_KG / 16.0, 0.0)},
    '"5 lb" or "2.3 kg"',
)
IMPULSE = Dimension(
    "impulse",
    {"N s": (1.0, 0.0), "Ns": (1.0, 0.0), "lbf s": (_POUND_FORCE_N, 0.0)},
    '"160 N s" or "36 lbf s"',
)
FORCE = Dimension("force", {"N": (1.0, 0.0), "lbf": (_POUND_FORCE_N, 0.0)}, '"100 N" or "22.5 lbf"')
DURATION = Dimension("time", {"s": (1.0, 0.0), "ms": (0.001, 0.0)}, '"1.75 s"')
DIRECTION = Dimension("direction", {"deg": (1.0, 0.0)}, '"270 deg" for a wind from the west')
DIMENSIONS = (LENGTH, SPEED, TEMPERATURE, MASS, IMPULSE, FORCE, DURATION, DIRECTION)
"""Every kind of quantity, once."""


def parse_quantity(text: str, dimension: Dimension) -> float:
    """The value in the SI unit of `dimension`: m, m/s, degC, kg, N s, N, s; directions in degrees.

    Raises QuantityError when the text is no number, has no unit, or has a unit of another kind.
    """
    match = _WRITTEN.fullmatch(text) if len(text) <= _LONGEST else None
    if len(text) <= _LONGEST and _WITH_COMMA.fullmatch(text):
        thousands = re.search(r",\d{3}(?!\d)", text) is not None
        plain = quoted(text.replace(",", "" if thousands else ".").strip())
        raise QuantityError(
            f"{quoted(text)} has a comma in its number: write {plain}, with a point where decimals begin and nothing "
            "between thousands"
        )
    if match is None:
        raise QuantityError(f"{quoted(text)} is not a number with a unit: write for example {dimension.example}")
    unit = match["unit"]
    if unit is None:
        raise QuantityError(f"{quoted(text)} has no unit: write for example {dimension.example}")
    unit = " ".join(unit.replace("°", "deg").split())
    if unit not in dimension.units:
        known = ", ".join(dimension.units)
        raise QuantityError(f"{quoted(unit)} is not a unit of {dimension.name} known here: use one of {known}")
    factor, offset = dimension.units[unit]
    value = (float(match["number"]) + offset) * factor
    if not math.isfinite(value):
        raise QuantityError(f"{quoted(text)} is too large a number: write for example {dimension.example}")
    return value


def per_unit(dimension: Dimension, unit: str) -> float:
    """How much of the SI unit one `unit` is; for units that begin at the same zero."""
    return dimension.units[unit][0]


def quoted(text: str) -> str:
    """`text` in quotes for a message of one line: shortened, and without what a terminal would obey."""
    shown = text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
    return '"' + "".join(sign if sign.isprintable() else "?" for sign in shown) + '"'
