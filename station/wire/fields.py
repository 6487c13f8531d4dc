"""What each field of the wire may hold: how it is written, and between which bounds.

The bounds are wide enough for any hobby flight and tight enough that a value outside them is a fault (our own
choice, no source). `PROTOCOL.md` lists them for readers.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, TypeVar

from station.records import ChannelState, RejectReason, Role

MAX_FRAME_BYTES: Final = 120
"""From the `@` to the last CRC digit."""

MAX_SEQ: Final = 0xFFFF
MAX_T_MS: Final = 0xFFFF_FFFF

NUMBER_PATTERN: Final = rb"[+-]?+[0-9]++(?:\.[0-9]++)?+"
"""A decimal number: sign if wanted, digits, and if wanted a point and more digits. No exponent, no space.

It can match in one way only; the `+` after each count says so, and nothing is tried a second time.
"""

MIN_PRESSURE_PA, MAX_PRESSURE_PA = 1_000.0, 120_000.0
MIN_TEMPERATURE_C, MAX_TEMPERATURE_C = -60.0, 125.0
MAX_AXIAL_MPS2: Final = 5_000.0

_NUMBER: Final = re.compile(NUMBER_PATTERN.decode())
_WHOLE: Final = re.compile(r"[0-9]+")
_NAME: Final = re.compile(r"[A-Za-z0-9_-]{1,16}")

Choice = TypeVar("Choice", bound=StrEnum)


class FieldError(Exception):
    """A field that cannot be believed; caught by the decoder, which makes it a `Reject`."""

    def __init__(self, reason: RejectReason, detail: str) -> None:
        super().__init__(detail)
        self.reason = reason
        self.detail = detail


@dataclass(frozen=True, slots=True)
class DecimalField:
    """A decimal number between two bounds (both included), in the unit that its name says."""

    name: str
    low: float
    high: float

    def read(self, text: str) -> float | None:
        """The value, or None for an empty field. Raises FieldError."""
        if not text:
            return None
        if _NUMBER.fullmatch(text) is None:
            raise FieldError(RejectReason.BAD_FIELD, f"{self.name} is not a decimal number: {text}")
        value = float(text)
        if not self.low <= value <= self.high:
            raise FieldError(RejectReason.OUT_OF_RANGE, f"{self.name} {text} is not in {self.low:g} to {self.high:g}")
        return value


@dataclass(frozen=True, slots=True)
class WholeField:
    """An unsigned whole number between two bounds (both included)."""

    name: str
    low: int
    high: int

    def read(self, text: str) -> int | None:
        """The value, or None for an empty field. Raises FieldError."""
        if not text:
            return None
        if _WHOLE.fullmatch(text) is None:
            raise FieldError(RejectReason.BAD_FIELD, f"{self.name} is not a whole number: {text}")
        value = int(text)
        if not self.low <= value <= self.high:
            raise FieldError(RejectReason.OUT_OF_RANGE, f"{self.name} {text} is not in {self.low} to {self.high}")
        return value

    def require(self, text: str) -> int:
        """The value of a field that may not be empty. Raises FieldError."""
        value = self.read(text)
        if value is None:
            raise FieldError(RejectReason.MISSING_FIELD, f"{self.name} is empty")
        return value


SEQ: Final = WholeField("SEQ", 0, MAX_SEQ)
T_MS: Final = WholeField("T_MS", 0, MAX_T_MS)
PROTOCOL_VERSION: Final = WholeField("protocol version", 1, 255)
SAMPLE_PERIOD_MS: Final = WholeField("sample period", 1, 60_000)
MAIN_ALTITUDE_M: Final = DecimalField("main altitude", 0.0, 20_000.0)
PRESSURE_PA: Final = DecimalField("pressure", MIN_PRESSURE_PA, MAX_PRESSURE_PA)
TEMPERATURE_C: Final = DecimalField("temperature", MIN_TEMPERATURE_C, MAX_TEMPERATURE_C)
AXIAL_MPS2: Final = DecimalField("axial specific force", -MAX_AXIAL_MPS2, MAX_AXIAL_MPS2)
BATTERY_MV: Final = WholeField("battery", 0, 60_000)
CHANNEL_1_FIRED_T_MS: Final = WholeField("channel 1 fired at", 0, MAX_T_MS)
CHANNEL_2_FIRED_T_MS: Final = WholeField("channel 2 fired at", 0, MAX_T_MS)
LATITUDE_DEG: Final = DecimalField("latitude", -90.0, 90.0)
LONGITUDE_DEG: Final = DecimalField("longitude", -180.0, 180.0)
HEIGHT_M: Final = DecimalField("height", -1_000.0, 100_000.0)
SATELLITES: Final = WholeField("satellites", 0, 255)
SIGNAL_DBM: Final = DecimalField("signal", -200.0, 60.0)
SNR_DB: Final = DecimalField("signal-to-noise", -100.0, 100.0)


def read_name(text: str) -> str:
    """A unit's name: 1 to 16 of A-Z a-z 0-9 - _. Raises FieldError."""
    if not text:
        raise FieldError(RejectReason.MISSING_FIELD, "unit name is empty")
    if _NAME.fullmatch(text) is None:
        raise FieldError(RejectReason.BAD_FIELD, f"unit name is not 1 to 16 of A-Z a-z 0-9 - _: {text}")
    return text


def read_role(text: str, name: str) -> Role:
    """What a channel is for; may not be empty. Raises FieldError."""
    if not text:
        raise FieldError(RejectReason.MISSING_FIELD, f"{name} is empty")
    return _one_of(Role, text, name)


def read_state(text: str, name: str) -> ChannelState | None:
    """A channel's state, or None for an empty field. Raises FieldError."""
    return _one_of(ChannelState, text, name) if text else None


def _one_of(choices: type[Choice], text: str, name: str) -> Choice:
    try:
        return choices(text)
    except ValueError:
        known = ", ".join(choices)
        raise FieldError(RejectReason.BAD_FIELD, f"{name} is not one of {known}: {text}") from None
