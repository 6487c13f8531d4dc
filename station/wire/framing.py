"""Cuts a stream of bytes into lines, whatever sizes the bytes come in."""

from station.wire.fields import MAX_FRAME_BYTES

MAX_PIECE_BYTES = 512
"""A stretch without LF is handed on in pieces no longer than this, so that noise cannot fill the memory."""


class LineFramer:
    """Bytes in at any cut, whole lines out (without the LF, with a CR as it came).

    The lines depend on the bytes alone, never on how they were cut into reads. A line of more than
    `MAX_PIECE_BYTES` comes out in pieces; a piece ends just before the last `@` that may be the start of a
    frame still coming in, so that noise without an LF cannot cost the good line behind it.
    """

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, data: bytes) -> list[bytes]:
        """Take the next bytes; returns the lines that are now complete, in order."""
        *ended, unfinished = (self._rest + data).split(b"\n")
        lines: list[bytes] = []
        for stretch in ended:
            lines.append(_take_pieces(stretch, lines))
        self._rest = _take_pieces(unfinished, lines)
        return lines

    def flush(self) -> list[bytes]:
        """What is left when the stream has ended: one unfinished line, or nothing."""
        rest, self._rest = self._rest, b""
        return [rest] if rest else []


def _take_pieces(stretch: bytes, lines: list[bytes]) -> bytes:
    """Move whole pieces of an overlong stretch to `lines`; returns what is left of it."""
    start = 0
    while len(stretch) - start > MAX_PIECE_BYTES:
        end = start + MAX_PIECE_BYTES
        frame_start = stretch.rfind(b"@", max(start + 1, end - MAX_FRAME_BYTES), end)
        if frame_start != -1:
            end = frame_start
        lines.append(stretch[start:end])
        start = end
    return stretch[start:] if start else stretch
