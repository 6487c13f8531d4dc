"""`station` alone, as a program."""

import json
import signal
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

PATIENCE_S = 60.0


def test_where_nobody_could_see_the_page_it_says_what_to_do(run_station: Callable[..., Any]) -> None:
    done = run_station()
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.count(b"\n") == 1
    assert b"--no-open serves it all the same, station --help lists what else there is" in done.stderr


@pytest.mark.parametrize("arguments", [["--no-open"], ["logbook", "--browser", "--no-open"]])
def test_the_page_is_served_until_the_program_is_asked_to_end(
    start_station: Callable[..., Any], tmp_path: Path, arguments: list[str]
) -> None:
    (tmp_path / "flights").mkdir()
    program = start_station(*arguments, "--page", "127.0.0.1:0")
    address = program.line().removeprefix("page: ")
    assert program.line().startswith("Open this address in a browser on this machine")
    with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:
        assert b"Ground station" in answer.read()
    assert program.end(signal.SIGINT) == 0
    assert program.errors() == ""


def test_the_page_itself_can_end_it(start_station: Callable[..., Any]) -> None:
    program = start_station("--no-open", "--page", "127.0.0.1:0")
    address = program.line().removeprefix("page: ")
    request = urllib.request.Request(
        f"{address}api/open",
        json.dumps({"do": "end"}).encode(),
        {"Content-Type": "application/json", "Origin": address.rstrip("/")},
    )
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        assert answer.status == 204
    assert program.end() == 0
