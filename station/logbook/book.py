"""The logbook of a folder: its logs judged, kept in the index, and listed with the owner's notes."""

import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from station.errors import FileUnreadableError
from station.flight_log.folder import SUFFIX, logs_in
from station.logbook.entry import LogbookEntry
from station.logbook.index import Indexed, IndexFile, Stamp
from station.logbook.judging_logs import judge_logs
from station.logbook.notes import change_note, read_note

KEPT_AT_ONCE = 20
"""How many judged logs may be lost if the program is ended by force."""


class Logbook:
    """The flights of one folder. `refresh` is for one thread at a time, the rest for any."""

    def __init__(self, folder: Path) -> None:
        """Raises FileUnreadableError if there is no such folder."""
        logs_in(folder)
        self.folder = folder
        self._index = IndexFile(folder)
        self._lock = threading.Lock()
        self._found = self._index.load()
        self._curves: dict[str, bytes] = {}

    @property
    def index_problem(self) -> str | None:
        """Why what is computed cannot be kept for next time."""
        return self._index.problem

    def pending(self) -> list[Path]:
        """The logs that are new, or have changed since they were judged. Those that are gone are forgotten.

        Raises FileUnreadableError if the folder cannot be listed.
        """
        paths = logs_in(self.folder)
        names = {path.name for path in paths}
        with self._lock:
            gone = [file for file in self._found if file not in names]
            for file in gone:
                del self._found[file]
            known = {file: found.stamp for file, found in self._found.items()}
        if gone:
            self._index.store([], gone)
        return [path for path in paths if known.get(path.name) != _stamp(path)]

    def refresh(
        self,
        pending: list[Path],
        on_progress: Callable[[int], None] = lambda _: None,
        should_stop: Callable[[], bool] = lambda: False,
    ) -> None:
        """Judge these logs. `on_progress` is told how many are done."""
        fresh: list[Indexed] = []
        try:
            for number, found in enumerate(judge_logs(pending, should_stop), 1):
                self._take(found)
                fresh.append(found)
                if len(fresh) >= KEPT_AT_ONCE:
                    self._keep(fresh)
                    fresh = []
                on_progress(number)
        finally:
            self._keep(fresh)

    def entries(self) -> list[LogbookEntry]:
        """Every flight with the owner's note as it is now, by file. A log that went into another one is passed over."""
        with self._lock:
            found = dict(self._found)
        rows = {file: one.row for file, one in found.items() if one.row is not None}
        went_into = {row.joined for row in rows.values() if row.joined is not None}
        entries = []
        for file in sorted(set(rows) - went_into):
            row = rows[file]
            note, problem = read_note(self.folder / file)
            seen = {file}
            before = row.joined
            while before is not None and before not in seen and "/" not in before and "\\" not in before:
                # What the owner wrote of a log holds of the one that it went into.
                seen.add(before)
                older, older_problem = read_note(self.folder / before)
                note, problem = note.or_else(older), problem or older_problem
                before = rows[before].joined if before in rows else None
            entries.append(LogbookEntry(row, note, problem))
        return entries

    def problems(self) -> list[tuple[str, str]]:
        """The logs that could not be read, with the reason."""
        with self._lock:
            return sorted((file, found.problem) for file, found in self._found.items() if found.problem is not None)

    def curve(self, file: str) -> bytes | None:
        """The packed curve of a flight; None if it has none."""
        with self._lock:
            if file not in self._found:
                return None
            kept = self._curves.get(file)
        return kept if kept is not None else self._index.curve(file)

    def log(self, name: str) -> Path:
        """The path of a log of this folder by its name. Raises FileUnreadableError if it is none."""
        path = self.folder / name
        if Path(name).name != name or not name.endswith(SUFFIX) or not path.is_file():
            raise FileUnreadableError(f"{name} is none of the logs in {self.folder}: name one as the logbook lists it.")
        return path

    def change_note(self, name: str, changes: Mapping[str, Any]) -> None:
        """Change the owner's note on a log. Raises FileUnreadableError, BadNoteError, OutputError."""
        change_note(self.log(name), changes)

    def _take(self, found: Indexed) -> None:
        with self._lock:
            self._found[found.file] = replace(found, curve=None)
            self._curves.pop(found.file, None)
            if found.curve is not None:
                self._curves[found.file] = found.curve

    def _keep(self, fresh: list[Indexed]) -> None:
        self._index.store(fresh)
        if self._index.problem is None:
            with self._lock:
                for found in fresh:
                    self._curves.pop(found.file, None)


def _stamp(path: Path) -> Stamp | None:
    with suppress(OSError):
        status = path.stat()
        return Stamp(status.st_size, status.st_mtime_ns)
    return None
