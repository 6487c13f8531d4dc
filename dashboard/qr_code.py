"""QR codes for short texts such as the page's address. Pure.

Written from ISO/IEC 18004 (QR Code bar code symbology): byte mode, error correction level M, versions 1 to 6
(up to 106 bytes). The figures are from memory; the tests check them against an independent maker of symbols.
"""

from collections.abc import Iterable

Modules = tuple[tuple[bool, ...], ...]
"""Rows of modules, True is dark."""

# For versions 1 to 6 at level M: codewords of error correction a block, and data codewords of each block.
_BLOCKS: dict[int, tuple[int, tuple[int, ...]]] = {
    1: (10, (16,)),
    2: (16, (28,)),
    3: (26, (44,)),
    4: (18, (32, 32)),
    5: (24, (43, 43)),
    6: (16, (27, 27, 27, 27)),
}
_LEVEL_M = 0b00
_PADDING = (0xEC, 0x11)
_FINDER_PENALTY = ((1, 0, 1, 1, 1, 0, 1, 0, 0, 0, 0), (0, 0, 0, 0, 1, 0, 1, 1, 1, 0, 1))


def qr_modules(text: str) -> Modules:
    """The symbol of `text`, without its quiet zone (four light modules all round). Raises ValueError if too long."""
    data = text.encode("utf-8")
    version = next((v for v, (_, blocks) in _BLOCKS.items() if len(data) <= sum(blocks) - 2), None)
    if version is None:
        raise ValueError(f"{len(data)} bytes are too many for a small QR code")
    bits = _bits(_codewords(data, version))
    candidates = (_symbol(version, bits, mask) for mask in range(8))
    return min(candidates, key=_penalty)


def qr_lines(text: str) -> list[str]:
    """The symbol for a terminal, two rows of modules a line, quiet zone included, dark on light."""
    modules = qr_modules(text)
    size = len(modules)

    def dark(row: int, column: int) -> bool:
        return 0 <= row < size and 0 <= column < size and modules[row][column]

    blocks = {(False, False): "█", (True, False): "▄", (False, True): "▀", (True, True): " "}
    return [
        "".join(blocks[dark(row, column), dark(row + 1, column)] for column in range(-4, size + 4))
        for row in range(-4, size + 4, 2)
    ]


# -- the bits ------------------------------------------------------------------------------------------------------


def _codewords(data: bytes, version: int) -> list[int]:
    ec_length, blocks = _BLOCKS[version]
    capacity = sum(blocks)
    bits = f"0100{len(data):08b}" + "".join(f"{byte:08b}" for byte in data)
    bits += "0" * min(4, 8 * capacity - len(bits))
    bits += "0" * (-len(bits) % 8)
    words = [int(bits[i : i + 8], 2) for i in range(0, len(bits), 8)]
    words += [_PADDING[i % 2] for i in range(capacity - len(words))]
    parts: list[list[int]] = []
    start = 0
    for length in blocks:
        parts.append(words[start : start + length])
        start += length
    checks = [_error_correction(part, ec_length) for part in parts]
    return [*_interleaved(parts), *_interleaved(checks)]


def _interleaved(parts: list[list[int]]) -> list[int]:
    return [part[i] for i in range(max(map(len, parts))) for part in parts if i < len(part)]


def _bits(codewords: Iterable[int]) -> list[bool]:
    return [bool(word >> shift & 1) for word in codewords for shift in range(7, -1, -1)]


def _times(a: int, b: int) -> int:
    """Product in GF(256) with the standard's polynomial x^8 + x^4 + x^3 + x^2 + 1."""
    product = 0
    while b:
        if b & 1:
            product ^= a
        a = a << 1 ^ (0x11D if a & 0x80 else 0)
        b >>= 1
    return product


def _error_correction(words: list[int], length: int) -> list[int]:
    """Reed-Solomon check words: the remainder by (x - 1)(x - 2)(x - 4)..."""
    generator = [1]
    root = 1
    for _ in range(length):
        shifted = [*generator, 0]
        generator = [a ^ _times(b, root) for a, b in zip(shifted, [0, *generator], strict=True)]
        root = _times(root, 2)
    remainder = [0] * length
    for word in words:
        factor = word ^ remainder[0]
        remainder = [a ^ _times(g, factor) for a, g in zip([*remainder[1:], 0], generator[1:], strict=True)]
    return remainder


# -- the symbol ----------------------------------------------------------------------------------------------------


def _symbol(version: int, bits: list[bool], mask: int) -> Modules:
    size = 17 + 4 * version
    fixed: dict[tuple[int, int], bool] = {}
    _draw_timing(fixed, size)
    for row, column in ((3, 3), (3, size - 4), (size - 4, 3)):
        _draw_square(fixed, row, column, 4, size)
    if version > 1:
        _draw_square(fixed, size - 7, size - 7, 2, size)
    _draw_format(fixed, size, mask)
    modules = [[fixed.get((row, column), False) for column in range(size)] for row in range(size)]
    for (row, column), bit in zip(_path(fixed, size), [*bits, *([False] * 7)], strict=False):
        modules[row][column] = bit ^ _masked(mask, row, column)
    return tuple(map(tuple, modules))


def _draw_timing(fixed: dict[tuple[int, int], bool], size: int) -> None:
    for i in range(size):
        fixed[6, i] = fixed[i, 6] = i % 2 == 0


def _draw_square(fixed: dict[tuple[int, int], bool], row: int, column: int, reach: int, size: int) -> None:
    """A finder pattern with its separator (reach 4) or an alignment pattern (reach 2)."""
    for y in range(-reach, reach + 1):
        for x in range(-reach, reach + 1):
            if 0 <= row + y < size and 0 <= column + x < size:
                ring = max(abs(x), abs(y))
                fixed[row + y, column + x] = ring not in (2, 4) if reach == 4 else ring != 1


def _draw_format(fixed: dict[tuple[int, int], bool], size: int, mask: int) -> None:
    """Level and mask with their BCH(15,5) check, twice; and the dark module."""
    value = _LEVEL_M << 3 | mask
    rest = value << 10
    for shift in range(4, -1, -1):
        if rest >> (10 + shift) & 1:
            rest ^= 0b10100110111 << shift
    word = (value << 10 | rest) ^ 0b101010000010010
    first = [*((8, i) for i in (0, 1, 2, 3, 4, 5, 7, 8)), *((i, 8) for i in (7, 5, 4, 3, 2, 1, 0))]
    second = [*((size - 1 - i, 8) for i in range(7)), *((8, size - 8 + i) for i in range(8))]
    for i in range(15):
        bit = bool(word >> (14 - i) & 1)
        fixed[first[i]] = fixed[second[i]] = bit
    fixed[size - 8, 8] = True


def _path(fixed: dict[tuple[int, int], bool], size: int) -> Iterable[tuple[int, int]]:
    """The free modules in the order in which bits are placed: two columns at a time, up and down from the right."""
    columns = [c for c in range(size - 1, 0, -2) if c > 6] + [5, 3, 1]
    for turn, right in enumerate(columns):
        rows = range(size - 1, -1, -1) if turn % 2 == 0 else range(size)
        for row in rows:
            for column in (right, right - 1):
                if (row, column) not in fixed:
                    yield row, column


def _masked(mask: int, i: int, j: int) -> bool:
    return (
        (i + j) % 2,
        i % 2,
        j % 3,
        (i + j) % 3,
        (i // 2 + j // 3) % 2,
        i * j % 2 + i * j % 3,
        (i * j % 2 + i * j % 3) % 2,
        ((i + j) % 2 + i * j % 3) % 2,
    )[mask] == 0


def _penalty(modules: Modules) -> int:
    """How hard a symbol is to read by the standard's four rules: runs, blocks, finder look-alikes, balance."""
    size = len(modules)
    lines = [*modules, *zip(*modules, strict=True)]
    total = 0
    for line in lines:
        run = 1
        for before, after in zip(line, [*line[1:], None], strict=True):
            if before == after:
                run += 1
            else:
                total += run - 2 if run >= 5 else 0
                run = 1
        total += 40 * sum(tuple(line[i : i + 11]) in _FINDER_PENALTY for i in range(size - 10))
    for row in range(size - 1):
        for column in range(size - 1):
            block = {modules[row + y][column + x] for y in (0, 1) for x in (0, 1)}
            total += 3 if len(block) == 1 else 0
    dark = sum(map(sum, modules))
    return total + 10 * int(abs(20 * dark - 10 * size * size) // (size * size))
