import errno
from pathlib import Path

import pytest
import serial

from station.errors import PortBusyError, PortError, PortForbiddenError, PortMissingError, StationError
from station.port_errors import holders_of, port_error

termios = pytest.importorskip("termios")

FOREIGN = [
    (FileNotFoundError(errno.ENOENT, "No such file or directory"), PortMissingError),
    (serial.SerialException(errno.ENOENT, "could not open port"), PortMissingError),
    (OSError(errno.EIO, "Input/output error"), PortMissingError),
    (OSError(errno.EBUSY, "Device or resource busy"), PortBusyError),
    (serial.SerialException(errno.EAGAIN, "Could not exclusively lock port"), PortBusyError),
    (PermissionError(errno.EACCES, "Permission denied"), PortForbiddenError),
    (termios.error(errno.ENOTTY, "Inappropriate ioctl for device"), PortError),
    (termios.error(errno.EINVAL, "Invalid argument"), PortError),
    (serial.SerialException("Could not configure port: (5, 'Input/output error')"), PortMissingError),
    (serial.SerialException("could not open port 'COM3': FileNotFoundError(2, 'x', None, 2)"), PortMissingError),
    (serial.SerialException("device reports readiness to read but returned no data"), PortError),
    (serial.SerialTimeoutException("Write timeout"), PortError),
    (ValueError("Invalid baud rate: 'x'"), PortError),
    (OverflowError("too large"), PortError),
    (TypeError("'<=' not supported"), PortError),
    (RuntimeError(), PortError),
]


@pytest.mark.parametrize(("foreign", "ours"), FOREIGN, ids=lambda value: repr(value))
def test_every_foreign_error_becomes_one_line_of_ours(foreign: Exception, ours: type[PortError]) -> None:
    error = port_error("/dev/ttyUSB9", foreign)
    assert type(error) is ours
    assert "/dev/ttyUSB9" in str(error)
    assert "\n" not in str(error)
    assert len(str(error)) < 400


@pytest.mark.parametrize(
    ("foreign", "ours"),
    [
        (ConnectionRefusedError(errno.ECONNREFUSED, "Connection refused"), PortMissingError),
        (TimeoutError("timed out"), PortMissingError),
        (OSError(-2, "Name or service not known"), PortMissingError),
        (ValueError("invalid URL"), PortError),
    ],
)
def test_an_address_that_cannot_be_reached_is_one_line_of_ours(foreign: Exception, ours: type[PortError]) -> None:
    try:
        try:
            raise foreign
        except Exception:
            raise serial.SerialException("Could not open port") from None  # as the library does: the cause is hidden
    except serial.SerialException as caught:
        error = port_error("socket://field:4000", caught if ours is not PortError else foreign)
    assert type(error) is ours
    assert "socket://field:4000" in str(error)


def test_a_forbidden_port_names_its_group_and_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    grp = pytest.importorskip("grp")

    class Entry:
        gr_name = "dialout"

    device = tmp_path / "ttyUSB0"
    device.write_text("")
    monkeypatch.setattr(grp, "getgrgid", lambda _number: Entry)
    message = str(port_error(str(device), PermissionError(errno.EACCES, "Permission denied")))
    assert "group dialout" in message
    assert "sudo usermod -aG dialout $USER, then log out and in again" in message
    Entry.gr_name = "root"
    assert "usermod" not in str(port_error(str(device), PermissionError(errno.EACCES, "Permission denied")))


def test_the_holder_of_a_device_is_found_among_the_processes(tmp_path: Path) -> None:
    device = tmp_path / "ttyUSB0"
    device.write_text("")
    link = tmp_path / "receiver"
    link.symlink_to(device)
    for number, name, target in ((7, "logger", device), (8, "editor", tmp_path / "other"), (120, "viewer", device)):
        folder = tmp_path / "proc" / str(number) / "fd"
        folder.mkdir(parents=True)
        (folder.parent / "comm").write_text(name + "\n")
        (folder / "3").symlink_to(target)
    (tmp_path / "proc" / "9").mkdir()  # one that has just ended
    assert holders_of(str(link), tmp_path / "proc") == ["logger (process 7)", "viewer (process 120)"]


def test_a_system_without_a_list_of_processes_names_no_holder(tmp_path: Path) -> None:
    assert holders_of("/dev/ttyUSB0", tmp_path / "no proc") == []


def test_a_port_without_a_name_says_so() -> None:
    assert isinstance(port_error("", OSError(errno.ENOENT, "x")), StationError)
    assert "no name" in str(port_error("", OSError(errno.ENOENT, "x")))
