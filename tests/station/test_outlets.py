"""Streams, files and ports that a virtual altimeter sends to."""

import io
import socket
from pathlib import Path

import pytest

from station.errors import FileUnreadableError, PortError
from station.flight_log.entries import LogHeader
from station.outlets import FileOutlet, PortOutlet, StreamOutlet


class Flushes(io.BytesIO):
    """Counts how often it is flushed."""

    def __init__(self) -> None:
        super().__init__()
        self.flushes = 0

    def flush(self) -> None:
        self.flushes += 1


@pytest.mark.parametrize(("flush_each", "flushes"), [(True, 2), (False, 0)])
def test_a_stream_is_flushed_for_a_reader_who_follows_along(flush_each: bool, flushes: int) -> None:
    stream = Flushes()
    outlet = StreamOutlet(stream, flush_each=flush_each)
    assert outlet.send(b"one\n", 0.0)
    assert outlet.send(b"two\n", 0.0)
    assert (stream.getvalue(), stream.flushes) == (b"one\ntwo\n", flushes)


def test_a_file_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "capture.txt"
    path.write_bytes(b"@SMP,1,370,101312.4,18.62,9.79*4A5D\n")
    outlet = FileOutlet(path, flush_each=False)
    outlet.send(b"new\n", 0.0)
    outlet.close()
    assert path.read_bytes() == b"new\n"


def test_a_recorded_flight_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "real.flight"
    recorded = LogHeader(None, "/dev/ttyUSB0", "station", "monotonic").text()
    path.write_bytes(recorded)
    with pytest.raises(FileUnreadableError, match="recorded flight"):
        FileOutlet(path, flush_each=False)
    assert path.read_bytes() == recorded


@pytest.mark.parametrize("name", [".", "no-such-folder/capture.txt"])
def test_a_file_that_cannot_be_written_is_said(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileUnreadableError, match=r"cannot write it: .*: name another file after --to"):
        FileOutlet(tmp_path / name, flush_each=False)


def test_a_port_sends_what_it_is_given() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        outlet = PortOutlet(f"socket://127.0.0.1:{listener.getsockname()[1]}", 57_600)
        arrived, _ = listener.accept()
        with arrived:
            assert outlet.send(b"@line\n", 1.0)
            assert arrived.recv(6) == b"@line\n"
        outlet.close()


def test_a_port_that_is_not_there_is_said() -> None:
    with pytest.raises(PortError, match="no-such-port"):
        PortOutlet("/dev/no-such-port", 57_600)
