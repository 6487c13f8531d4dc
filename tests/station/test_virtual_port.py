"""Ports that are not there, read as a listening program would: with pyserial."""

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack

import pytest
import serial

from station.virtual_port import LocalSocket, PseudoTerminal, open_virtual_port

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


def never(_seconds: float) -> bool:
    return False


@pytest.fixture
def terminal() -> Iterator[PseudoTerminal]:
    made = PseudoTerminal()
    yield made
    made.close()


@pytest.fixture
def local_socket() -> Iterator[LocalSocket]:
    made = LocalSocket()
    yield made
    made.close()


@needs_pty
def test_every_byte_value_passes_a_pseudo_terminal_unchanged(terminal: PseudoTerminal) -> None:
    everything = bytes(range(256)) + b"\r\n\x03\x04\x11\x13\r"
    with serial.Serial(terminal.port_name, timeout=5.0) as reader:
        assert terminal.send(everything, 1.0)
        assert reader.read(len(everything)) == everything


@needs_pty
def test_more_than_the_buffer_arrives_whole_when_somebody_reads(terminal: PseudoTerminal) -> None:
    lines = [b"line %06d\n" % number for number in range(20_000)]
    received = bytearray()
    with serial.Serial(terminal.port_name, timeout=5.0) as reader:

        def read() -> None:
            while len(received) < len(b"".join(lines)):
                received.extend(reader.read(max(1, reader.in_waiting)))

        thread = threading.Thread(target=read)
        thread.start()
        for line in lines:
            while not terminal.send(line, 1.0):
                pass
        terminal.finish(5.0, never)
        thread.join(timeout=30.0)
    assert bytes(received) == b"".join(lines)


@needs_pty
def test_what_nobody_reads_is_refused_and_a_line_is_never_sent_in_part_twice(terminal: PseudoTerminal) -> None:
    refused = 0
    taken = []
    for number in range(2000):
        line = b"line %06d\n" % number
        if terminal.send(line, 0.0):
            taken.append(line)
        else:
            refused += 1
    assert refused > 0
    fd = os.open(terminal.port_name, os.O_RDONLY | os.O_NOCTTY)
    received = bytearray()
    while len(received) < len(b"".join(taken)):
        received += os.read(fd, 4096)
        terminal.finish(0.001, never)
    os.close(fd)
    assert bytes(received) == b"".join(taken)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells when a reader has come")
def test_a_pseudo_terminal_waits_for_its_reader_and_stays_raw(terminal: PseudoTerminal) -> None:
    with ExitStack() as stack:
        looks = []
        opened: list[serial.Serial] = []

        def wait(seconds: float) -> bool:
            looks.append(seconds)
            if len(looks) == 3:
                opened.append(stack.enter_context(serial.Serial(terminal.port_name, timeout=5.0)))
            return False

        assert terminal.wait_for_reader(wait)
        assert len(looks) == 4
        assert terminal.send(b"\x03\r\n\x04", 1.0)
        assert opened[0].read(4) == b"\x03\r\n\x04"


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells when a reader has come")
def test_waiting_for_a_reader_ends_when_asked(terminal: PseudoTerminal) -> None:
    assert not terminal.wait_for_reader(lambda _seconds: True)


def test_a_local_socket_waits_for_its_reader(local_socket: LocalSocket) -> None:
    assert not local_socket.wait_for_reader(lambda _seconds: True)
    with serial.serial_for_url(local_socket.port_name, timeout=5.0):
        assert local_socket.wait_for_reader(lambda _seconds: True)


@needs_pty
def test_finishing_stops_waiting_when_asked(terminal: PseudoTerminal) -> None:
    terminal.send(b"nobody reads this\n", 0.0)
    asked = []

    def stop(seconds: float) -> bool:
        asked.append(seconds)
        return True

    terminal.finish(3600.0, stop)
    assert len(asked) == 1


def test_a_local_socket_is_read_by_its_url(local_socket: LocalSocket) -> None:
    assert local_socket.port_name.startswith("socket://127.0.0.1:")
    with serial.serial_for_url(local_socket.port_name, timeout=5.0) as reader:
        assert local_socket.send(b"@hello\n", 5.0)
        assert reader.read(7) == b"@hello\n"


def test_a_local_socket_refuses_while_nobody_listens_and_takes_the_next_reader(local_socket: LocalSocket) -> None:
    assert not local_socket.send(b"lost\n", 0.0)
    with serial.serial_for_url(local_socket.port_name, timeout=5.0) as reader:
        assert local_socket.send(b"one\n", 5.0)
        assert reader.read(4) == b"one\n"
    with serial.serial_for_url(local_socket.port_name, timeout=5.0) as reader:
        assert local_socket.send(b"two\n", 5.0)
        assert reader.read(4) == b"two\n"


def test_the_best_port_of_this_system_is_opened() -> None:
    port = open_virtual_port()
    try:
        assert isinstance(port, PseudoTerminal) == hasattr(os, "openpty")
    finally:
        port.close()
