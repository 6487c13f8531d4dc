"""A folder of logs: which are in it, which of them went into another, and new ones put beside them."""

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from station.errors import FileUnreadableError, OutputError
from station.flight_log.entries import VERSION_PREFIX, LogEntry, LogHeader, header_from, log_text

SUFFIX = ".flight"
_HEADER_BYTES = 256 * 1024
"""More than a header with the longest plan."""


def logs_in(folder: Path) -> list[Path]:
    """The logs of a folder by name. Raises FileUnreadableError if it cannot be listed."""
    try:
        with os.scandir(folder) as found:
            names = [e.name for e in found if e.name.endswith(SUFFIX) and not e.name.startswith(".") and e.is_file()]
    except FileNotFoundError as error:
        raise FileUnreadableError(f"{folder} does not exist: name the folder with your recorded flights.") from error
    except NotADirectoryError as error:
        raise FileUnreadableError(f"{folder} is not a folder: name the folder with your recorded flights.") from error
    except OSError as error:
        raise FileUnreadableError(f"{folder} cannot be listed ({error.strerror or error}): name another.") from error
    return [folder / name for name in sorted(names)]


def header_of(path: Path) -> LogHeader | None:
    """A log's header alone; None if the file cannot be read or is none."""
    try:
        with path.open("rb") as file:
            data = file.read(_HEADER_BYTES)
    except OSError:
        return None
    if not data.startswith(VERSION_PREFIX):
        return None
    lines = [line.removesuffix(b"\r") for line in data.split(b"\n")]
    return header_from(lines[1 : lines.index(b"") if b"" in lines else len(lines)])


def logs_holding(pieces: Iterable[bytes], folder: Path) -> list[Path]:
    """The logs in which any of the pieces stands, without those that went into another one of them.

    Raises FileUnreadableError if the folder cannot be listed.
    """
    pieces = list(pieces)
    found = []
    for path in logs_in(folder):
        with suppress(OSError):
            data = path.read_bytes()
            if any(piece in data for piece in pieces):
                found.append(path)
    headers = [header_of(path) for path in found]
    gone_in = {header.joined for header in headers if header is not None}
    return [path for path in found if path.name not in gone_in]


def write_new_log(path: Path, header: LogHeader, entries: Iterable[LogEntry]) -> None:
    """Write a whole log, under its name only when it is complete. Raises OutputError, also if the name is taken."""
    if path.exists():
        raise OutputError(f"{path} exists already and is not written over: move it away first.")
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            file.write(log_text(header, entries))
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise OutputError(f"{path} cannot be written ({error.strerror or error}): free space or move it.") from error
