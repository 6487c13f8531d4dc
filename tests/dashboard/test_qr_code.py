"""Checked against the library `qrcode`, an independent maker of QR codes (ISO/IEC 18004)."""

import pytest
from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_M
from qrcode.util import MODE_8BIT_BYTE, QRData

from dashboard.qr_code import qr_lines, qr_modules

TEXTS = [
    "a",
    "http://10.0.0.2:8050/watch",
    "http://192.168.178.123:8050/watch",
    "z" * 42,
    "y" * 62,
    "x" * 84,
    "w" * 106,
]


@pytest.mark.parametrize("text", TEXTS)
def test_symbol_is_module_for_module_that_of_an_independent_maker(text):
    ours = [list(row) for row in qr_modules(text)]
    theirs = []
    for mask in range(8):
        symbol = QRCode((len(ours) - 17) // 4, ERROR_CORRECT_M, border=0, mask_pattern=mask)
        symbol.add_data(QRData(text.encode(), mode=MODE_8BIT_BYTE))
        symbol.make(fit=False)
        theirs.append([list(map(bool, row)) for row in symbol.modules])
    assert ours in theirs


@pytest.mark.parametrize(
    ("length", "version"), [(14, 1), (15, 2), (26, 2), (27, 3), (42, 3), (62, 4), (84, 5), (106, 6)]
)
def test_the_smallest_version_that_holds_the_text_is_taken(length, version):
    # Byte capacities at level M: ISO/IEC 18004, table of data capacities (from memory).
    assert len(qr_modules("q" * length)) == 17 + 4 * version


def test_a_text_that_is_too_long_is_refused():
    with pytest.raises(ValueError, match="107 bytes"):
        qr_modules("q" * 107)


def test_terminal_form_has_the_symbol_in_half_blocks_with_its_quiet_zone():
    modules = qr_modules("http://10.0.0.2:8050/watch")
    lines = qr_lines("http://10.0.0.2:8050/watch")
    size = len(modules)
    assert {len(line) for line in lines} == {size + 8}
    assert lines[0] == lines[1] == "█" * (size + 8)
    light = {"█": (True, True), "▀": (True, False), "▄": (False, True), " ": (False, False)}
    unfolded = [[light[char][half] for char in line] for line in lines for half in (0, 1)]
    assert [[not unfolded[y + 4][x + 4] for x in range(size)] for y in range(size)] == [list(row) for row in modules]
