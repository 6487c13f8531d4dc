from dataclasses import dataclass

import pytest

from station.errors import PortChoiceError, PortError
from station.ports import PortDescription, choose_port, likely_ports, list_ports


@dataclass
class SystemPort:
    """As the operating system's list of ports has them."""

    device: str
    description: str | None = "n/a"
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None


BUILT_IN = SystemPort("/dev/ttyS0")
RADIO = SystemPort("/dev/ttyUSB1", "USB to  UART\nbridge", 0x10C4, 0xEA60, "0001")
OTHER = SystemPort("/dev/ttyACM0", "/dev/ttyACM0", 0x2341, 0x43)


def described(*ports: SystemPort) -> list[PortDescription]:
    return list_ports(lambda: ports)


def test_usb_ports_are_listed_first_and_are_the_likely_ones() -> None:
    ports = described(BUILT_IN, RADIO, OTHER)
    assert [port.name for port in ports] == ["/dev/ttyACM0", "/dev/ttyUSB1", "/dev/ttyS0"]
    assert likely_ports(ports) == ports[:2]


def test_a_description_is_one_line_and_left_out_if_it_says_nothing() -> None:
    assert [str(port) for port in described(BUILT_IN, RADIO, OTHER)] == [
        "/dev/ttyACM0",
        "/dev/ttyUSB1 (USB to UART bridge)",
        "/dev/ttyS0",
    ]


def test_this_computers_own_ports_can_be_listed() -> None:
    assert all(port.name for port in list_ports())


@pytest.mark.parametrize("foreign", [OSError(5, "Input/output error"), RuntimeError("no bus"), ImportError("x")])
def test_a_system_that_cannot_list_its_ports_is_an_error_of_ours(foreign: Exception) -> None:
    def fail() -> list[SystemPort]:
        raise foreign

    with pytest.raises(PortError, match="cannot be listed"):
        list_ports(fail)


def test_a_named_port_is_taken_without_a_look() -> None:
    def never() -> list[PortDescription]:
        raise AssertionError

    assert choose_port("COM7", never) == "COM7"


def test_the_only_likely_port_is_taken() -> None:
    assert choose_port(None, lambda: described(BUILT_IN, RADIO)) == "/dev/ttyUSB1"


def test_of_several_likely_ports_the_user_chooses() -> None:
    with pytest.raises(PortChoiceError, match=r"/dev/ttyACM0, /dev/ttyUSB1 \(USB.*station live /dev/ttyACM0"):
        choose_port(None, lambda: described(BUILT_IN, RADIO, OTHER))


def test_with_no_likely_port_the_others_are_named() -> None:
    with pytest.raises(PortChoiceError, match=r"plug the receiver in.*other ports: /dev/ttyS0\."):
        choose_port(None, lambda: described(BUILT_IN))
    with pytest.raises(PortChoiceError, match=r"station live PORT\.$"):
        choose_port(None, lambda: [])
