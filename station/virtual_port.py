"""A serial port that is not there: another program opens it by name and reads what a virtual altimeter sends.

A pseudo-terminal where the system has them, else a socket on this machine, which pyserial opens by URL.
"""

import os
import select
import socket
import sys
import time
from collections.abc import Callable
from contextlib import suppress

from station.errors import PortError

# How long a program that has just opened the port may take to set it up; what comes before that it throws away.
_SETTLE_S = 0.3
_LOOK_UP_S = 0.05


class PseudoTerminal:
    """A pseudo-terminal in raw mode; `port_name` is what the reader opens.

    Once a reader has come, its side is kept open here too, so that readers may come and go. What is sent while
    nobody reads fills the system's buffer (some kilobytes), and then is refused.
    """

    def __init__(self) -> None:
        import tty  # not on Windows

        try:
            self._sender_fd, self._reader_fd = os.openpty()
        except OSError as error:
            raise PortError(
                f"this system gives no pseudo-terminal ({error.strerror}): use --to stdout, a file or a port"
            ) from error
        tty.setraw(self._reader_fd)
        os.set_blocking(self._sender_fd, False)
        self.port_name = os.ttyname(self._reader_fd)
        self._rest = b""

    def wait_for_reader(self, wait_s: Callable[[float], bool]) -> bool:
        """Wait until a program has opened the port; False if `wait_s` says stop before.

        Only Linux tells when one has; elsewhere this does not wait.
        """
        if sys.platform != "linux":
            return True
        poller = select.poll()
        poller.register(self._sender_fd, 0)
        os.close(self._reader_fd)  # while this was the last reader, the sender's side is "hung up"
        try:
            while any(event & select.POLLHUP for _, event in poller.poll(0)):
                if wait_s(_LOOK_UP_S):
                    return False
        finally:
            self._reader_fd = os.open(self.port_name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        return not wait_s(_SETTLE_S)

    def send(self, data: bytes, patience_s: float) -> bool:
        """Take all of `data`, or nothing if the buffer stays full for `patience_s`."""
        give_up_s = time.monotonic() + patience_s
        while self._rest:
            if not self._write_rest(give_up_s):
                return False
        self._rest = data
        while self._rest and self._write_rest(give_up_s):
            pass
        if len(self._rest) == len(data):
            self._rest = b""
            return not data
        return True

    def finish(self, patience_s: float, wait_s: Callable[[float], bool]) -> None:
        """Wait until the reader has taken everything, for `patience_s` at most, or until `wait_s` says stop."""
        import fcntl
        import termios

        give_up_s = time.monotonic() + patience_s
        while time.monotonic() < give_up_s and not wait_s(0.01):
            if self._rest:
                self._write_rest(0.0)
            elif not int.from_bytes(fcntl.ioctl(self._reader_fd, termios.FIONREAD, b"\0" * 4), sys.byteorder):
                return

    def close(self) -> None:
        """Take the port away from its reader."""
        os.close(self._sender_fd)
        os.close(self._reader_fd)

    def _write_rest(self, give_up_s: float) -> bool:
        """Write some of what is left; False if nothing could be written in time."""
        try:
            written = os.write(self._sender_fd, self._rest)
        except BlockingIOError:
            patience_s = give_up_s - time.monotonic()
            if patience_s <= 0.0:
                return False
            select.select([], [self._sender_fd], [], patience_s)
            return True
        self._rest = self._rest[written:]
        return True


class LocalSocket:
    """A TCP port of this machine alone, for one reader at a time; what is sent while nobody reads is lost."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.setblocking(False)
        self.port_name = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"
        self._reader: socket.socket | None = None

    def wait_for_reader(self, wait_s: Callable[[float], bool]) -> bool:
        """Wait until a program has connected; False if `wait_s` says stop before."""
        while not self._take_arrival():
            if wait_s(_LOOK_UP_S):
                return False
        return True

    def send(self, data: bytes, patience_s: float) -> bool:
        """Take all of `data`, or answer False if nobody is connected within `patience_s`."""
        give_up_s = time.monotonic() + patience_s
        while True:
            if self._take_arrival() and self._reader is not None:
                try:
                    self._reader.settimeout(max(0.01, give_up_s - time.monotonic()))
                    self._reader.sendall(data)
                    return True
                except OSError:
                    self._drop_reader()
            patience_s = give_up_s - time.monotonic()
            if patience_s <= 0.0:
                return False
            select.select([self._listener], [], [], patience_s)

    def finish(self, patience_s: float, wait_s: Callable[[float], bool]) -> None:
        """Nothing to wait for: what was sent stays readable after the end."""

    def close(self) -> None:
        """Take the port away from its reader."""
        self._drop_reader()
        self._listener.close()

    def _take_arrival(self) -> bool:
        """Let a reader who has just come take the place of the last; whether there is one now."""
        with suppress(BlockingIOError):
            arrived, _ = self._listener.accept()
            self._drop_reader()
            self._reader = arrived
        return self._reader is not None

    def _drop_reader(self) -> None:
        if self._reader is not None:
            self._reader.close()
            self._reader = None


def open_virtual_port() -> PseudoTerminal | LocalSocket:
    """The best this system has. Raises PortError if it has nothing left to give."""
    return PseudoTerminal() if hasattr(os, "openpty") else LocalSocket()
