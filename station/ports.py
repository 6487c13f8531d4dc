"""Which serial ports this computer has, and which of them the receiver is likely to be."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from serial.tools.list_ports import comports

from station.errors import PortChoiceError, PortError


@dataclass(frozen=True, slots=True)
class PortDescription:
    """A serial port as the system describes it; `usb_id` tells one USB device from another."""

    name: str
    description: str
    usb_id: tuple[int, int, str] | None

    @property
    def is_likely(self) -> bool:
        """Whether a receiver is likely to be behind it: it is a USB device. Built-in ports seldom have one."""
        return self.usb_id is not None

    def __str__(self) -> str:
        return f"{self.name} ({self.description})" if self.description else self.name


ListPorts = Callable[[], list[PortDescription]]


def list_ports(comports: Callable[[], Iterable[Any]] = comports) -> list[PortDescription]:
    """Every serial port of this computer, likely ones first. Raises PortError if the system will not tell."""
    try:
        found = [_described(port) for port in comports()]
    except Exception as error:  # whatever the system's own tools raise
        raise PortError(
            f"the ports of this computer cannot be listed ({error}): name one, as the system does."
        ) from error
    return sorted(found, key=lambda port: (not port.is_likely, port.name))


def likely_ports(ports: Iterable[PortDescription]) -> list[PortDescription]:
    """Those behind which a receiver is likely."""
    return [port for port in ports if port.is_likely]


def choose_port(named: str | None, ports: ListPorts = list_ports) -> str:
    """The port that was named, or the only likely one. Raises PortChoiceError if there is none or several."""
    if named is not None:
        return named
    found = ports()
    likely = likely_ports(found)
    if len(likely) == 1:
        return likely[0].name
    if likely:
        listed = ", ".join(map(str, likely))
        raise PortChoiceError(f"several ports may be the receiver: {listed}. Name one: station live {likely[0].name}")
    others = f" This computer's other ports: {', '.join(port.name for port in found)}." if found else ""
    raise PortChoiceError(
        "no USB serial port is plugged in: plug the receiver in (some cables only charge: try another), or name "
        f"the port: station live PORT.{others}"
    )


def _described(port: Any) -> PortDescription:
    usb_id = None if port.vid is None else (int(port.vid), int(port.pid or 0), str(port.serial_number or ""))
    description = "" if port.description in (None, "n/a", port.device) else str(port.description)
    return PortDescription(str(port.device), " ".join(description.split()), usb_id)
