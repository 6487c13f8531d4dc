"""`station logbook` through the real command line."""

import json
import subprocess
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from station.logbook.index import INDEX_NAME
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

Run = Callable[..., subprocess.CompletedProcess[bytes]]


@cache
def log_bytes(scenario: str) -> bytes:
    return flight_log(fly(SCENARIOS[scenario], 1))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two flights, and a file that is none, under `flights`."""
    (tmp_path / "flights").mkdir()
    for scenario in ("main-silent", "nominal-dual"):
        (tmp_path / f"flights/{scenario}.flight").write_bytes(log_bytes(scenario))
    (tmp_path / "flights/noise.flight").write_bytes(bytes(range(256)))
    return tmp_path


def test_it_lists_every_flight_and_says_what_it_passed_over(folder: Path, run_station: Run) -> None:
    done = run_station("logbook", "--sort", "landing", fresh=True)
    assert done.returncode == 0
    lines = done.stdout.decode().splitlines()
    assert lines[0].split()[:4] == ["date", "rocket", "motor", "apogee"]
    assert "main-silent.flight" in lines[1]
    assert "! not fired" in lines[1]
    assert "nominal-dual.flight" in lines[2]
    assert any(line.startswith("by rocket") for line in lines)
    assert any(line.startswith("by impulse class") for line in lines)
    assert done.stderr.decode().splitlines()[0].startswith("station: passed over noise.flight: ")
    assert (folder / "flights" / INDEX_NAME).exists()
    assert run_station("logbook", "--sort", "landing").stdout == done.stdout


def test_words_of_the_owner_are_kept_beside_the_log_and_outlive_the_index(folder: Path, run_station: Run) -> None:
    log = "flights/main-silent.flight"
    done = run_station("logbook", "--remark", log, "Windy.", "--rocket", log, "Little Comet", "--motor", log, "F40-7")
    assert done.returncode == 0
    (folder / "flights" / INDEX_NAME).write_bytes(b"spoilt")
    told = json.loads(run_station("logbook", "--json", "--search", "comet windy").stdout)
    (flight,) = told["flights"]
    assert (flight["rocket"], flight["motor"], flight["remarks"]) == ("Little Comet", "F40-7", "Windy.")
    assert (flight["impulse_class"], flight["main"]) == ("F", "not_fired")
    assert told["not_read"][0]["file"] == "noise.flight"
    assert told["by_rocket"][0]["name"] == "Little Comet"


def test_units_and_searches_that_find_nothing(folder: Path, run_station: Run) -> None:
    assert b" ft " in run_station("logbook", "--units", "feet").stdout
    assert run_station("logbook", "--search", "nothing like it").stdout == b"No flight has all of these words.\n"
    (folder / "empty").mkdir()
    assert run_station("logbook", "empty").stdout.startswith(b"No flights in empty yet")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere"], b"nowhere does not exist"),
        (["flights/noise.flight"], b"is not a folder"),
        (["--sort", "colour"], b"--sort"),
        (["--remark", "flights/none.flight", "x"], b"is no recorded flight to write a note on"),
        (["--day", "flights/main-silent.flight", "yesterday"], b"is not a day such as 2031-05-04"),
        (["--remark", "flights/main-silent.flight"], b"--remark"),
    ],
)
def test_bad_input_is_one_line_with_status_2(folder: Path, run_station: Run, arguments: list[str], said: bytes) -> None:
    done = run_station("logbook", *arguments)
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.count(b"\n") == 1
    assert said in done.stderr
