"""What tests of many parts share: running the real command line as a program of its own, and a false start."""

import gc
import json
import os
import select
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from math import exp
from pathlib import Path
from queue import Empty, Queue
from typing import IO

import pytest

from dashboard.command import GARBAGE_SOUGHT_EVERY
from station.records import Record, SampleRecord
from station.virtual.scenarios import club_rocket
from station.virtual.virtual_flight import fly_setup
from station.wire import encode

# As the console script does; -P so that the folder a test stands in is not searched for modules.
_PROGRAM = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]
# As the program does: flights by the hundred are flown here.
gc.set_threshold(GARBAGE_SOUGHT_EVERY)
PATIENCE_S = 60.0
"""How long a program may take to answer before a test fails: no result depends on it."""

_MOST_PROCESSES = 4
"""Each may have a Chromium of its own, and the longest file takes as long as ever."""


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """The processes that the tests are spread over; 0 is this one, for tests that were named or chosen."""
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    chosen = config.option.keyword or config.option.markexpr or config.option.lf or config.option.capture == "no"
    if not whole or chosen:
        return 0
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    # One more than cores: who waits for the browser or for a program leaves a core idle.
    return min(cores + 1, _MOST_PROCESSES) if cores > 1 else 0


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


class LoadedStation:
    """`station` with its parts loaded already, see station_again.py; started when first wanted."""

    def __init__(self, folder: Path) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._folder = folder

    def run(self, arguments: tuple[str, ...], folder: Path, stdin: bytes) -> subprocess.CompletedProcess[bytes]:
        streams = {name: self._folder / name for name in ("stdin", "stdout", "stderr")}
        streams["stdin"].write_bytes(stdin)
        streams["stdout"].write_bytes(b"")
        streams["stderr"].write_bytes(b"")
        asked = {"arguments": arguments, "folder": str(folder), "environment": _environment()}
        status = self._ask(asked | {name: str(path) for name, path in streams.items()})
        return subprocess.CompletedProcess(
            ["station", *arguments], status, streams["stdout"].read_bytes(), streams["stderr"].read_bytes()
        )

    def _ask(self, asked: dict[str, object]) -> int:
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, "-P", Path(__file__).with_name("station_again.py")],
                cwd=self._folder,
                env=_environment(),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                bufsize=0,
                start_new_session=True,
            )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asked).encode() + b"\n")
        if not select.select([self._process.stdout], [], [], PATIENCE_S)[0]:
            self.close()
            pytest.fail(f"station {asked['arguments']} did not end")
        return int(self._process.stdout.readline())

    def close(self) -> None:
        """End it by force, with what it may be running."""
        if self._process is not None:
            os.killpg(self._process.pid, signal.SIGKILL)
            with self._process:
                self._process = None


@pytest.fixture(scope="session")
def loaded_station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LoadedStation]:
    station = LoadedStation(tmp_path_factory.mktemp("station"))
    yield station
    station.close()


@pytest.fixture
def run_station(tmp_path: Path, loaded_station: LoadedStation) -> Callable[..., subprocess.CompletedProcess[bytes]]:
    """Run `station ARGUMENTS` in the test's own folder to its end, in a process of its own.

    `fresh`: from nothing, as a person's shell does; else, on Linux, with its parts loaded already.
    """

    def run(
        *arguments: str | Path, stdin: bytes = b"", stdout: int | IO[bytes] = subprocess.PIPE, fresh: bool = False
    ) -> subprocess.CompletedProcess[bytes]:
        words = tuple(map(str, arguments))
        if sys.platform == "linux" and stdout == subprocess.PIPE and not fresh:
            return loaded_station.run(words, tmp_path, stdin)
        return subprocess.run(
            [*_PROGRAM, *words],
            cwd=tmp_path,
            env=_environment(),
            input=stdin,
            stdout=stdout,
            stderr=subprocess.PIPE,
            timeout=PATIENCE_S,
            check=False,
        )

    return run


# -- a liftoff called falsely, and the flight after it ---------------------------------------------------------------

_PAD_S = 40.0
_SWELL_S = 15.0
_SWELL_MPS2 = 60.0
_SWELLS_FOR_S = 0.65
_PASCAL_PER_M = 11.9


class FalseStart:
    """A flight whose ports a gust blows over on the pad, just as a climb would look, and then no more.

    Each line without its LF, with its arrival time, as `Pipeline.take_line` takes it; times in s from the first line.
    """

    swell_s, called_by_s, taken_back_by_s, liftoff_s = _SWELL_S, _SWELL_S + 1.0, _SWELL_S + 10.0, _PAD_S

    def __init__(self, seed: int = 3) -> None:
        setup = replace(club_rocket(seed), accelerometer=None, pad_s=_PAD_S)
        self.flight = fly_setup(setup, seed, "false start")
        self.calm = [(encode(record)[:-1], round(t_s * 1e6)) for t_s, record in self.flight.records]
        self.lines = [(encode(_blown_on(record, t_s))[:-1], round(t_s * 1e6)) for t_s, record in self.flight.records]


def _blown_on(record: Record, t_s: float) -> Record:
    since_s = t_s - _SWELL_S
    if not isinstance(record, SampleRecord) or record.pressure_pa is None or since_s < 0.0:
        return record
    height_m = 0.5 * _SWELL_MPS2 * min(since_s, _SWELLS_FOR_S) ** 2
    height_m *= exp(-max(0.0, since_s - _SWELLS_FOR_S) / 0.3)
    return record._replace(pressure_pa=round(record.pressure_pa - _PASCAL_PER_M * height_m, 2))


@pytest.fixture(scope="session")
def false_start() -> FalseStart:
    return FalseStart()
