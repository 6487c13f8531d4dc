"""What the altimeter says: one frozen value a line of the wire protocol.

The wire format itself is documented in `station/wire/PROTOCOL.md`.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

# What a named tuple's own `__new__` calls in the end, in half the time: for the few values that every line makes.
new_tuple = tuple.__new__


class Role(StrEnum):
    """What a pyrotechnic channel is for."""

    DROGUE = "drogue"
    MAIN = "main"
    NONE = "none"


class ChannelState(StrEnum):
    """State of a channel as the altimeter reports it: `ready` means continuity is good, `open` none."""

    READY = "ready"
    OPEN = "open"
    FIRED = "fired"
    OFF = "off"


class RejectReason(StrEnum):
    """Why a received line was not believed."""

    NO_START = "no start"
    NO_CRC = "no crc"
    BAD_CRC = "bad crc"
    TOO_LONG = "too long"
    BAD_CHARACTER = "bad character"
    MISSING_FIELD = "missing field"
    BAD_FIELD = "bad field"
    OUT_OF_RANGE = "out of range"


@dataclass(frozen=True, slots=True)
class UnitRecord:
    """`ID`: who the altimeter is and what its channels are for. Altitude in m above the pad."""

    seq: int
    t_ms: int
    protocol_version: int
    unit_name: str
    sample_period_ms: int
    channel_1_role: Role
    channel_2_role: Role
    main_altitude_m: float | None


class SampleRecord(NamedTuple):
    """`SMP`: static pressure (Pa), sensor temperature (degC), axial specific force (m/s^2, + to the nose).

    Nine lines in ten are this one, and a named tuple is made in less than half the time of a frozen dataclass.
    """

    seq: int
    t_ms: int
    pressure_pa: float | None
    temperature_c: float | None
    axial_mps2: float | None


@dataclass(frozen=True, slots=True)
class ChannelRecord:
    """`CHN`: battery (mV), and for each channel its state and the T_MS at which it fired."""

    seq: int
    t_ms: int
    battery_mv: int | None
    channel_1_state: ChannelState | None
    channel_1_fired_t_ms: int | None
    channel_2_state: ChannelState | None
    channel_2_fired_t_ms: int | None


@dataclass(frozen=True, slots=True)
class FixRecord:
    """`FIX`: satellite position, WGS 84 degrees, height in m above mean sea level."""

    seq: int
    t_ms: int
    latitude_deg: float | None
    longitude_deg: float | None
    height_m: float | None
    satellites: int | None


@dataclass(frozen=True, slots=True)
class SignalRecord:
    """`RXQ`: added by the receiver on the ground: signal (dBm) and signal-to-noise ratio (dB)."""

    signal_dbm: float | None
    snr_db: float | None


@dataclass(frozen=True, slots=True)
class OtherRecord:
    """A line with a good CRC of a KIND this version does not know: kept and counted, no error."""

    kind: str
    seq: int | None
    t_ms: int | None
    fields: tuple[str, ...]


Record = UnitRecord | SampleRecord | ChannelRecord | FixRecord | SignalRecord | OtherRecord


@dataclass(frozen=True, slots=True)
class Reject:
    """A line that was received but not believed, with the reason and what exactly was wrong."""

    reason: RejectReason
    detail: str
