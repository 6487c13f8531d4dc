"""Writing the flight log: every entry goes to the operating system at once, and to the disk soon after."""

import contextlib
import errno
import os
import re
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from station.errors import RecordingError
from station.flight_log.entries import EntryKind, LogEntry, LogHeader, entry_text

SYNC_S = 0.25
"""How often what was written is forced to the disk: with a slow disk's own time still under half a second."""

RETRY_TICKS = 4
MOST_RETRY_TICKS = 64
MAX_WAITING = 200_000
"""Entries kept in memory while the disk takes none: over half an hour of the fastest altimeter."""

_NO_SPACE = {errno.ENOSPC, errno.EDQUOT}
_CANNOT_FORCE = {errno.EINVAL, errno.ENOTSUP}


def host_clock() -> str:
    """What entries are timed with, for the header."""
    info = time.get_clock_info("monotonic")
    return f"monotonic, resolution {info.resolution:.9f} s"


def force_to_disk(fd: int) -> None:
    """As `os.fsync`; on macOS, where that leaves data in the drive's memory, further. Raises OSError."""
    try:
        if sys.platform == "darwin":
            import fcntl

            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        else:
            os.fsync(fd)
    except OSError as error:
        # Some network and memory file systems know no such thing; the writing itself is not in doubt.
        if error.errno not in _CANNOT_FORCE:
            raise


class FlightLogWriter:
    """Append-only writer of one flight's log. Any thread may append.

    After a failure (`problem` says which) entries wait in memory and writing is tried again after a second, then
    less often: in the same file if the disk was full, else in a new one in the same folder. Once it works
    `problem` is None again.
    """

    def __init__(
        self,
        folder: Path,
        header: LogHeader,
        *,
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = force_to_disk,
        sync_s: float | None = SYNC_S,
        max_waiting: int = MAX_WAITING,
    ) -> None:
        """Create the log in `folder`, which is made if need be. Raises RecordingError.

        `sync_s` None leaves it to the caller to call `tick`.
        """
        self._folder = folder
        self._header = header
        self._write = write
        self._sync = sync
        self._lock = threading.Lock()
        self._waiting: deque[bytes] = deque()
        self._written_of_first = 0
        self._unsynced = True
        self._needs_new_file = False
        self._max_waiting = max_waiting
        self._failures = 0
        self._ticks_to_retry = 0
        self._dropped = 0
        self._last_us = 0
        self._closed = False
        self._problem: RecordingError | None = None
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._path, self._fd = self._create(header)
        except OSError as error:
            raise _recording_error(folder, error) from error
        self._stop = threading.Event()
        self._timer: threading.Thread | None = None
        self.tick()
        if sync_s is not None:
            self._timer = threading.Thread(target=self._keep_ticking, args=(sync_s,), name="log-sync", daemon=True)
            self._timer.start()

    @property
    def path(self) -> Path:
        """The file being written."""
        return self._path

    @property
    def problem(self) -> RecordingError | None:
        """Why nothing is being written just now, or None."""
        return self._problem

    def append(self, entry: LogEntry) -> None:
        """Write one entry, or keep it for later if that fails. Never raises."""
        text = entry_text(entry)
        with self._lock:
            if self._closed:
                return
            self._last_us = max(self._last_us, entry.arrival_us or 0)
            self._put(text)

    def tick(self) -> None:
        """Force what was written to the disk; after a failure try again. The timer calls it."""
        with self._lock:
            if self._closed:
                return
            if self._problem is not None:
                self._ticks_to_retry -= 1
                if self._ticks_to_retry <= 0:
                    self._try_again()
            unsynced, self._unsynced = self._unsynced, False
            fd = self._fd
        if unsynced:
            # Outside the lock: a slow disk must not hold up the next line.
            try:
                self._sync(fd)
            except OSError as error:
                with self._lock:
                    self._fail(error)
            else:
                self._failures = 0

    def close(self) -> None:
        """Write and force to the disk what is left, and end the timer."""
        self._stop.set()
        if self._timer is not None:
            self._timer.join(timeout=10.0)
        with self._lock:
            self._ticks_to_retry = 0
        self.tick()
        with self._lock:
            if not self._closed:
                self._closed = True
                os.close(self._fd)

    def _keep_ticking(self, sync_s: float) -> None:
        while not self._stop.wait(sync_s):
            self.tick()

    def _put(self, text: bytes) -> None:
        self._waiting.append(text)
        if len(self._waiting) > self._max_waiting:
            # The first may be half written, and must be ended properly.
            del self._waiting[1]
            self._dropped += 1
        if self._problem is None:
            self._write_waiting()

    def _write_waiting(self) -> None:
        while self._waiting:
            text = self._waiting[0]
            try:
                self._written_of_first += self._write(self._fd, text[self._written_of_first :])
            except OSError as error:
                self._fail(error)
                return
            self._unsynced = True
            if self._written_of_first >= len(text):
                self._waiting.popleft()
                self._written_of_first = 0

    def _fail(self, error: OSError) -> None:
        self._problem = _recording_error(self._path, error)
        self._needs_new_file = self._needs_new_file or error.errno not in _NO_SPACE
        self._ticks_to_retry = min(RETRY_TICKS << self._failures, MOST_RETRY_TICKS)
        self._failures += 1

    def _try_again(self) -> None:
        if self._needs_new_file:
            try:
                path, fd = self._create(replace(self._header, continues=self._path.name))
            except OSError as error:
                self._fail(error)
                return
            with contextlib.suppress(OSError):
                os.close(self._fd)
            self._path, self._fd = path, fd
            self._written_of_first = 0
            self._needs_new_file = False
        self._problem = None
        self._write_waiting()
        if self._problem is None and self._dropped:
            dropped, self._dropped = self._dropped, 0
            text = f"the log could not be written for a while: {dropped} entries are missing before this one"
            self._put(entry_text(LogEntry(EntryKind.NOTE, self._last_us, text.encode())))

    def _create(self, header: LogHeader) -> tuple[Path, int]:
        """A new file that no other station writes, with the header in it. Raises OSError."""
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        number = 1
        while True:
            path = self._folder / _file_name(self._header, number)
            try:
                fd = os.open(path, flags, 0o644)
                break
            except FileExistsError:
                number += 1
        text = header.text()
        try:
            while text:
                text = text[self._write(fd, text) :]
        except OSError:
            os.close(fd)
            with contextlib.suppress(OSError):
                path.unlink()
            raise
        self._unsynced = True
        _force_folder_to_disk(self._folder)
        return path, fd


def _file_name(header: LogHeader, number: int) -> str:
    moment = "undated" if header.opened is None else f"{header.opened:%Y-%m-%d_%H-%M-%SZ}"
    port = re.sub(r"[^A-Za-z0-9]+", "-", header.port).strip("-")[-40:]
    return "_".join(filter(None, [moment, port, "" if number == 1 else str(number)])) + ".flight"


def _force_folder_to_disk(folder: Path) -> None:
    """So that the new file's name outlives a power loss too; not every system can."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def _recording_error(path: Path, error: OSError) -> RecordingError:
    match error.errno:
        case number if number in _NO_SPACE:
            what, remedy = "the disk is full", "free some space"
        case errno.EACCES | errno.EPERM | errno.EROFS:
            what, remedy = "you may not write there", "name another folder with --logs"
        case errno.EEXIST | errno.ENOTDIR:
            what, remedy = "that is a file, not a folder", "name another folder with --logs"
        case _:
            what, remedy = error.strerror or str(error), "name another folder with --logs"
    return RecordingError(f"the flight cannot be recorded in {path} ({what}): {remedy}.")
