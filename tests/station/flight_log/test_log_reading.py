import os
from pathlib import Path

import pytest

from station.errors import FileUnreadableError
from station.flight_log import read_flight_file, reading
from station.records import SampleRecord
from station.wire import encode

CAPTURE = encode(SampleRecord(1, 20, 101325.0, None, None))


def test_a_file_is_read_and_keeps_its_name(tmp_path: Path) -> None:
    path = tmp_path / "capture.txt"
    path.write_bytes(CAPTURE)
    file = read_flight_file(path)
    assert file.name == str(path)
    assert file.lines == [(CAPTURE.strip(), None)]


def message_for(path: Path) -> str:
    with pytest.raises(FileUnreadableError) as caught:
        read_flight_file(path)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert message_for(tmp_path / "no.flight").startswith(f"{tmp_path / 'no.flight'} does not exist")


def test_a_folder_says_to_name_the_flights_in_it(tmp_path: Path) -> None:
    assert "is a folder" in message_for(tmp_path)


def test_a_device_says_how_to_listen_to_it() -> None:
    if not Path("/dev/null").exists():
        pytest.skip("no /dev/null on this system")
    assert "station live /dev/null" in message_for(Path("/dev/null"))


def test_a_file_below_a_file_and_an_impossible_name_are_unreadable(tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(CAPTURE)
    assert "cannot be read" in message_for(tmp_path / "f" / "g")
    assert "cannot be read" in message_for(Path("a\0b"))


def test_a_forbidden_file_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "f"
    path.write_bytes(CAPTURE)
    if hasattr(os, "geteuid") and os.geteuid() != 0:
        path.chmod(0)
    else:

        def forbid(_path: Path) -> bytes:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "read_bytes", forbid)
    assert "may not be read by you" in message_for(path)


def test_a_file_too_big_to_be_a_flight_is_not_taken_into_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "video"
    path.write_bytes(CAPTURE)
    monkeypatch.setattr(reading, "MAX_FILE_BYTES", len(CAPTURE))
    assert len(read_flight_file(path).lines) == 1
    monkeypatch.setattr(reading, "MAX_FILE_BYTES", len(CAPTURE) - 1)
    assert "too big" in message_for(path)
