"""What was computed from the logs of a folder, kept in an SQLite file beside them so that it need not be done again.

Nothing in it is the truth: it is made anew whenever it is missing, damaged or of another version, and whatever it
cannot keep (a folder that may not be written, a full disk) is computed again next time.
"""

import sqlite3
import threading
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import Any

import station
from station.flight_state import FlightVerdict, Verdict
from station.logbook.row import LogbookRow

INDEX_NAME = "station-logbook.sqlite3"
INDEX_VERSION = 3
"""To be raised whenever a log would get another row or curve than before."""
APPLICATION_ID = 0x53744C42
_PATIENCE_S = 5.0
_OUT_OF_REACH = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_READONLY,
}
_COLUMNS = tuple(f.name for f in fields(LogbookRow) if f.name != "file")


@dataclass(frozen=True, slots=True)
class Stamp:
    """What tells whether a log has changed: its size, and when it was last written."""

    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True)
class Indexed:
    """One log in the index: its row and its packed curve, or else why it could not be read."""

    file: str
    stamp: Stamp
    row: LogbookRow | None
    problem: str | None = None
    curve: bytes | None = None


class IndexFile:
    """The index of one folder. Any thread may call; `problem` says why nothing can be kept, if so."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / INDEX_NAME
        self.problem: str | None = None
        self._lock = threading.Lock()

    def load(self) -> dict[str, Indexed]:
        """Everything in the index but the curves, by log; empty if there is none that is of use."""
        with self._lock:
            for attempt in (1, 2):
                try:
                    with self._opened() as db:
                        if db is None:
                            return {}
                        columns = ", ".join(("file", "size", "mtime_ns", "problem", *_COLUMNS))
                        return {row[0]: _indexed(row) for row in db.execute(f"SELECT {columns} FROM logs")}
                except (sqlite3.DatabaseError, ValueError) as error:
                    self.problem = str(error)
                    if attempt == 2 or _is_out_of_reach(error):
                        return {}
                    # No database, or one that holds what no index has.
                    for path in (self.path.with_name(f"{INDEX_NAME}-journal"), self.path):
                        with suppress(OSError):
                            path.unlink()
        return {}

    def store(self, found: Iterable[Indexed], gone: Iterable[str] = ()) -> None:
        """Keep these, and forget those. A failure is noted in `problem`."""
        marks = ", ".join("?" * (5 + len(_COLUMNS)))
        columns = ", ".join(("file", "size", "mtime_ns", "problem", "curve", *_COLUMNS))
        with self._lock:
            try:
                with self._opened() as db:
                    if db is not None:
                        with db:
                            db.executemany("DELETE FROM logs WHERE file = ?", [(file,) for file in gone])
                            db.executemany(f"REPLACE INTO logs ({columns}) VALUES ({marks})", map(_values, found))
            except sqlite3.DatabaseError as error:
                self.problem = str(error)

    def curve(self, file: str) -> bytes | None:
        """The packed curve of one log."""
        with self._lock, suppress(sqlite3.DatabaseError), self._opened() as db:
            if db is not None:
                found = db.execute("SELECT curve FROM logs WHERE file = ?", (file,)).fetchone()
                return found[0] if found else None
        return None

    @contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection | None]:
        """A connection to an index of this version; None if the file is another program's. Raises sqlite3.Error."""
        self.problem = None
        with closing(sqlite3.connect(self.path, timeout=_PATIENCE_S)) as db:
            ours = db.execute("PRAGMA application_id").fetchone()[0]
            if ours != APPLICATION_ID and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                self.problem = f"{self.path.name} is another program's"
                yield None
                return
            # Lost with the power, it is made again.
            db.execute("PRAGMA synchronous = OFF")
            made_by = f"{INDEX_VERSION} by {station.__version__}"
            if ours != APPLICATION_ID or _maker(db) != made_by:
                with db:
                    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    db.execute("DROP TABLE IF EXISTS logs")
                    db.execute("DROP TABLE IF EXISTS made_by")
                    db.execute("CREATE TABLE made_by (version TEXT NOT NULL)")
                    db.execute("INSERT INTO made_by VALUES (?)", (made_by,))
                    names = ", ".join(_COLUMNS)
                    db.execute(
                        "CREATE TABLE logs (file TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, "
                        f"problem TEXT, curve BLOB, {names})"
                    )
            yield db


def _is_out_of_reach(error: Exception) -> bool:
    """Whether the index may be good, but cannot be read or written just now (https://www.sqlite.org/rescode.html)."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    return code in _OUT_OF_REACH


def _maker(db: sqlite3.Connection) -> str | None:
    try:
        found = db.execute("SELECT version FROM made_by").fetchone()
    except sqlite3.OperationalError:
        return None
    return None if found is None else str(found[0])


def _values(found: Indexed) -> tuple[Any, ...]:
    row = [None if found.row is None else _plain(getattr(found.row, name)) for name in _COLUMNS]
    return found.file, found.stamp.size, found.stamp.mtime_ns, found.problem, found.curve, *row


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return str(value) if isinstance(value, Verdict | FlightVerdict) else value


def _indexed(values: tuple[Any, ...]) -> Indexed:
    """Raises ValueError for values that no index has."""
    file, size, mtime_ns, problem = values[:4]
    by_name = dict(zip(_COLUMNS, values[4:], strict=True))
    stamp = Stamp(size, mtime_ns)
    if problem is not None:
        return Indexed(file, stamp, None, problem)
    at = by_name["flown_at"]
    by_name |= {
        "has_liftoff": bool(by_name["has_liftoff"]),
        "flown_at": None if at is None else datetime.fromisoformat(at),
        "verdict": FlightVerdict(by_name["verdict"]),
        "drogue": None if by_name["drogue"] is None else Verdict(by_name["drogue"]),
        "main": None if by_name["main"] is None else Verdict(by_name["main"]),
    }
    return Indexed(file, stamp, LogbookRow(file=file, **by_name))
