"""One line of the wire to the record it carries, or to the reason why it is not believed."""

import re
from binascii import crc_hqx, unhexlify
from collections.abc import Callable
from typing import Final

from station.records import (
    ChannelRecord,
    FixRecord,
    OtherRecord,
    Record,
    Reject,
    RejectReason,
    SampleRecord,
    SignalRecord,
    UnitRecord,
    new_tuple,
)
from station.wire import fields
from station.wire.fields import (
    MAX_AXIAL_MPS2,
    MAX_FRAME_BYTES,
    MAX_PRESSURE_PA,
    MAX_SEQ,
    MAX_T_MS,
    MAX_TEMPERATURE_C,
    MIN_PRESSURE_PA,
    MIN_TEMPERATURE_C,
    FieldError,
)

_FORBIDDEN: Final = re.compile(rb"[^ -~]")
_CHECKSUM: Final = re.compile(rb"\*([0-9A-F]{4})\Z")

# Samples are nine lines in ten and pass in one match; whatever does not match is looked at field by field. No part can
# match in more than one way: the `+` after each count says that nothing need be tried again, and saves a third.
_PLAIN_SAMPLE: Final = re.compile(
    rb"@(SMP,([0-9]{1,5}+),([0-9]{1,10}+),(N)?+,(N)?+,(N)?+(?:,[ -)+-?A-~]*+)?+)\*([0-9A-F]{4})\r?".replace(
        b"N", fields.NUMBER_PATTERN
    )
).fullmatch


def decode_line(line: bytes) -> Record | Reject | None:
    """The record in one line (without its LF; one CR at the end is allowed), or why it is rejected.

    The last `@` of the line starts the frame; what stands before it is noise (see `noise_before`). None for a
    blank line. Never raises, whatever the bytes. Format: `PROTOCOL.md`.
    """
    match = _PLAIN_SAMPLE(line)
    if match is None or len(line) > MAX_FRAME_BYTES:
        return _decode_carefully(line)
    body, seq, t_ms, pressure, temperature, axial, checksum = match.groups()
    # The CRC of a body and its own CRC is 0. This is quicker than reading the four digits as a number.
    if crc_hqx(unhexlify(checksum), crc_hqx(body, 0xFFFF)) != 0:
        return _decode_carefully(line)
    seq_value, t_ms_value = int(seq), int(t_ms)
    pressure_pa = float(pressure) if pressure else None
    temperature_c = float(temperature) if temperature else None
    axial_mps2 = float(axial) if axial else None
    if (
        seq_value > MAX_SEQ
        or t_ms_value > MAX_T_MS
        or (pressure_pa is not None and not MIN_PRESSURE_PA <= pressure_pa <= MAX_PRESSURE_PA)
        or (temperature_c is not None and not MIN_TEMPERATURE_C <= temperature_c <= MAX_TEMPERATURE_C)
        or (axial_mps2 is not None and not -MAX_AXIAL_MPS2 <= axial_mps2 <= MAX_AXIAL_MPS2)
    ):
        return _decode_carefully(line)
    return new_tuple(SampleRecord, (seq_value, t_ms_value, pressure_pa, temperature_c, axial_mps2))


def noise_before(line: bytes) -> int:
    """How many bytes of the line are noise: those before its last `@`, or all of them if there is none."""
    start = line.rfind(b"@")
    return start if start != -1 else len(line.removesuffix(b"\r"))


def _decode_carefully(line: bytes) -> Record | Reject | None:
    line = line.removesuffix(b"\r")
    if not line:
        return None
    start = line.rfind(b"@")
    if start == -1:
        return Reject(RejectReason.NO_START, "no @ in the line")
    frame = line[start:]
    if len(frame) > MAX_FRAME_BYTES:
        return Reject(RejectReason.TOO_LONG, f"{len(frame)} bytes, at most {MAX_FRAME_BYTES}")
    forbidden = _FORBIDDEN.search(frame)
    if forbidden is not None:
        byte = forbidden.group()[0]
        return Reject(RejectReason.BAD_CHARACTER, f"byte 0x{byte:02X} at {forbidden.start() + 1} of the frame")
    if frame.count(b"*") > 1:
        return Reject(RejectReason.BAD_CHARACTER, "more than one * in the frame")
    checksum = _CHECKSUM.search(frame)
    if checksum is None:
        return Reject(RejectReason.NO_CRC, "does not end in * and four digits of 0-9 A-F")
    body = frame[1 : checksum.start()]
    computed, sent = crc_hqx(body, 0xFFFF), int(checksum.group(1), 16)
    if computed != sent:
        return Reject(RejectReason.BAD_CRC, f"computed {computed:04X}, received {sent:04X}")
    try:
        return _decode_body(body.decode("ascii").split(","))
    except FieldError as error:
        return Reject(error.reason, error.detail)


def _decode_body(parts: list[str]) -> Record:
    if not parts[0]:
        raise FieldError(RejectReason.MISSING_FIELD, "KIND is empty")
    count, make = _KINDS.get(parts[0], (0, _other))
    if len(parts) < 3 + count:
        raise FieldError(RejectReason.MISSING_FIELD, f"{parts[0]} has {len(parts)} of its {3 + count} fields")
    return make(parts)


def _unit(parts: list[str]) -> UnitRecord:
    return UnitRecord(
        fields.SEQ.require(parts[1]),
        fields.T_MS.require(parts[2]),
        fields.PROTOCOL_VERSION.require(parts[3]),
        fields.read_name(parts[4]),
        fields.SAMPLE_PERIOD_MS.require(parts[5]),
        fields.read_role(parts[6], "channel 1 role"),
        fields.read_role(parts[7], "channel 2 role"),
        fields.MAIN_ALTITUDE_M.read(parts[8]),
    )


def _sample(parts: list[str]) -> SampleRecord:
    return SampleRecord(
        fields.SEQ.require(parts[1]),
        fields.T_MS.require(parts[2]),
        fields.PRESSURE_PA.read(parts[3]),
        fields.TEMPERATURE_C.read(parts[4]),
        fields.AXIAL_MPS2.read(parts[5]),
    )


def _channels(parts: list[str]) -> ChannelRecord:
    return ChannelRecord(
        fields.SEQ.require(parts[1]),
        fields.T_MS.require(parts[2]),
        fields.BATTERY_MV.read(parts[3]),
        fields.read_state(parts[4], "channel 1 state"),
        fields.CHANNEL_1_FIRED_T_MS.read(parts[5]),
        fields.read_state(parts[6], "channel 2 state"),
        fields.CHANNEL_2_FIRED_T_MS.read(parts[7]),
    )


def _fix(parts: list[str]) -> FixRecord:
    return FixRecord(
        fields.SEQ.require(parts[1]),
        fields.T_MS.require(parts[2]),
        fields.LATITUDE_DEG.read(parts[3]),
        fields.LONGITUDE_DEG.read(parts[4]),
        fields.HEIGHT_M.read(parts[5]),
        fields.SATELLITES.read(parts[6]),
    )


def _signal(parts: list[str]) -> SignalRecord:
    if parts[1] or parts[2]:
        raise FieldError(RejectReason.BAD_FIELD, "RXQ has a SEQ or T_MS, which only the altimeter's lines have")
    return SignalRecord(fields.SIGNAL_DBM.read(parts[3]), fields.SNR_DB.read(parts[4]))


def _other(parts: list[str]) -> OtherRecord:
    return OtherRecord(parts[0], fields.SEQ.read(parts[1]), fields.T_MS.read(parts[2]), tuple(parts[3:]))


_KINDS: dict[str, tuple[int, Callable[[list[str]], Record]]] = {
    "ID": (6, _unit),
    "SMP": (3, _sample),
    "CHN": (5, _channels),
    "FIX": (4, _fix),
    "RXQ": (2, _signal),
}
"""For each KIND the number of fields after T_MS and what makes its record."""
