"""Compiles the C sender with the system's compiler and reads back what it wrote."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

import station.wire
from station.records import ChannelRecord, ChannelState, FixRecord, Role, SampleRecord, UnitRecord
from station.wire import decode_line

SOURCE_FOLDER = Path(station.wire.__file__).parent
STRICT = ["-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror"]

PROGRAM = r"""
#include <stdio.h>
#include <string.h>
#include "sender.h"

#define SAY(call) do { \
    size_t n = (call); \
    printf("%zu %zu %u\n%s", n, strlen(line), (unsigned)s.seq, n ? line : "-\n"); \
} while (0)

int main(void)
{
    struct wire_sender s = {0};
    struct wire_channel ready = {WIRE_READY, 99}, fired = {WIRE_FIRED, 4294967295u};
    struct wire_channel open = {WIRE_OPEN, 0}, off = {WIRE_OFF, 0};
    char line[WIRE_LINE_SIZE], tight[WIRE_LINE_SIZE];
    size_t size, whole;
    SAY(wire_id(&s, line, sizeof line, 350, "BRAMBLE-2", 20, WIRE_DROGUE, WIRE_MAIN, 1524));
    SAY(wire_id(&s, line, sizeof line, 351, "a_b-C3", 100, WIRE_NONE, WIRE_NONE, WIRE_NOT_MEASURED));
    SAY(wire_smp(&s, line, sizeof line, 370, 1013124, 1862, 981));
    SAY(wire_smp(&s, line, sizeof line, 4294967295u, 1013124, -5, -100));
    SAY(wire_smp(&s, line, sizeof line, 390, WIRE_NOT_MEASURED, WIRE_NOT_MEASURED, WIRE_NOT_MEASURED));
    SAY(wire_chn(&s, line, sizeof line, 1000, 8117, ready, fired));
    SAY(wire_chn(&s, line, sizeof line, 1001, WIRE_NOT_MEASURED, open, off));
    s.seq = 65535;
    SAY(wire_fix(&s, line, sizeof line, 18260, 482081743, -35010900, 12645, 9));
    SAY(wire_fix(&s, line, sizeof line, 18261, -900000000, 1800000000, -1, 0));
    /* Refused, and not counted. */
    SAY(wire_smp(&s, line, sizeof line, 1, 9999, 0, 0));
    SAY(wire_smp(&s, line, sizeof line, 1, 1013124, 0, 500001));
    SAY(wire_id(&s, line, sizeof line, 1, "two words", 20, WIRE_DROGUE, WIRE_MAIN, 0));
    SAY(wire_id(&s, line, sizeof line, 1, "ABCDEFGHIJKLMNOPQ", 20, WIRE_DROGUE, WIRE_MAIN, 0));
    SAY(wire_id(&s, line, sizeof line, 1, "", 20, WIRE_DROGUE, WIRE_MAIN, 0));
    SAY(wire_chn(&s, line, sizeof line, 1, -1, ready, ready));
    /* A buffer of any size is never overrun, and takes the line as soon as it fits. */
    s.seq = 0;
    whole = wire_smp(&s, line, sizeof line, 370, 1013124, 1862, 981);
    for (size = 0; size < sizeof tight; size++) {
        memset(tight, '#', sizeof tight);
        s.seq = 0;
        if (wire_smp(&s, tight, size, 370, 1013124, 1862, 981) != (size > whole ? whole : 0)) return 1;
        if (tight[size] != '#') return 2;
        if (size > whole && strcmp(tight, line) != 0) return 3;
    }
    return 0;
}
"""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, str]]:
    compiler = shutil.which("cc")
    if compiler is None:
        message = "no C compiler (cc) here: the C sender is NOT checked; install gcc or clang"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    folder = tmp_path_factory.mktemp("sender")
    (folder / "main.c").write_text(PROGRAM)
    sources = [str(folder / "main.c"), str(SOURCE_FOLDER / "sender.c")]
    build = subprocess.run(
        [compiler, *STRICT, f"-I{SOURCE_FOLDER}", *sources, "-o", str(folder / "send")],
        capture_output=True,
        text=True,
    )
    assert build.returncode == 0, build.stderr
    run = subprocess.run([str(folder / "send")], capture_output=True, text=True, timeout=30)
    assert run.returncode == 0, f"the sender's program ended with {run.returncode}"
    lines = run.stdout.split("\n")
    return list(zip(lines[0::2], lines[1::2], strict=False))


def test_the_decoder_reads_what_the_c_sender_writes(said: list[tuple[str, str]]) -> None:
    assert [decode_line(line.encode()) for _, line in said[:9]] == [
        UnitRecord(0, 350, 1, "BRAMBLE-2", 20, Role.DROGUE, Role.MAIN, 152.4),
        UnitRecord(1, 351, 1, "a_b-C3", 100, Role.NONE, Role.NONE, None),
        SampleRecord(2, 370, 101312.4, 18.62, 9.81),
        SampleRecord(3, 4294967295, 101312.4, -0.05, -1.0),
        SampleRecord(4, 390, None, None, None),
        ChannelRecord(5, 1000, 8117, ChannelState.READY, None, ChannelState.FIRED, 4294967295),
        ChannelRecord(6, 1001, None, ChannelState.OPEN, None, ChannelState.OFF, None),
        FixRecord(65535, 18260, 48.2081743, -3.50109, 1264.5, 9),
        FixRecord(0, 18261, -90.0, 180.0, -0.1, 0),
    ]


def test_the_c_sender_returns_the_length_and_counts_its_lines(said: list[tuple[str, str]]) -> None:
    for index, (numbers, line) in enumerate(said[:9]):
        length, string_length, next_seq = map(int, numbers.split())
        assert length == string_length == len(line) + 1
        assert next_seq == [1, 2, 3, 4, 5, 6, 7, 0, 1][index]


def test_the_c_sender_refuses_what_the_wire_forbids_and_does_not_count_it(
    said: list[tuple[str, str]],
) -> None:
    refused = [pair for pair in said[9:] if pair != ("", "")]
    assert [numbers for numbers, _ in refused if numbers] == ["0 0 1"] * 6
