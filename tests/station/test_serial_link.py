import errno
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import serial

from station.errors import PortBusyError, PortError, PortMissingError, StationError
from station.ports import PortDescription
from station.serial_link import LAST_RETRY_S, LinkChange, SerialLink

termios = pytest.importorskip("termios")


class Clock:
    """A clock that only sleeping moves."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, duration_s: float) -> None:
        self.now_s += duration_s


class FakePort:
    """A port that gives what it was told to, then raises what it was told to, then stays silent."""

    def __init__(self, *steps: bytes | Exception) -> None:
        self.steps = list(steps)
        self.closed = False
        self.rest = b""

    @property
    def in_waiting(self) -> int:
        return len(self.rest)

    def read(self, size: int) -> bytes:
        if not self.rest and self.steps:
            step = self.steps.pop(0)
            if isinstance(step, Exception):
                raise step
            self.rest = step
        data, self.rest = self.rest[:size], self.rest[size:]
        return data

    def close(self) -> None:
        self.closed = True


class Shelf:
    """What the opener finds at each try: a port, or an error."""

    def __init__(self, *found: FakePort | Exception) -> None:
        self.found = list(found)
        self.asked: list[str] = []
        self.times_s: list[float] = []
        self.clock = Clock()

    def open(self, url: str, **options: Any) -> FakePort:
        self.asked.append(url)
        self.times_s.append(self.clock.now_s)
        found = self.found.pop(0)
        if isinstance(found, Exception):
            raise found
        return found

    def link(self, url: str = "/dev/ttyUSB0", ports: Callable[[], list[PortDescription]] = list) -> SerialLink:
        return SerialLink(url, opener=self.open, ports=ports, clock_s=self.clock, sleep_s=self.clock.sleep)


def read_until(link: SerialLink, wanted: Callable[[bytes | LinkChange], bool]) -> bytes | LinkChange:
    for _ in range(10_000):
        result = link.read()
        if wanted(result):
            return result
    pytest.fail("the link never said what was waited for")


GONE = FileNotFoundError(errno.ENOENT, "No such file or directory")

FOREIGN = [
    serial.SerialException("device reports readiness to read but returned no data"),
    serial.PortNotOpenError(),
    OSError(errno.EIO, "Input/output error"),
    OSError(errno.ENXIO, "No such device or address"),
    termios.error(errno.EIO, "Input/output error"),
    ConnectionResetError(errno.ECONNRESET, "Connection reset by peer"),
    TypeError("an integer is required (got type NoneType)"),
    ValueError("file descriptor cannot be a negative integer (-1)"),
    RuntimeError("driver"),
]


@pytest.mark.parametrize("foreign", FOREIGN, ids=repr)
def test_no_foreign_error_leaves_open(foreign: Exception) -> None:
    with pytest.raises(PortError) as caught:
        Shelf(foreign).link().open()
    assert caught.value.__cause__ is foreign


@pytest.mark.parametrize("foreign", FOREIGN, ids=repr)
def test_no_foreign_error_leaves_read_and_the_port_is_taken_up_again(foreign: Exception) -> None:
    first = FakePort(b"abc", foreign)
    shelf = Shelf(first, GONE, foreign, FakePort(b"def"))
    link = shelf.link()
    link.open()
    assert link.read() == b"abc"
    assert link.read() == LinkChange(False, "port lost: waiting for /dev/ttyUSB0")
    assert first.closed
    back = read_until(link, lambda result: isinstance(result, LinkChange) and result.is_open)
    assert back == LinkChange(True, "port back: /dev/ttyUSB0")
    assert link.read() == b"def"


def test_tries_come_at_growing_intervals_up_to_a_second() -> None:
    shelf = Shelf(FakePort(OSError(errno.EIO, "gone")), *[GONE] * 8, FakePort())
    link = shelf.link()
    link.open()
    read_until(link, lambda result: isinstance(result, LinkChange) and result.is_open)
    waits = [later - earlier for earlier, later in zip(shelf.times_s, shelf.times_s[1:], strict=False)]
    assert waits == pytest.approx([0.1, 0.2, 0.4, 0.8, 1.0, 1.0, 1.0, 1.0, 1.0])
    assert max(waits) <= LAST_RETRY_S + 1e-9


def test_a_port_that_opens_but_gives_nothing_is_not_tried_ever_faster() -> None:
    dead = [FakePort(OSError(errno.EIO, "gone")) for _ in range(8)]
    shelf = Shelf(*dead, FakePort(b"x"))
    link = shelf.link()
    link.open()
    assert read_until(link, lambda result: result == b"x")
    assert shelf.times_s[-1] - shelf.times_s[-2] == pytest.approx(LAST_RETRY_S)


def test_while_waiting_only_a_new_reason_is_told() -> None:
    busy = OSError(errno.EBUSY, "Device or resource busy")
    shelf = Shelf(FakePort(OSError(errno.EIO, "gone")), GONE, GONE, busy, busy, GONE, FakePort())
    link = shelf.link()
    link.open()
    said: list[LinkChange] = []
    while not (said and said[-1].is_open):
        result = link.read()
        if isinstance(result, LinkChange):
            said.append(result)
    assert [change.note[:20] for change in said] == [
        "port lost: waiting f",
        "/dev/ttyUSB0 is in u",
        "waiting for /dev/tty",
        "port back: /dev/ttyU",
    ]


def usb(name: str, number: str = "A1") -> PortDescription:
    return PortDescription(name, "bridge", (0x10C4, 0xEA60, number))


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (["/dev/ttyUSB0"], ["/dev/ttyUSB1"], "/dev/ttyUSB1"),
        (["/dev/ttyUSB0"], ["/dev/ttyUSB1", "/dev/ttyUSB2"], None),
        (["/dev/ttyUSB0", "/dev/ttyUSB1"], ["/dev/ttyUSB1"], None),
        (["/dev/ttyUSB0"], [], None),
    ],
)
def test_a_usb_device_that_comes_back_under_another_name_is_known_again_if_there_is_no_doubt(
    before: list[str], after: list[str], expected: str | None
) -> None:
    listed = [usb(name) for name in before]
    shelf = Shelf(FakePort(OSError(errno.EIO, "gone")), GONE, FakePort() if expected else GONE, FakePort())
    link = shelf.link(ports=lambda: listed)
    link.open()
    link.read()
    listed = [usb(name) for name in after]
    read_until(link, lambda result: isinstance(result, LinkChange) and result.is_open)
    assert link.name == (expected or "/dev/ttyUSB0")
    assert set(shelf.asked) == {"/dev/ttyUSB0", link.name}


def test_another_device_is_not_taken_for_the_one_that_left() -> None:
    listed = [usb("/dev/ttyUSB0")]
    shelf = Shelf(FakePort(OSError(errno.EIO, "gone")), GONE, FakePort())
    link = shelf.link(ports=lambda: listed)
    link.open()
    link.read()
    listed = [usb("/dev/ttyUSB1", "B2")]
    read_until(link, lambda result: isinstance(result, LinkChange) and result.is_open)
    assert link.name == "/dev/ttyUSB0"


def test_a_link_that_was_never_opened_waits_for_its_port() -> None:
    link = Shelf(GONE, FakePort(b"x")).link()
    assert link.read() == LinkChange(False, "waiting for /dev/ttyUSB0")
    assert read_until(link, lambda result: isinstance(result, LinkChange)) == LinkChange(
        True, "port back: /dev/ttyUSB0"
    )


@pytest.mark.parametrize("baud", [0, -9600, 49, 10**9])
def test_a_rate_that_no_port_has_is_refused(baud: int) -> None:
    with pytest.raises(PortError, match=f"--baud {baud} "):
        SerialLink("/dev/ttyUSB0", baud)


@pytest.mark.parametrize(
    "url",
    [
        "/dev/no-such-port", "", "a\0b", "/dev/null", "nothing://here", "socket://", "socket://field", "hwgrep://zzzzz",
        "socket://127.0.0.1:99999", "rfc2217://127.0.0.1:0",
    ],
)  # fmt: skip
def test_a_port_that_cannot_be_is_one_line_of_ours(url: str) -> None:
    with pytest.raises(StationError, match=r"^[^\n]+[.?]$"):
        SerialLink(url).open()


# From here on with the system's own pseudo-terminals and sockets.


class Cable:
    """A pseudo-terminal behind a name of ours, which can be unplugged and plugged in again."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "receiver"
        self.plug_in()

    def plug_in(self) -> None:
        self.far_end, near_end = os.openpty()
        self.path.symlink_to(os.ttyname(near_end))
        self._near_end = near_end

    def let_go(self) -> None:
        """Close this test's own hold on the near end, which keeps it alive until the link has opened it."""
        os.close(self._near_end)

    def send(self, data: bytes) -> None:
        assert os.write(self.far_end, data) == len(data)

    def unplug(self) -> None:
        self.path.unlink()
        os.close(self.far_end)


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    if not hasattr(os, "openpty"):
        pytest.skip("no pseudo-terminals on this system")
    plugged = Cable(tmp_path)
    yield plugged
    if plugged.path.is_symlink():
        plugged.unplug()


def test_bytes_pass_through_a_terminal_unchanged(cable: Cable) -> None:
    link = SerialLink(str(cable.path))
    link.open()
    cable.let_go()
    everything = bytes(range(256))
    cable.send(everything)
    received = b""
    while len(received) < len(everything):
        data = link.read()
        assert isinstance(data, bytes)
        received += data
    assert received == everything
    link.close()
    link.close()


def test_a_terminal_unplugged_and_plugged_in_again_goes_on(cable: Cable) -> None:
    link = SerialLink(str(cable.path))
    link.open()
    cable.let_go()
    cable.send(b"before\n")
    assert read_until(link, bool) == b"before\n"
    cable.unplug()
    lost = read_until(link, lambda result: isinstance(result, LinkChange))
    assert lost == LinkChange(False, f"port lost: waiting for {cable.path}")
    assert link.read() == b""
    cable.plug_in()
    back = read_until(link, lambda result: isinstance(result, LinkChange))
    assert back == LinkChange(True, f"port back: {cable.path}")
    cable.let_go()
    cable.send(b"after\n")
    assert read_until(link, bool) == b"after\n"
    link.close()


def test_a_port_that_another_program_holds_names_it(cable: Cable) -> None:
    program = (
        "import serial, sys; port = serial.Serial(sys.argv[1], exclusive=True); print('open', flush=True); "
        "sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", program, str(cable.path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"open\n"
    try:
        with pytest.raises(PortBusyError, match=r"is in use by .*: end that program") as caught:
            SerialLink(str(cable.path)).open()
        if Path("/proc/self/fd").exists():
            assert f"(process {holder.pid})" in str(caught.value)
    finally:
        holder.communicate()
        cable.let_go()


def test_a_port_that_this_station_holds_already_is_busy(cable: Cable) -> None:
    first = SerialLink(str(cable.path))
    first.open()
    with pytest.raises(PortBusyError, match="in use"):
        SerialLink(str(cable.path)).open()
    first.close()
    second = SerialLink(str(cable.path))
    second.open()
    second.close()
    cable.let_go()


def test_a_socket_is_read_and_taken_up_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = SerialLink(f"socket://127.0.0.1:{server.getsockname()[1]}")
        link.open()
        for text in (b"before\n", b"after\n"):
            caller, _ = server.accept()
            caller.sendall(text)
            assert read_until(link, bool) == text
            caller.close()
            assert read_until(link, lambda result: isinstance(result, LinkChange)) != LinkChange(True, "")
            read_until(link, lambda result: isinstance(result, LinkChange) and result.is_open)
        server.accept()[0].close()
        link.close()


def test_a_socket_where_nobody_answers_is_a_missing_port() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    with pytest.raises(PortMissingError, match="nobody answers"):
        SerialLink(f"socket://127.0.0.1:{number}").open()


def test_the_librarys_loop_opens_like_any_port() -> None:
    link = SerialLink("loop://")
    link.open()
    assert link.read() == b""
    link.close()
