"""`station import` on real files, through the real command line."""

import json
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from station.virtual import SCENARIOS, fly_setup
from station.virtual.flight_setup import Moment, Silence
from station.virtual.radio import CLEAR
from station.virtual.saved_flight import bare_capture, flight_log

Run = Callable[..., subprocess.CompletedProcess[bytes]]


@cache
def heard_and_read(seed: int) -> tuple[bytes, bytes]:
    """A club flight as the radio brought it, with a hole, and what was read out after landing."""
    setup = SCENARIOS["nominal-dual"].setup(seed)
    hole = replace(setup.faults, silences=(Silence(Moment.DROGUE_FIRED, -3.0, 7.0),))
    heard = fly_setup(replace(setup, faults=hole), seed)
    return flight_log(heard), bare_capture(fly_setup(replace(setup, radio=CLEAR), seed))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two logs under `flights`, and what was read out of the first flight's altimeter."""
    (tmp_path / "flights").mkdir()
    for seed in (1, 3):
        (tmp_path / f"flights/club-{seed}.flight").write_bytes(heard_and_read(seed)[0])
    (tmp_path / "readout.txt").write_bytes(heard_and_read(1)[1])
    return tmp_path


def test_a_read_out_finds_its_flight_and_the_check_says_what_the_radio_had_missed(
    folder: Path, run_station: Run
) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*.*") if path.is_file()}
    done = run_station("import", "readout.txt", fresh=True)
    assert (done.returncode, done.stderr) == (0, b"")
    written, joined_with = done.stdout.decode().splitlines()
    assert written == f"written: {Path('flights/club-1-joined.flight')}"
    assert joined_with.startswith(f"  Joined with {Path('flights/club-1.flight')}: the radio had missed ")
    checked = run_station("check", "flights/club-1-joined.flight").stdout.decode()
    assert "of which the radio had missed" in checked
    assert "missing from both: 0" in checked
    told = json.loads(run_station("check", "--json", "flights/club-1-joined.flight").stdout)
    assert told["source"]["unheard"] > 300
    assert {path: path.read_bytes() for path in before} == before
    assert sorted(path.name for path in folder.rglob("*.*") if path not in before) == ["club-1-joined.flight"]


def test_it_is_not_joined_twice(folder: Path, run_station: Run) -> None:
    run_station("import", "readout.txt")
    again = run_station("import", "readout.txt")
    assert b"has all of it already. Nothing was written." in again.stdout
    over = run_station("import", "readout.txt", "--join", "flights/club-1.flight")
    assert over.returncode == 2
    assert b"exists already and is not written over" in over.stderr


def test_a_read_out_of_another_flight_is_refused_in_one_line(folder: Path, run_station: Run) -> None:
    done = run_station("import", "readout.txt", "--join", "flights/club-3.flight")
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.count(b"\n") == 1
    assert (
        b"readout.txt is not of the same flight as flights/club-3.flight: no sample is in both"
        in done.stderr.replace(b"\\", b"/")
    )


def test_a_read_out_without_a_log_becomes_one(tmp_path: Path, run_station: Run) -> None:
    (tmp_path / "old flight.txt").write_bytes(heard_and_read(1)[1])
    done = run_station("import", "old flight.txt")
    assert done.returncode == 0
    assert run_station("check", "flights/old flight.flight").returncode == 0
    again = run_station("import", "old flight.txt")
    assert again.stdout.startswith(b"old flight.txt: ")
    assert b"has all of it already" in again.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["missing.txt"], b"missing.txt does not exist"),
        (["flights/club-1.flight"], b"is a log of the station already"),
        (["readout.txt", "--join", "missing.flight"], b"missing.flight does not exist"),
        (["readout.txt", "--join", "readout.txt"], b"has no times to join by"),
        (["readout.txt", "readout.txt", "--join", "flights/club-1.flight"], b"--join goes with one FILE"),
        ([], b"FILE..."),
    ],
)
def test_bad_input_is_one_line_with_status_2(folder: Path, run_station: Run, arguments: list[str], said: bytes) -> None:
    done = run_station("import", *arguments)
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert said in done.stderr


def test_two_stations_that_heard_one_flight_must_be_told_apart(folder: Path, run_station: Run) -> None:
    (folder / "flights/second-laptop.flight").write_bytes(heard_and_read(1)[0])
    done = run_station("import", "readout.txt")
    assert done.returncode == 2
    assert b"fits more than one log" in done.stderr
    assert run_station("import", "readout.txt", "--join", "flights/second-laptop.flight").returncode == 0
