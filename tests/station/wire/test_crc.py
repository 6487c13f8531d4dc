import random

import pytest

from station.wire import crc16

FRAME = b"SMP,1234,567890,101234.5,21.37,9.81,pad"  # 39 bytes
CODEWORD = FRAME + crc16(FRAME).to_bytes(2, "big")
BITS = 8 * len(CODEWORD)


def residue_after(error: int) -> int:
    """CRC of the codeword with the bits of `error` turned over; 0 means that the error goes unseen."""
    damaged = int.from_bytes(CODEWORD, "big") ^ error
    return crc16(damaged.to_bytes(len(CODEWORD), "big"))


def test_check_value_is_that_of_the_published_catalogue() -> None:
    # Published catalogue of parametrised CRC algorithms, entry CRC-16/IBM-3740: check 0x29B1.
    assert crc16(b"123456789") == 0x29B1


def test_empty_text_gives_the_start_value() -> None:
    assert crc16(b"") == 0xFFFF


def test_it_equals_the_polynomial_worked_bit_by_bit() -> None:
    def by_hand(data: bytes) -> int:
        register = 0xFFFF
        for byte in data:
            for bit in range(7, -1, -1):
                feedback = (register >> 15) ^ (byte >> bit & 1)
                register = (register << 1 & 0xFFFF) ^ (0x1021 if feedback else 0)
        return register

    rng = random.Random(3)
    for _ in range(200):
        data = rng.randbytes(rng.randrange(0, 120))
        assert crc16(data) == by_hand(data)


def test_crc_behind_the_text_leaves_no_residue() -> None:
    assert residue_after(0) == 0


def test_every_error_of_one_or_two_bits_is_seen() -> None:
    for first in range(BITS):
        assert residue_after(1 << first) != 0
        for second in range(first):
            assert residue_after(1 << first | 1 << second) != 0


@pytest.mark.parametrize("length", range(3, 17))
def test_every_place_of_a_burst_up_to_16_bits_is_seen(length: int) -> None:
    rng = random.Random(length)
    for place in range(BITS - length + 1):
        for _ in range(4):
            middle = rng.getrandbits(length - 2) << 1
            assert residue_after((1 << (length - 1) | middle | 1) << place) != 0


def test_the_generator_itself_is_the_known_error_that_goes_unseen() -> None:
    # x^16 + x^12 + x^5 + 1 is a multiple of itself: the limit of any CRC, and a check of the tests above.
    assert residue_after(0x11021 << 40) == 0
