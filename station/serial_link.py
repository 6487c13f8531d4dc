"""The serial port that lines come in by: opened, read, and taken up again when it comes back.

The station only listens: nothing here writes to the port.
"""

import select
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import serial

from station.errors import PortError, PortMissingError
from station.port_errors import port_error
from station.ports import ListPorts, PortDescription, choose_port, likely_ports, list_ports

__all__ = ["LinkChange", "PortDescription", "SerialLink", "choose_port", "likely_ports", "list_ports"]

DEFAULT_BAUD = 57_600
PATIENCE_S = 0.2
"""How long a read waits for the first byte."""

FIRST_RETRY_S, LAST_RETRY_S = 0.1, 1.0
_MOST_BYTES = 65_536
_BAUDS = range(50, 20_000_001)


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The port was lost, came back, or is awaited for another reason than before; `note` says so in a few words."""

    is_open: bool
    note: str


class SerialLink:
    """One port, given by its name or any URL that pyserial opens. For one thread.

    When the port vanishes `read` says so once, then tries to open it again, first often, then once a second. A
    USB device that comes back under another name is recognised by its identity.
    """

    def __init__(
        self,
        url: str,
        baud: int = DEFAULT_BAUD,
        *,
        opener: Callable[..., Any] = serial.serial_for_url,
        ports: ListPorts = list_ports,
        clock_s: Callable[[], float] = time.monotonic,
        sleep_s: Callable[[float], None] = time.sleep,
    ) -> None:
        """Raises PortError for a baud rate that no port has."""
        if baud not in _BAUDS:
            raise PortError(
                f"--baud {baud} is no rate of a serial port: give what the receiver sends with, such as 57600."
            )
        self._url = url
        self._baud = baud
        self._opener = opener
        self._ports = ports
        self._clock_s = clock_s
        self._sleep_s = sleep_s
        self._port: Any = None
        self._retry_s = FIRST_RETRY_S
        self._next_try_s = 0.0
        self._note = ""
        self._usb_id: tuple[int, int, str] | None = None
        self._neighbours: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        """The port as it was named, or as it is named since it came back elsewhere."""
        return self._url

    def open(self) -> None:
        """Open the port now. Raises PortMissingError, PortBusyError, PortForbiddenError or PortError."""
        if self._port is None:
            self._port = self._opened(self._url)
            self._remember_identity()

    def read(self) -> bytes | LinkChange:
        """The bytes that have come, b"" if none did for a moment, or what happened to the port. Never raises."""
        if self._port is None:
            return self._try_again()
        try:
            data = _bytes_from(self._port)
        except Exception:  # whatever pyserial, its drivers and the system raise
            return self._lose()
        if data:
            self._retry_s = FIRST_RETRY_S
        return data

    def close(self) -> None:
        """Give the port back. Never raises."""
        port, self._port = self._port, None
        if port is not None:
            # pyserial leaves a socket open when the other end has gone.
            inner = getattr(port, "_socket", None)
            for each in (port, inner):
                if each is not None:
                    with suppress(Exception):
                        each.close()

    def _opened(self, url: str) -> Any:
        options: dict[str, Any] = {"baudrate": self._baud, "timeout": PATIENCE_S}
        if "://" not in url:
            options["exclusive"] = True
        try:
            port = self._opener(url, **options)
            if _descriptor(port) is not None:
                port.timeout = 0
        except Exception as error:  # whatever pyserial, its drivers and the system raise
            raise port_error(url, error) from error
        return port

    def _lose(self) -> LinkChange:
        self.close()
        self._next_try_s = self._clock_s() + self._retry_s
        self._note = f"port lost: waiting for {self._url}"
        return LinkChange(False, self._note)

    def _try_again(self) -> bytes | LinkChange:
        wait_s = self._next_try_s - self._clock_s()
        if wait_s > 0.0:
            self._sleep_s(min(wait_s, PATIENCE_S))
            if self._clock_s() < self._next_try_s:
                return b""
        try:
            self._reopen()
        except PortError as error:
            self._retry_s = min(2.0 * self._retry_s, LAST_RETRY_S)
            self._next_try_s = self._clock_s() + self._retry_s
            note = f"waiting for {self._url}" if isinstance(error, PortMissingError) else str(error)
            if note in self._note:
                return b""
            self._note = note
            return LinkChange(False, note)
        self._note = ""
        self._retry_s = min(2.0 * self._retry_s, LAST_RETRY_S)  # until bytes come, in case it is lost at once
        return LinkChange(True, f"port back: {self._url}")

    def _reopen(self) -> None:
        try:
            self.open()
        except PortMissingError:
            moved = self._moved_to()
            if moved is None:
                raise
            self._port = self._opened(moved)
            self._url = moved

    def _remember_identity(self) -> None:
        try:
            ports = self._ports()
        except PortError:
            return
        own = next((port for port in ports if port.name == self._url), None)
        if own is not None and own.usb_id is not None:
            self._usb_id = own.usb_id
            self._neighbours = frozenset(port.name for port in ports) - {own.name}

    def _moved_to(self) -> str | None:
        """Where the USB device has come back under another name: only if there is no doubt."""
        if self._usb_id is None:
            return None
        try:
            found = [port.name for port in self._ports() if port.usb_id == self._usb_id]
        except PortError:
            return None
        new = [name for name in found if name not in self._neighbours and name != self._url]
        return new[0] if len(new) == 1 else None


def _bytes_from(port: Any) -> bytes:
    """What has come in, at once when the first byte is there; b"" after `PATIENCE_S` without any."""
    descriptor = _descriptor(port)
    if descriptor is not None:
        if not select.select([descriptor], [], [], PATIENCE_S)[0]:
            return b""
        return bytes(port.read(_MOST_BYTES))
    first = bytes(port.read(1))
    return first + bytes(port.read(port.in_waiting)) if first else b""


def _descriptor(port: Any) -> int | None:
    """What `select` can wait for, where the port has such a thing."""
    try:
        return int(port.fileno())
    except (AttributeError, OSError):
        return None
