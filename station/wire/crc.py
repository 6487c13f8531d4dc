"""The checksum of the wire: CRC-16/IBM-3740."""

from binascii import crc_hqx


def crc16(data: bytes) -> int:
    """CRC-16/IBM-3740 of `data`: polynomial 0x1021, start 0xFFFF, not reflected, no final xor.

    Check value for ``123456789`` is 0x29B1 (published catalogue of parametrised CRC algorithms). The standard
    library's `crc_hqx` is the same polynomial with the start value left to the caller.
    """
    return crc_hqx(data, 0xFFFF)
