"""The wire protocol: bytes to lines, lines to records, records to lines. `PROTOCOL.md` describes it.

Pure: no port, file, clock or thread. Nothing that comes over the wire may raise here.
"""

from station.wire.crc import crc16
from station.wire.decoding import decode_line, noise_before
from station.wire.encoding import encode
from station.wire.framing import MAX_PIECE_BYTES, LineFramer

__all__ = ["MAX_PIECE_BYTES", "LineFramer", "crc16", "decode_line", "encode", "noise_before"]
