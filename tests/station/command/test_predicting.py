"""`station check` beside a simulation: through the real command, with what people get wrong."""

import json
import os
import pty
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log
from station.virtual.virtual_flight import VirtualFlight

Run = Callable[..., CompletedProcess[bytes]]
PROGRAM = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]
ROWS = "".join(f"{0.1 * n:.1f},{90.0 * 0.1 * n - 4.903325 * (0.1 * n) ** 2:.2f}\n" for n in range(184))
PLAN = '[recovery]\ndeployment = "motor ejection"\n\n[prediction]\ncurve = "simulation.csv"\n'


@pytest.fixture(scope="module")
def flight() -> VirtualFlight:
    return fly(SCENARIOS["ejection-in-time"], 1)


@pytest.fixture
def folder(tmp_path: Path, flight: VirtualFlight) -> Path:
    """The flight's log, a good simulation and a plan that names it."""
    (tmp_path / "my.flight").write_bytes(flight_log(flight))
    (tmp_path / "simulation.csv").write_text("Time (s),Altitude (m)\n" + ROWS, encoding="utf-8")
    (tmp_path / "comet.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path


def compared(done: CompletedProcess[bytes]) -> bool:
    return b"Prediction: apogee" in done.stdout


def test_a_simulation_named_on_the_command_line_is_compared(folder: Path, run_station: Run) -> None:
    done = run_station("check", "my.flight", "--prediction", "simulation.csv")
    assert (done.returncode, done.stderr) == (0, b"")
    assert compared(done)


def test_the_one_that_the_plan_names_lies_beside_the_plan(folder: Path, run_station: Run) -> None:
    (folder / "plans").mkdir()
    for name in ("comet.toml", "simulation.csv"):
        (folder / name).rename(folder / "plans" / name)
    done = run_station("check", "my.flight", "--plan", "plans/comet.toml", "--json")
    assert (done.returncode, done.stderr) == (0, b"")
    document = json.loads(done.stdout)
    assert document["prediction"]["file"] == str(Path("plans/simulation.csv"))
    assert document["prediction"]["differences"][0]["name"] == "apogee"


def test_columns_are_told_by_the_user(folder: Path, run_station: Run) -> None:
    (folder / "odd.csv").write_text("Clock,Up\n" + ROWS, encoding="utf-8")
    asked = run_station("check", "my.flight", "--prediction", "odd.csv")
    assert asked.returncode == 2
    assert (
        b'odd.csv: line 1: cannot tell which column is the time: there are 1 "Clock", 2 "Up": say which' in asked.stderr
    )
    told = run_station("check", "my.flight", "--prediction", "odd.csv", "--columns", "time=1[s],altitude=Up[ft]")
    assert told.returncode == 0
    assert compared(told)


def test_a_plan_can_say_the_columns(folder: Path, run_station: Run) -> None:
    (folder / "simulation.csv").write_text("Clock,Up\n" + ROWS, encoding="utf-8")
    plan = PLAN + 'columns = "time=Clock[s],altitude=2[ft]"\n'
    (folder / "comet.toml").write_text(plan, encoding="utf-8")
    done = run_station("check", "my.flight", "--plan", "comet.toml")
    assert (done.returncode, done.stderr) == (0, b"")
    assert compared(done)
    (folder / "comet.toml").write_text(plan.replace("time=", "tim="), encoding="utf-8")
    refused = run_station("check", "my.flight", "--plan", "comet.toml")
    assert refused.returncode == 2
    assert b"names no column: write for example" in refused.stderr or b"columns in [prediction]" in refused.stderr


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminal of this kind")
def test_at_a_terminal_it_asks_which_column_is_which(folder: Path) -> None:
    """Which one, and in what unit: each by its number; a word is asked again."""
    (folder / "odd.csv").write_text("Clock (s),Up\n" + ROWS, encoding="utf-8")
    mine, theirs = pty.openpty()
    with subprocess.Popen(
        [*PROGRAM, "check", "my.flight", "--prediction", "odd.csv", "--columns", "time=1"],
        cwd=folder,
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=theirs,
    ) as program:
        os.close(theirs)
        os.write(mine, b"up\n2\n1\n")
        assert program.stdout is not None
        told = program.stdout.read()
        assert program.wait(60) == 0
    seen = os.read(mine, 10_000).decode()
    os.close(mine)
    assert b"Prediction: apogee" in told
    assert "odd.csv: Which column is the altitude?" in seen
    assert " 2  column 2: Up" in seen
    assert "Type a number from 1 to 2" in seen
    assert 'In what unit is column 2 "Up", the altitude?' in seen
    assert 'columns = "time=1,altitude=2[m]" in the plan' in seen


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("none.csv", None, "none.csv: cannot read the prediction: "),
        ("bad.csv", "", "bad.csv: line 1: it is empty: "),
        ("bad.csv", "Time (s),Altitude (m)\n0,0\n0.1,nan\n0.2,1\n0.3,2\n0.4,3\n", "bad.csv: line 3: altitude is nan: "),
    ],
)
def test_a_bad_simulation_is_one_line_and_nothing_is_judged(
    folder: Path, run_station: Run, name: str, text: str | None, says: str
) -> None:
    if text is not None:
        (folder / name).write_text(text, encoding="utf-8")
    done = run_station("check", "my.flight", "--prediction", name)
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.decode().startswith(f"station: {says}")
    assert done.stderr.count(b"\n") == 1


def test_a_bad_simulation_that_only_the_plan_names_does_not_keep_the_flight_from_being_judged(
    folder: Path, run_station: Run
) -> None:
    (folder / "simulation.csv").write_text("Time (s),Altitude (m)\n0,many\n", encoding="utf-8")
    done = run_station("check", "my.flight", "--plan", "comet.toml")
    assert done.returncode == 0
    assert b"The parachute held the fall" in done.stdout
    assert not compared(done)
    assert done.stderr.decode().startswith("station: simulation.csv: line 2: ")
    assert b"not compared with the simulation: give one with --prediction" in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_columns_without_a_simulation_are_wrong_use(folder: Path, run_station: Run) -> None:
    done = run_station("check", "my.flight", "--columns", "time=1")
    assert done.returncode == 2
    assert b"--columns is for a simulation: name it with --prediction, or in the plan" in done.stderr
