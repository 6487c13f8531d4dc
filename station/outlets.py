"""Where a virtual altimeter can send to, beside a virtual port: an open stream, a file, a real port."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

import serial

from station.errors import FileUnreadableError, PortError
from station.flight_log.entries import VERSION_PREFIX
from station.port_errors import port_error

_STUCK_S = 10.0


class StreamOutlet:
    """An open binary stream, which takes everything; `flush_each` for a reader who follows along."""

    def __init__(self, stream: BinaryIO, *, flush_each: bool) -> None:
        self._stream = stream
        self._flush_each = flush_each

    def send(self, data: bytes, patience_s: float) -> bool:
        """Write `data`."""
        self._stream.write(data)
        if self._flush_each:
            self._stream.flush()
        return True

    def finish(self, patience_s: float, wait_s: Callable[[float], bool]) -> None:
        """See to it that everything is out."""
        self._stream.flush()

    def close(self) -> None:
        """Leave the stream to whoever opened it."""


class FileOutlet(StreamOutlet):
    """A file, begun anew. Raises FileUnreadableError if it cannot be, or if it holds a recorded flight."""

    def __init__(self, path: Path, *, flush_each: bool) -> None:
        try:
            if path.is_file() and _starts_as_a_log(path):
                raise FileUnreadableError(
                    f"{path} is a recorded flight and is not written over: name another file after --to"
                )
            self._file = path.open("wb")
        except OSError as error:
            raise FileUnreadableError(
                f"{path}: cannot write it: {error.strerror or error}: name another file after --to"
            ) from error
        super().__init__(self._file, flush_each=flush_each)

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def _starts_as_a_log(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(VERSION_PREFIX)) == VERSION_PREFIX


class PortOutlet:
    """A serial port, or any URL that pyserial opens. Raises PortError if it cannot be opened."""

    def __init__(self, name: str, baud: int) -> None:
        try:
            self._port: Any = serial.serial_for_url(name, baudrate=baud, write_timeout=_STUCK_S)
        except (OSError, ValueError) as error:
            raise port_error(name, error) from error
        self._name = name

    def send(self, data: bytes, patience_s: float) -> bool:
        """Write `data`; a port takes what it is given. Raises PortError if it has gone or takes nothing."""
        try:
            self._port.write(data)
        except OSError as error:
            raise PortError(f"{self._name}: cannot send to it any more: {error}: is it still plugged in?") from error
        return True

    def finish(self, patience_s: float, wait_s: Callable[[float], bool]) -> None:
        """Wait until the last byte has left."""
        try:
            self._port.flush()
        except OSError as error:
            raise PortError(f"{self._name}: cannot send to it any more: {error}: is it still plugged in?") from error

    def close(self) -> None:
        """Give the port back."""
        self._port.close()
