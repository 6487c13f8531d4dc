import random
import re
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

import station.flight_log
from station.flight_log import EntryKind, LogEntry, LogHeader, parse_flight
from station.flight_log.entries import entry_from, entry_text, escape, header_from, unescape

DOCUMENT = (Path(station.flight_log.__file__).parent / "FLIGHT_LOG.md").read_text(encoding="utf-8")
HEADER = LogHeader(
    datetime(2031, 5, 4, 9, 12, 44, 120413, UTC),
    "/dev/ttyUSB0",
    "station 0.1.0",
    "monotonic, resolution 0.000000001 s",
)


def test_every_byte_survives_escaping_and_none_leaves_its_line() -> None:
    data = bytes(range(256)) + rb"\x41 \\ \xZZ \\x0A" + b"\\"
    assert unescape(escape(data)) == data
    assert re.fullmatch(rb"[ -~]*", escape(data))


def test_random_bytes_survive_escaping() -> None:
    rng = random.Random(9)
    for _ in range(2000):
        data = rng.randbytes(rng.randrange(40)) + rng.choice([b"", b"\\", b"\\x", b"x41"])
        assert unescape(escape(data)) == data


def test_a_plain_line_stands_in_the_log_as_it_came() -> None:
    line = b"@SMP,1,370,101312.4,18.62,9.79*4A5D"
    assert entry_text(LogEntry(EntryKind.LINE, 501_907, line)) == b"0.501907 line " + line + b"\n"


@pytest.mark.parametrize("kind", EntryKind)
@pytest.mark.parametrize("arrival_us", [0, 1, 999_999, 1_000_000, 86_400_000_001])
@pytest.mark.parametrize("data", [b"", b" ", b"a b", b"\r", b"\xff\x00\n", b"line @", "Zündung".encode()])
def test_an_entry_survives_the_log(kind: EntryKind, arrival_us: int, data: bytes) -> None:
    entry = LogEntry(kind, arrival_us, data)
    text = entry_text(entry)
    assert text.count(b"\n") == 1
    assert entry_from(text.removesuffix(b"\n")) == entry


def test_an_empty_entry_survives_an_editor_that_strips_spaces() -> None:
    assert entry_from(b"1.000000 line") == LogEntry(EntryKind.LINE, 1_000_000, b"")


@pytest.mark.parametrize(
    "line",
    [b"", b"1 line @", b"1.5 line @", b"1.0000000 line @", b"-1.000000 line @", b"1.000000 photo @", b"x"],
)
def test_what_is_no_entry_is_none(line: bytes) -> None:
    assert entry_from(line) is None


def test_a_header_survives_the_log() -> None:
    lines = HEADER.text().split(b"\n")
    assert lines[0] == b"station flight log 1"
    assert lines[-2:] == [b"", b""]
    assert header_from(lines[1:-2]) == HEADER


def test_no_header_value_can_break_the_format() -> None:
    nasty = "Zoë\r\n\n0.000000 line @\nport: other\\x0A\x00 "
    header = LogHeader(HEADER.opened, nasty, nasty, nasty, plan=nasty, continues=nasty)
    file = parse_flight(header.text(), "f")
    assert file.header == header
    assert file.entries == ()
    assert not file.torn


def test_a_lone_surrogate_in_a_header_is_replaced_not_raised() -> None:
    assert b"port: ?\n" in LogHeader(None, "\ud800", "", "").text()


def test_the_time_of_opening_is_written_in_utc() -> None:
    local = datetime(2031, 5, 4, 11, 0, tzinfo=timezone(timedelta(hours=2)))
    assert b"opened: 2031-05-04T09:00:00Z\n" in LogHeader(local, "", "", "").text()


def test_unknown_keys_and_damaged_times_in_a_header_are_passed_over() -> None:
    header = header_from([b"colour: red", b"opened: yesterday", b"port: COM3", b"no colon"])
    assert header == LogHeader(None, "COM3", "", "")
    assert header_from([]) == LogHeader(None, "", "", "")


def test_the_example_in_the_document_is_a_flight_log() -> None:
    block = re.search(r"(?:^    .*\n|^\n)+", DOCUMENT.split("computed again.\n")[1], re.MULTILINE)
    assert block is not None
    example = "\n".join(line.removeprefix("    ") for line in block.group().strip("\n").split("\n")) + "\n"
    file = parse_flight(example.encode(), "example")
    assert file.header == HEADER
    assert not file.torn
    assert file.damaged == 0
    assert file.lines[2] == (b"\xfe\x00~@SMP,7,490,101312.4,,*0933", 530_020)
    assert file.marks == [(7_201_554, "igniter connected")]
    assert [entry.kind for entry in file.entries] == ["line"] * 3 + ["mark", "note"]
