"""The protocol's document must not say anything that the decoder does not do."""

import re
from pathlib import Path

import station.wire
from station.records import (
    ChannelRecord,
    ChannelState,
    FixRecord,
    OtherRecord,
    Reject,
    RejectReason,
    Role,
    SampleRecord,
    SignalRecord,
    UnitRecord,
)
from station.wire import decode_line, fields, noise_before
from station.wire.fields import DecimalField, WholeField

DOCUMENT = (Path(station.wire.__file__).parent / "PROTOCOL.md").read_text(encoding="utf-8")
PAD = SampleRecord(1, 370, 101312.4, 18.62, 9.79)


def rows_under(heading: str) -> list[list[str]]:
    section = re.split(r"^#+ ", DOCUMENT.split(f"# {heading}\n")[1], flags=re.MULTILINE)[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def test_good_lines_say_what_the_document_says() -> None:
    read = [decode_line(row[0].strip("`").encode()) for row in rows_under("Good")]
    assert read == [
        UnitRecord(0, 350, 1, "BRAMBLE-2", 20, Role.DROGUE, Role.MAIN, 152.4),
        PAD,
        SampleRecord(7, 490, 101312.4, None, None),
        ChannelRecord(2, 1000, 8117, ChannelState.READY, None, ChannelState.READY, None),
        ChannelRecord(911, 18240, 8042, ChannelState.FIRED, 18220, ChannelState.READY, None),
        FixRecord(912, 18260, 48.2081743, -3.50109, 1264.5, 9),
        FixRecord(3, 1005, None, None, None, 0),
        SignalRecord(-87.5, 9.25),
        SampleRecord(65535, 4294967290, 98002.1, 15.1, -9.6),
        SampleRecord(0, 14, 98002.6, 15.1, -9.7),
        SampleRecord(914, 18300, 64410.0, 12.02, -8.8),
        OtherRecord("TMP", 913, 18280, ("31.5",)),
        PAD,
    ]
    assert noise_before(rows_under("Good")[-1][0].strip("`").encode()) == 3


def test_rejected_lines_are_rejected_for_the_reason_given() -> None:
    rows = rows_under("Rejected")
    assert len(rows) >= 10
    for line, reason in rows:
        result = decode_line(line.strip("`").encode())
        assert isinstance(result, Reject), line
        assert result.reason == reason, line


def test_every_reason_is_explained() -> None:
    assert sorted(row[0] for row in rows_under("What is not believed")) == sorted(RejectReason)


def test_bounds_in_the_document_are_those_of_the_code() -> None:
    code = {
        field.name: f"{field.low:.0f} to {field.high:.0f}"
        for field in vars(fields).values()
        if isinstance(field, DecimalField | WholeField) and field.name not in {"SEQ", "T_MS"}
    }
    document = {row[1]: row[3] for row in rows_under("Fields after T_MS, in order") if row[3]}
    assert document == code
