"""What tests of many parts share: running the real command line as a program of its own."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, Queue
from typing import IO

import pytest

# As the console script does; -P so that the folder a test stands in is not searched for modules.
_PROGRAM = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]
PATIENCE_S = 60.0
"""How long a program may take to answer before a test fails: no result depends on it."""


def _environment() -> dict[str, str]:
    """No screen, so that no test opens a browser; the rest as it is."""
    hidden = {"DISPLAY", "WAYLAND_DISPLAY", "BROWSER"}
    return {name: value for name, value in os.environ.items() if name not in hidden}


class StationProgram:
    """A running `station`; its lines are read as they come."""

    def __init__(self, arguments: tuple[str, ...], folder: Path, environment: dict[str, str]) -> None:
        self.process = subprocess.Popen(
            [*_PROGRAM, *arguments],
            cwd=folder,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._lines: Queue[str | None] = Queue()
        self._errors: list[str | None] = []
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        self._readers = [
            threading.Thread(target=self._read, args=(self.process.stdout, self._lines.put), daemon=True),
            threading.Thread(target=self._read, args=(self.process.stderr, self._errors.append), daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    @staticmethod
    def _read(stream: IO[str], take: Callable[[str | None], None]) -> None:
        for line in stream:
            take(line.rstrip("\n"))
        take(None)

    def line(self) -> str:
        """The next line of standard output; fails the test if none comes."""
        try:
            line = self._lines.get(timeout=PATIENCE_S)
        except Empty:
            line = None
        if line is None:
            pytest.fail(f"no line from the program; on stderr: {self.errors()}")
        return line

    def end(self, signal_number: int | None = None) -> int:
        """The exit status, after a signal if one is given."""
        if signal_number is not None:
            self.process.send_signal(signal_number)
        status = self.process.wait(timeout=PATIENCE_S)
        for reader in self._readers:
            reader.join(timeout=PATIENCE_S)
        return status

    def rest(self) -> list[str]:
        """The lines of standard output that were not asked for yet; after `end`."""
        return [line for line in self._lines.queue if line is not None]

    def errors(self) -> str:
        """What came on standard error so far."""
        return "\n".join(line for line in self._errors if line is not None)

    def close(self) -> None:
        """End it by force if it still runs."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for reader in self._readers:
            reader.join(timeout=PATIENCE_S)
        for stream in (self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()


@pytest.fixture
def start_station(tmp_path: Path) -> Iterator[Callable[..., StationProgram]]:
    """Start `station ARGUMENTS` in the test's own folder; it is ended with the test."""
    started: list[StationProgram] = []

    def start(*arguments: str | Path) -> StationProgram:
        program = StationProgram(tuple(map(str, arguments)), tmp_path, _environment())
        started.append(program)
        return program

    yield start
    for program in started:
        program.close()


@pytest.fixture
def run_station(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[bytes]]:
    """Run `station ARGUMENTS` in the test's own folder to its end."""

    def run(*arguments: str | Path, stdout: int | IO[bytes] = subprocess.PIPE) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [*_PROGRAM, *map(str, arguments)],
            cwd=tmp_path,
            env=_environment(),
            stdin=subprocess.DEVNULL,
            stdout=stdout,
            stderr=subprocess.PIPE,
            timeout=PATIENCE_S,
            check=False,
        )

    return run
