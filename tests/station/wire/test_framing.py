import random

import pytest

from station.records import SampleRecord
from station.wire import MAX_PIECE_BYTES, LineFramer, crc16, decode_line, encode

SAMPLE = SampleRecord(7, 490, 101312.4, 18.62, 9.79)
FRAME = encode(SAMPLE)


def frame_all(data: bytes) -> list[bytes]:
    framer = LineFramer()
    return framer.feed(data) + framer.flush()


def one_byte_at_a_time(data: bytes) -> list[bytes]:
    framer = LineFramer()
    lines = []
    for index in range(len(data)):
        lines += framer.feed(data[index : index + 1])
    return lines + framer.flush()


def random_stream(rng: random.Random) -> bytes:
    pieces = []
    for _ in range(rng.randrange(1, 12)):
        match rng.randrange(6):
            case 0:
                pieces.append(rng.randbytes(rng.randrange(0, 1500)))
            case 1:
                pieces.append(b"\xff" * rng.randrange(0, 1500))
            case 2:
                pieces.append(b"@" * rng.randrange(0, 700))
            case 3:
                pieces.append(b"\r\n" * rng.randrange(0, 3))
            case _:
                pieces.append(FRAME)
    return b"".join(pieces)


def test_lines_end_at_lf_alone() -> None:
    assert frame_all(b"one\ntwo\x0b\x0c\x85still two\rand\r\nthree") == [
        b"one",
        b"two\x0b\x0c\x85still two\rand\r",
        b"three",
    ]


def test_an_empty_line_is_a_line() -> None:
    assert frame_all(b"\n\na\n") == [b"", b"", b"a"]


def test_an_unfinished_line_waits_for_its_end() -> None:
    framer = LineFramer()
    assert framer.feed(b"@SMP,1") == []
    assert framer.feed(b"") == []
    assert framer.feed(b",2\n@") == [b"@SMP,1,2"]
    assert framer.flush() == [b"@"]
    assert framer.flush() == []


@pytest.mark.parametrize("seed", range(150))
def test_lines_do_not_depend_on_how_the_bytes_were_cut(seed: int) -> None:
    rng = random.Random(seed)
    stream = random_stream(rng)
    framer = LineFramer()
    lines, rest = [], stream
    while rest:
        cut = rng.choice([1, 2, 7, rng.randrange(1, 600), len(rest)])
        lines += framer.feed(rest[:cut])
        rest = rest[cut:]
    lines += framer.flush()
    assert lines == frame_all(stream) == one_byte_at_a_time(stream)


@pytest.mark.parametrize("seed", range(150))
def test_every_byte_but_the_lf_is_handed_on_once_and_no_piece_is_too_long(seed: int) -> None:
    stream = random_stream(random.Random(1000 + seed))
    lines = frame_all(stream)
    assert b"".join(lines) == stream.replace(b"\n", b"")
    assert max(map(len, lines), default=0) <= MAX_PIECE_BYTES


def test_a_line_of_exactly_the_longest_piece_stays_whole() -> None:
    assert frame_all(b"x" * MAX_PIECE_BYTES + b"\n") == [b"x" * MAX_PIECE_BYTES]
    assert [len(line) for line in frame_all(b"x" * (MAX_PIECE_BYTES + 1) + b"\n")] == [MAX_PIECE_BYTES, 1]


@pytest.mark.parametrize("ending", [b"\n", b"\r\n"])
def test_a_good_line_behind_noise_of_any_length_is_found(ending: bytes) -> None:
    longest = b"@SMP,7,490,101312.4,18.62,9.79," + b"f" * 84
    longest += b"*%04X" % crc16(longest[1:])
    assert len(longest) == 120
    for noise in range(1200):
        for frame in (FRAME.strip(), longest):
            lines = frame_all(b"\xfe" * noise + frame + ending)
            assert [record for line in lines if isinstance(record := decode_line(line), SampleRecord)] == [SAMPLE]


def test_noise_without_an_end_does_not_pile_up() -> None:
    framer = LineFramer()
    handed_on = sum(len(line) for _ in range(1000) for line in framer.feed(b"\x00" * 4096))
    assert 1000 * 4096 - handed_on <= MAX_PIECE_BYTES


def test_a_piece_ends_before_the_last_start_in_its_last_120_bytes() -> None:
    assert [len(line) for line in frame_all(b"x" * 392 + b"@" + b"x" * 49 + b"@" + b"x" * 500)] == [442, 501]
    assert [len(line) for line in frame_all(b"x" * 391 + b"@" + b"x" * 500)] == [512, 380]
