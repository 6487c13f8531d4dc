"""Figures in the units a reader wants: metres and m/s, or feet and miles an hour. Same rounding as the live page."""

import re
from dataclasses import dataclass
from enum import StrEnum

from station.atmosphere import G0_MPS2

FEET_PER_M = 1.0 / 0.3048  # the international foot, exact (1959 agreement)
MPH_PER_MPS = 3600.0 / 1609.344  # the international mile, exact

_NUMBER = r"(\d+(?:\.\d+)?)"
_SPEED_RANGE = re.compile(rf"{_NUMBER}( only)? to {_NUMBER} m/s")
_SPEED = re.compile(rf"{_NUMBER} m/s(?!\^|²)")
_HEIGHT = re.compile(rf"{_NUMBER} m(?![\w/])")


class System(StrEnum):
    """The choice of units."""

    METRES = "metres"
    FEET = "feet"


@dataclass(frozen=True, slots=True)
class Units:
    """One system: its factors from SI, and how it is written."""

    system: System
    height_factor: float
    height_unit: str
    speed_factor: float
    speed_unit: str
    acceleration_factor: float
    acceleration_unit: str

    def height(self, metres: float) -> str:
        """A height, whole: "1,398 ft"."""
        return f"{whole(metres * self.height_factor)} {self.height_unit}"

    def speed(self, mps: float) -> str:
        """A speed, with a decimal where a whole number would hide a difference: "18.5 m/s"."""
        return f"{fine(mps * self.speed_factor)} {self.speed_unit}"

    def acceleration(self, mps2: float) -> str:
        """An acceleration: "9.8 g"."""
        return f"{fine(mps2 * self.acceleration_factor)} {self.acceleration_unit}"

    def sentence(self, text: str) -> str:
        """One of the station's own sentences, which come in metres, in these units."""
        if self.system is System.METRES:
            return text

        def speed(number: str) -> str:
            return fine(float(number) * self.speed_factor)

        text = _SPEED_RANGE.sub(lambda m: f"{speed(m[1])}{m[2] or ''} to {speed(m[3])} {self.speed_unit}", text)
        text = _SPEED.sub(lambda m: f"{speed(m[1])} {self.speed_unit}", text)
        return _HEIGHT.sub(lambda m: self.height(float(m[1])), text)


METRES = Units(System.METRES, 1.0, "m", 1.0, "m/s", 1.0, "m/s²")
FEET = Units(System.FEET, FEET_PER_M, "ft", MPH_PER_MPS, "mph", 1.0 / G0_MPS2, "g")
UNITS = {System.METRES: METRES, System.FEET: FEET}


def whole(value: float) -> str:
    """A whole number with its thousands apart."""
    return f"{round(value) or 0:,}"


def fine(value: float) -> str:
    """As `whole`, but one decimal below 20."""
    return f"{round(value, 1) or 0.0:.1f}" if abs(value) < 20.0 else whole(value)
