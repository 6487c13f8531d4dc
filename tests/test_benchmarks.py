"""The benchmarks still run, each on a few flights; their figures are nobody's business here."""

import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

BENCHMARKS = Path(__file__).parent / "benchmarks"


def printed(script: str, *arguments: str) -> str:
    """What a benchmark prints; it may find a target missed (status 1), but must not fail otherwise."""
    done = subprocess.run(
        [sys.executable, BENCHMARKS / script, *arguments], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode in (0, 1), done.stderr
    assert "Traceback" not in done.stderr
    return done.stdout


def test_the_table_of_truth_prints_our_errors_beside_the_ordinary_way() -> None:
    arguments = ("--flights", "3", "--first-seed", "11", "--ordinary-every", "1", "--faults", "none")
    table = printed("truth_table.py", *arguments)
    (apogee,) = re.findall(r"^apogee +(\d+) .* (\d+) +[\d.]+$", table, re.MULTILINE)
    assert apogee == ("3", "3")


def test_the_tables_of_verdicts_and_false_calls_print_their_flights() -> None:
    faults = ("none", "main-silent")
    table = printed("truth_table.py", "--verdicts", "2", "--false-calls", "4", "--faults", *faults)
    assert re.search(r"^main-silent +main ", table, re.MULTILINE)
    assert "confirmed where it did not open or was tangled: 0 of 4" in table
    assert re.search(r"^4 flights, \d+ snapshots", table, re.MULTILINE)


def test_the_benchmark_of_speed_prints_its_ratios() -> None:
    told = printed("speed.py", "--hours", "0.05", "--turns", "1")
    for line in ("ratio of the wholes", "against the first minute", "processor time of the whole process"):
        assert line in told


def test_the_benchmark_of_the_logbook_prints_its_figures() -> None:
    told = printed("logbook.py", "--flights", "12", "--judged", "4")
    assert re.search(r"^judging: [\d.]+ flights/s", told, re.MULTILINE)
    assert re.search(r"^listing 12 flights: [\d.]+ s", told, re.MULTILINE)


@pytest.fixture
def watching(monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    return import_module("watched_flight")


def opening(t_ms: float):  # type: ignore[no-untyped-def]
    from station.flight_state import Basis, Event, EventName

    return Event(EventName.MAIN, t_ms, 100.0, -20.0, 0.1, Basis.ESTIMATED, t_ms + 400.0)


def test_an_opening_that_is_taken_back_and_called_again_is_a_second_call(watching) -> None:  # type: ignore[no-untyped-def]
    openings = watching.Openings()
    looks = [[], [opening(5000.0)], [opening(5050.0)], [], [opening(5050.0)]]
    assert [list(openings.take(tuple(look))) for look in looks] == [
        [],
        [],
        [],
        [],
        ["main called, taken back and called again"],
    ]


def test_an_opening_that_moves_by_more_than_a_second_is_a_second_call(watching) -> None:  # type: ignore[no-untyped-def]
    openings = watching.Openings()
    assert list(openings.take((opening(5000.0),))) == []
    assert list(openings.take((opening(5900.0),))) == []
    assert list(openings.take((opening(6100.0),))) == ["main called at two moments"]
