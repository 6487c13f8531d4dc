"""What a person sees when something goes wrong: one line, never a traceback."""

import re
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import NoReturn

import click
import pytest

from station.command.run import CLOSED_PIPE_STATUS, DEFECT_STATUS, INTERRUPTED_STATUS, run
from station.errors import PortMissingError


def no_page(*_arguments: object, **_named: object) -> NoReturn:
    raise AssertionError("no page is wanted here")


@pytest.fixture(autouse=True)
def thread_hook(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)


@pytest.fixture
def ports_does(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """Let `station ports` do something else."""

    def replace(action: Callable[[], object]) -> None:
        stand_in = click.Command("ports", callback=action)
        monkeypatch.setitem(sys.modules, "station.command.ports", SimpleNamespace(command=stand_in))

    return replace


def raising(error: BaseException) -> Callable[[], None]:
    def action() -> None:
        raise error

    return action


def the_line(capsys: pytest.CaptureFixture[str]) -> str:
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.endswith("\n")
    return err.rstrip("\n")


def test_an_error_of_ours_is_its_text_in_one_line(
    ports_does: Callable[[Callable[[], object]], None], capsys: pytest.CaptureFixture[str]
) -> None:
    ports_does(raising(PortMissingError("COM7: no such port:\n plug it in")))
    assert run(no_page, ["ports"]) == 2
    assert the_line(capsys) == "station: COM7: no such port: plug it in"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["emulate", "nominal-dual", "--sed", "5"], "station emulate --help"),
        (["emulate", "nominal-dual", "--seed", "five"], "--seed"),
        (["emulate", "nominal-dual", "--pace", "-1"], "--pace"),
        (["emulate", "nominal-dual", "--loss", "100"], "--loss"),
        (["emulate"], "SCENARIO"),
        (["emulate", "nominal-duel"], "did you mean nominal-dual?"),
        (["emulate", "nothing-like-it"], "choose one of nominal-dual, "),
        (["fly"], "station --help"),
        (["--loud"], "station --help"),
        (["--no-open", "ports"], "options for ports are written after that word"),
        (["check"], "FILE..."),
        (["check", "x", "--air-temperature", "warm"], "--air-temperature"),
        (["live", "--page", "8050"], "is not HOST:PORT, such as 127.0.0.1:8050"),
        (["live", "--page", "host:99999"], "is not HOST:PORT"),
        (["live", "--page", "::1:8050"], "is not HOST:PORT"),
        (["live", "--baud", "0"], "--baud"),
        (["replay", "x", "--speed", "0"], "--speed"),
        (["replay"], "FILE"),
    ],
)
def test_wrong_use_is_one_line_that_says_where_help_is(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(no_page, arguments) == 2
    assert said in the_line(capsys)


def test_a_defect_is_said_in_one_line_and_its_details_are_kept(
    ports_does: Callable[[Callable[[], object]], None],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    ports_does(raising(KeyError("lost\nkey")))
    assert run(no_page, ["ports"]) == DEFECT_STATUS
    line = the_line(capsys)
    assert line.startswith("station: this is a defect of the program, not of your flight: KeyError:")
    (kept,) = tmp_path.iterdir()
    assert str(kept) in line
    assert "Traceback" in kept.read_text(encoding="utf-8")


def test_a_defect_in_a_thread_is_said_in_one_line_too(
    ports_does: Callable[[Callable[[], object]], None],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))

    def fail_in_a_thread() -> None:
        thread = threading.Thread(target=raising(ValueError("broken")))
        thread.start()
        thread.join()

    ports_does(fail_in_a_thread)
    assert run(no_page, ["ports"]) == 0
    assert "ValueError: broken" in the_line(capsys)


@pytest.mark.parametrize(
    ("error", "status"),
    [(KeyboardInterrupt(), INTERRUPTED_STATUS), (BrokenPipeError(), CLOSED_PIPE_STATUS)],
)
def test_an_interruption_or_a_reader_that_left_is_no_error(
    error: BaseException,
    status: int,
    ports_does: Callable[[Callable[[], object]], None],
    capsys: pytest.CaptureFixture[str],
) -> None:
    ports_does(raising(error))
    assert run(no_page, ["ports"]) == status
    assert "Traceback" not in capsys.readouterr().err


def test_help_shows_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(no_page, ["--help"]) == 0
    out = capsys.readouterr().out
    for name in ("demo", "live", "replay", "check", "emulate", "ports", "import", "logbook"):
        assert f"  {name} " in out


@pytest.mark.parametrize("name", ["demo", "live", "replay", "check", "emulate", "ports"])
def test_the_help_of_every_command_has_examples_of_it(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(no_page, [name, "--help"]) == 0
    out = capsys.readouterr().out
    assert "Examples:" in out
    assert re.search(rf"^ +station {name}", out, re.MULTILINE)


def test_the_version_is_the_package_s(capsys: pytest.CaptureFixture[str]) -> None:
    import station

    assert run(no_page, ["--version"]) == 0
    assert capsys.readouterr().out == f"station {station.__version__}\n"
