"""The simulation that a plan names reaches the page: through the real commands."""

import json
import signal
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

PLAN = '[recovery]\ndeployment = "dual deployment"\n\n[prediction]\ncurve = "simulation.csv"\n'
# Thrown up at 90 m/s in a vacuum: highest 413.0 m, by v^2/2g with g = 9.80665 m/s^2.
ROWS = "".join(f"{0.1 * n:.1f},{90.0 * 0.1 * n - 4.903325 * (0.1 * n) ** 2:.2f}\n" for n in range(184))


def state_of(program: Any) -> dict[str, Any]:
    address = program.line().removeprefix("page: ")
    with urllib.request.urlopen(f"{address}api/state", timeout=60) as answer:
        state: dict[str, Any] = json.load(answer)
    return state


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "my.flight").write_bytes(flight_log(fly(SCENARIOS["nominal-dual"], 1)))
    (tmp_path / "comet.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "simulation.csv").write_text("Time (s),Altitude (m)\n" + ROWS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("arguments", [("replay", "my.flight"), ("demo", "nominal-dual")], ids=lambda a: a[0])
def test_the_simulated_course_is_told_to_the_page(
    folder: Path, start_station: Callable[..., Any], arguments: tuple[str, ...]
) -> None:
    program = start_station(*arguments, "--plan", "comet.toml", "--page", "127.0.0.1:0", "--no-open")
    course = state_of(program)["prediction"]
    assert max(course["altitude_m"]) == pytest.approx(413.0, abs=0.2)
    assert course["velocity_mps"][course["altitude_m"].index(max(course["altitude_m"]))] == pytest.approx(0.0, abs=1.0)
    assert program.end(signal.SIGINT) == 0
    assert program.errors() == ""


def test_a_simulation_that_cannot_be_read_is_complained_of_and_no_more(
    folder: Path, start_station: Callable[..., Any]
) -> None:
    (folder / "simulation.csv").unlink()
    program = start_station("replay", "my.flight", "--plan", "comet.toml", "--page", "127.0.0.1:0", "--no-open")
    assert state_of(program)["prediction"] is None
    assert program.end(signal.SIGINT) == 0
    (line,) = program.errors().splitlines()
    assert line.startswith("station: simulation.csv: cannot read the prediction: ")
    assert line.endswith("; the simulation is not drawn on the page")
