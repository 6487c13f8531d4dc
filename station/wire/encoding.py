"""One record to the line that carries it: what the virtual altimeter sends and tests decode."""

from decimal import Decimal

from station.records import (
    ChannelRecord,
    FixRecord,
    OtherRecord,
    Record,
    Reject,
    SampleRecord,
    SignalRecord,
    UnitRecord,
)
from station.wire.crc import crc16
from station.wire.decoding import decode_line


def encode(record: Record) -> bytes:
    """The whole line, LF included. Decoding it gives the same record again.

    Raises ValueError for a record that the wire cannot carry: a number out of range, or more than 120 bytes.
    """
    body = ",".join(_parts(record)).encode("ascii", "backslashreplace")
    frame = b"@%s*%04X" % (body, crc16(body))
    decoded = decode_line(frame)
    if isinstance(decoded, Reject):
        raise ValueError(f"cannot be sent ({decoded.reason}: {decoded.detail}): {record}")
    if decoded != record:
        raise ValueError(f"would be read as something else ({decoded}): {record}")
    return frame + b"\n"


def _parts(record: Record) -> list[str]:
    match record:
        case UnitRecord():
            kind = "ID"
            values: tuple[object, ...] = (
                record.protocol_version,
                record.unit_name,
                record.sample_period_ms,
                record.channel_1_role,
                record.channel_2_role,
                record.main_altitude_m,
            )
        case SampleRecord():
            kind = "SMP"
            values = (record.pressure_pa, record.temperature_c, record.axial_mps2)
        case ChannelRecord():
            kind = "CHN"
            values = (
                record.battery_mv,
                record.channel_1_state,
                record.channel_1_fired_t_ms,
                record.channel_2_state,
                record.channel_2_fired_t_ms,
            )
        case FixRecord():
            kind = "FIX"
            values = (record.latitude_deg, record.longitude_deg, record.height_m, record.satellites)
        case SignalRecord():
            return ["RXQ", "", "", _text(record.signal_dbm), _text(record.snr_db)]
        case OtherRecord():
            kind = record.kind
            values = record.fields
    return [kind, _text(record.seq), _text(record.t_ms), *map(_text, values)]


def _text(value: object) -> str:
    if value is None:
        return ""
    text = str(value)
    if isinstance(value, float) and "e" in text:
        # The wire has no exponent: the same digits, written out.
        return f"{Decimal(text):f}"
    return text
