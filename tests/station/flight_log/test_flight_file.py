import codecs
import random

import pytest

from station.errors import FileUnreadableError, NotAFlightError
from station.flight_log import EntryKind, FlightFile, LogEntry, LogHeader, parse_flight
from station.flight_log.entries import entry_text
from station.records import SampleRecord
from station.wire import encode

HEADER = LogHeader(None, "COM3", "station", "monotonic")
LINES = [encode(SampleRecord(n, 20 * n, 101325.0 - n, None, None)).strip() for n in range(5)]
ENTRIES = tuple(LogEntry(EntryKind.LINE, 20_000 * n, line) for n, line in enumerate(LINES))
LOG = HEADER.text() + b"".join(map(entry_text, ENTRIES))
CAPTURE = b"\n".join(LINES) + b"\n"


def lines_of(data: bytes) -> list[bytes]:
    return [line for line, _ in parse_flight(data, "f").lines]


def test_a_log_gives_back_what_was_written() -> None:
    assert parse_flight(LOG, "f") == FlightFile("f", HEADER, ENTRIES, torn=False, damaged=0)


def test_a_log_cut_anywhere_gives_its_whole_lines_and_says_that_it_is_torn() -> None:
    ends = {len(HEADER.text())}
    for entry in ENTRIES:
        ends.add(max(ends) + len(entry_text(entry)))
    for size in range(len(b"station flight log 1"), len(LOG) + 1):
        file = parse_flight(LOG[:size], "f")
        assert file.entries == ENTRIES[: sum(end <= size for end in ends) - (size >= min(ends))]
        assert file.torn == (size not in ends)


def test_zeros_that_a_power_loss_left_are_a_torn_end() -> None:
    file = parse_flight(LOG + b"\0" * 4096, "f")
    assert (file.entries, file.torn, file.damaged) == (ENTRIES, True, 0)


def test_a_damaged_line_in_the_middle_is_passed_over_and_counted() -> None:
    file = parse_flight(HEADER.text() + entry_text(ENTRIES[0]) + b"0.5 li\n\n" + entry_text(ENTRIES[1]), "f")
    assert (file.entries, file.torn, file.damaged) == (ENTRIES[:2], False, 1)


def test_a_log_without_any_entry_is_still_a_flight_log() -> None:
    assert parse_flight(HEADER.text(), "f").entries == ()


@pytest.mark.parametrize("ending", [b"\n", b"\r\n"])
@pytest.mark.parametrize("data", [LOG, CAPTURE])
def test_editors_and_terminal_programs_may_change_line_ends_and_encoding(data: bytes, ending: bytes) -> None:
    text = data.replace(b"\n", ending)
    wide = text.decode("ascii")
    expected = [line + (b"\r" if data is CAPTURE and ending == b"\r\n" else b"") for line in LINES]
    for changed in (
        text,
        codecs.BOM_UTF8 + text,
        codecs.BOM_UTF16_LE + wide.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + wide.encode("utf-16-be"),
        codecs.BOM_UTF16_LE + wide.encode("utf-16-le") + b"x",
    ):
        assert lines_of(changed) == expected


def test_a_bare_capture_has_no_times_and_no_header() -> None:
    entries = tuple(LogEntry(EntryKind.LINE, None, line) for line in LINES)
    assert parse_flight(CAPTURE, "f") == FlightFile("f", None, entries, torn=False, damaged=0)


def test_a_capture_with_a_terminal_programs_times_reads_as_well() -> None:
    lines = [b"[12:00:01.250] " + line for line in LINES]
    assert lines_of(b"Session opened\n" + b"\n".join(lines)) == [b"Session opened", *lines]


def test_a_captures_last_line_without_lf_counts_if_it_is_good_and_is_torn_if_not() -> None:
    file = parse_flight(CAPTURE.removesuffix(b"\n"), "f")
    assert (len(file.entries), file.torn) == (5, False)
    file = parse_flight(CAPTURE[:-4], "f")
    assert (len(file.entries), file.torn) == (4, True)


def test_rejected_lines_of_a_capture_are_kept() -> None:
    assert lines_of(b"hello\n\n" + CAPTURE + b"@SMP,1*0000\n") == [b"hello", b"", *LINES, b"@SMP,1*0000"]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\0" * 100,
        b"\n\n",
        b"hello\n",
        b"@SMP,1,2,101325,,*0000\n",
        b"station fl",
        b"\xff\xfe",
        b"\xff\xfe\x00\xd8\n",
    ],
)
def test_what_holds_no_good_line_is_not_a_flight(data: bytes) -> None:
    with pytest.raises(NotAFlightError, match=r"^some/file "):
        parse_flight(data, "some/file")


def test_random_bytes_are_not_a_flight() -> None:
    with pytest.raises(NotAFlightError):
        parse_flight(random.Random(4).randbytes(1_000_000), "noise.bin")


def test_a_log_of_a_later_version_says_to_update() -> None:
    with pytest.raises(FileUnreadableError, match=r"later version .*version 2, .*up to 1\): update"):
        parse_flight(LOG.replace(b"log 1", b"log 2", 1), "f")


@pytest.mark.parametrize("version", [b"", b"one", b"9" * 5000])
def test_a_log_whose_version_cannot_be_read_says_so(version: bytes) -> None:
    with pytest.raises(FileUnreadableError, match="version cannot be read"):
        parse_flight(LOG.replace(b"log 1", b"log " + version, 1), "f")
