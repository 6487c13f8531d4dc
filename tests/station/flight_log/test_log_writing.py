import errno
import os
import signal
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

import pytest

from station.errors import RecordingError
from station.flight_log import EntryKind, FlightLogWriter, LogEntry, LogHeader, host_clock, read_flight_file
from station.flight_log.writing import MOST_RETRY_TICKS, RETRY_TICKS, SYNC_S

HEADER = LogHeader(datetime(2031, 5, 4, 9, 12, 44, tzinfo=UTC), "/dev/ttyUSB0", "station 0", "monotonic")


def line(number: int) -> LogEntry:
    return LogEntry(EntryKind.LINE, 1000 * number, b"@LINE,%d" % number)


class Disk:
    """A disk that fails when told to: `fail_with` an errno, after taking `takes` more bytes."""

    def __init__(self) -> None:
        self.fail_with: int | None = None
        self.takes = 0
        self.sync_fails_with: int | None = None
        self.synced: list[int] = []

    def write(self, fd: int, data: bytes) -> int:
        if self.fail_with is not None:
            data = data[: self.takes]
            self.takes -= len(data)
            if not data:
                raise OSError(self.fail_with, os.strerror(self.fail_with))
        return os.write(fd, data)

    def sync(self, fd: int) -> None:
        if self.sync_fails_with is not None:
            raise OSError(self.sync_fails_with, os.strerror(self.sync_fails_with))
        self.synced.append(fd)


def writer_on(disk: Disk, folder: Path, max_waiting: int = 1000) -> FlightLogWriter:
    return FlightLogWriter(folder, HEADER, write=disk.write, sync=disk.sync, sync_s=None, max_waiting=max_waiting)


def problem_of(writer: FlightLogWriter) -> RecordingError | None:
    return writer.problem


def numbers_in(path: Path) -> list[int]:
    return [int(data.split(b",")[1]) for data, _ in read_flight_file(path).lines]


def test_the_file_is_named_by_utc_time_and_port_and_its_folder_is_made(tmp_path: Path) -> None:
    writer = FlightLogWriter(tmp_path / "deep" / "flights", HEADER)
    writer.close()
    assert writer.path == tmp_path / "deep" / "flights" / "2031-05-04_09-12-44Z_dev-ttyUSB0.flight"
    assert read_flight_file(writer.path).header == HEADER


def test_two_stations_never_write_the_same_file(tmp_path: Path) -> None:
    writers = [FlightLogWriter(tmp_path, HEADER) for _ in range(3)]
    for number, writer in enumerate(writers):
        writer.append(line(number))
        writer.close()
    assert [numbers_in(writer.path) for writer in writers] == [[0], [1], [2]]


def test_an_entry_is_in_the_file_before_append_returns(tmp_path: Path) -> None:
    writer = writer_on(Disk(), tmp_path)
    for number in range(3):
        writer.append(line(number))
        assert numbers_in(writer.path) == list(range(number + 1))
    writer.close()


def test_all_kinds_of_entries_read_back(tmp_path: Path) -> None:
    entries = (line(1), LogEntry(EntryKind.MARK, 5, "Zündung\n".encode()), LogEntry(EntryKind.NOTE, 6, b"port lost"))
    writer = FlightLogWriter(tmp_path, HEADER)
    for entry in entries:
        writer.append(entry)
    writer.close()
    assert read_flight_file(writer.path).entries == entries


def test_a_tick_forces_to_the_disk_only_what_is_new(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    assert len(disk.synced) == 1  # the header
    writer.tick()
    assert len(disk.synced) == 1
    writer.append(line(1))
    assert len(disk.synced) == 1
    writer.tick()
    assert len(disk.synced) == 2
    writer.close()


def test_the_timer_forces_to_the_disk_without_waiting_for_a_next_line(tmp_path: Path) -> None:
    forced = threading.Semaphore(0)
    writer = FlightLogWriter(tmp_path, HEADER, sync=lambda _fd: forced.release(), sync_s=0.001)
    assert forced.acquire(timeout=30)  # the header
    writer.append(line(1))
    assert forced.acquire(timeout=30)
    writer.close()


def test_a_slow_disk_does_not_hold_up_the_next_line(tmp_path: Path) -> None:
    in_sync, go_on = threading.Event(), threading.Event()
    first = True

    def sync(_fd: int) -> None:
        nonlocal first
        if first:
            first = False
        else:
            in_sync.set()
            go_on.wait(30)

    writer = FlightLogWriter(tmp_path, HEADER, sync=sync, sync_s=0.001)
    writer.append(line(1))
    assert in_sync.wait(30)
    writer.append(line(2))  # would hang here until `go_on`
    assert numbers_in(writer.path) == [1, 2]
    go_on.set()
    writer.close()


def test_what_was_written_reaches_the_disk_in_under_half_a_second() -> None:
    assert SYNC_S <= 0.25  # and as much again for the disk itself


def test_a_full_disk_is_told_and_nothing_is_lost_once_there_is_space(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    writer.append(line(0))
    disk.fail_with, disk.takes = errno.ENOSPC, 5
    for number in range(1, 4):
        writer.append(line(number))
    told = writer.problem
    assert isinstance(told, RecordingError)
    assert "the disk is full" in str(told)
    assert str(writer.path) in str(told)
    for _ in range(RETRY_TICKS):
        writer.tick()
    assert isinstance(problem_of(writer), RecordingError)
    disk.fail_with = None
    for _ in range(2 * RETRY_TICKS):
        writer.tick()
    assert problem_of(writer) is None
    writer.append(line(4))
    writer.close()
    assert numbers_in(writer.path) == [0, 1, 2, 3, 4]
    assert list(tmp_path.iterdir()) == [writer.path]


def test_after_a_disk_error_the_log_goes_on_in_a_new_file_with_whole_entries(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    first = writer.path
    writer.append(line(0))
    disk.fail_with, disk.takes = errno.EIO, 5
    writer.append(line(1))
    disk.fail_with = None
    for _ in range(RETRY_TICKS):
        writer.tick()
    assert writer.problem is None
    writer.append(line(2))
    writer.close()
    assert read_flight_file(first).torn
    assert numbers_in(first) == [0]
    assert numbers_in(writer.path) == [1, 2]
    header = read_flight_file(writer.path).header
    assert header is not None
    assert header.continues == first.name


def test_an_error_while_forcing_to_the_disk_is_told(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    disk.sync_fails_with = errno.EIO
    writer.append(line(0))
    writer.tick()
    assert "Input/output error" in str(writer.problem)
    disk.sync_fails_with = None
    writer.close()
    assert writer.problem is None


def test_tries_become_rarer_so_that_a_broken_disk_is_not_littered(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    disk.sync_fails_with = errno.EIO
    writer.append(line(0))
    for _ in range(20 * MOST_RETRY_TICKS):
        writer.tick()
    assert 20 <= len(list(tmp_path.iterdir())) <= 30
    disk.sync_fails_with = None
    writer.close()


def test_entries_that_no_longer_fit_in_memory_are_counted_in_a_note(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path, max_waiting=3)
    disk.fail_with, disk.takes = errno.ENOSPC, 5
    for number in range(6):
        writer.append(line(number))
    disk.fail_with = None
    for _ in range(RETRY_TICKS):
        writer.tick()
    writer.close()
    assert numbers_in(writer.path) == [0, 4, 5]  # the first was half written already
    note = read_flight_file(writer.path).entries[-1]
    assert note.kind is EntryKind.NOTE
    assert b"3 entries are missing" in note.data


def test_closing_tries_once_more(tmp_path: Path) -> None:
    disk = Disk()
    writer = writer_on(disk, tmp_path)
    disk.fail_with = errno.ENOSPC
    writer.append(line(0))
    disk.fail_with = None
    writer.close()
    assert writer.problem is None
    assert numbers_in(writer.path) == [0]


def test_closing_twice_and_appending_after_it_do_no_harm(tmp_path: Path) -> None:
    writer = writer_on(Disk(), tmp_path)
    writer.close()
    writer.close()
    writer.append(line(0))
    writer.tick()
    assert numbers_in(writer.path) == []


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
def test_a_log_that_cannot_be_created_says_so_in_one_line_and_leaves_nothing(tmp_path: Path, number: int) -> None:
    disk = Disk()
    disk.fail_with = number
    with pytest.raises(RecordingError, match=r"cannot be recorded in .*: [^\n]+\.$"):
        writer_on(disk, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_place_of_the_folder_says_so(tmp_path: Path) -> None:
    (tmp_path / "flights").write_text("a file")
    for folder in (tmp_path / "flights", tmp_path / "flights" / "deeper"):
        with pytest.raises(RecordingError, match=r"a file, not a folder.*--logs"):
            FlightLogWriter(folder, HEADER)


def test_the_clock_of_this_machine_is_described() -> None:
    assert host_clock().startswith("monotonic, resolution 0.")


KILLED = """
import sys
from pathlib import Path
from station.flight_log import *
writer = FlightLogWriter(Path(sys.argv[1]), LogHeader(None, "test", "", ""))
print(writer.path, flush=True)
number = 0
while True:
    writer.append(LogEntry(EntryKind.LINE, number, b"@LINE,%d" % number))
    number += 1
    print(number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_kill_9_costs_no_entry_that_was_appended(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(tmp_path)], stdout=subprocess.PIPE, text=True, env=dict(os.environ)
    )
    assert process.stdout is not None
    path = Path(process.stdout.readline().strip())
    while int(process.stdout.readline()) < 500:
        pass
    process.send_signal(signal.SIGKILL)
    rest = process.stdout.read().split("\n")
    process.stdout.close()
    process.wait()
    said = max(int(text) for text in [*rest[:-1], "500"])
    numbers = numbers_in(path)
    assert numbers == list(range(len(numbers)))
    assert len(numbers) >= said


LIMITED = """
import resource, sys
from pathlib import Path
from station.flight_log import *
writer = FlightLogWriter(Path(sys.argv[1]), LogHeader(None, "test", "", ""), sync_s=None)
size = writer.path.stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size + 50, resource.RLIM_INFINITY))
for number in range(3):
    writer.append(LogEntry(EntryKind.LINE, number, b"@LINE,%d" % number))
print(writer.problem)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
writer.close()
print(writer.problem, writer.path)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs limits of POSIX")
def test_a_system_that_refuses_a_write_in_earnest_is_survived(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path)], capture_output=True, text=True, timeout=60, check=True
    )
    problem, rest = done.stdout.strip().split("\n")
    assert "File too large" in problem
    assert rest.startswith("None ")
    files = sorted(tmp_path.iterdir(), key=lambda path: len(path.name))
    assert [number for path in files for number in numbers_in(path)] == [0, 1, 2]
