"""Bad plans: one line that names file, line and remedy, whichever command is given them, and nothing begun."""

import json
import os
import signal
import socket
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., subprocess.CompletedProcess[bytes]]
SAMPLE = b"@SMP,1,370,101312.4,18.62,9.79*4A5D\n"  # a worked line of PROTOCOL.md

# File, where the message says it is, and what it says to do.
BAD: dict[str, tuple[bytes, str, str]] = {
    "wrong-unit": (b'[field]\nwind = "10 kg"\n', "line 2", "use one of m/s, km/h, ft/s, mph, kn"),
    "no-unit": (b'[rocket]\n\nmass = "5"\n', "line 3", 'write for example "5 lb" or "2.3 kg"'),
    "text-for-a-number": (b'[rocket]\nmass = "heavy"\n', "line 2", 'write for example "5 lb" or "2.3 kg"'),
    "bare-number": (b"[rocket]\nmass = 5\n", "line 2", "write it in quotes with its unit"),
    "missing-table": (b'mass = "5 lb"\n', "line 1", "write [rocket] on a line of its own above it"),
    "tab-for-a-space": (b'[rocket]\nmass\t"5 lb"\n', "line 2", "write lines such as"),
    "nan": (b"[rocket]\ndrag_coefficient = nan\n", "line 2", "write a number from 0.05 to 3"),
    "infinite": (b'[rocket]\nmass = "inf lb"\n', "line 2", 'write for example "5 lb"'),
    "too-many-digits": (b"[rocket]\nmass = " + b"9" * 9000, "line 2", "is it the right file?"),
    "too-deep": (b"[rocket]\nmass = " + b"[" * 9000, "line 2", "is it the right file?"),
    "a-million-rows": (b"1.0,2.0\n" * 1_000_000, "line 8193", "is it the right file?"),
    "huge": (b"#" * 50_000_000, "line 1", "is it the right file?"),
    "binary": (b"\x7fELF\x02\x01\x01\x00\xff\xfe" * 100, "line 1", "save the plan as UTF-8 text"),
    "zeros": (bytes(1000), "line 1", "write lines such as"),
    "utf-16": ('[rocket]\nmass = "5 lb"\n'.encode("utf-16"), "line 1", "save the plan as UTF-8 text"),
}


@pytest.fixture(params=BAD)
def bad_plan(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, str, str]:
    """A bad plan in the test's folder: its name, and what must be said."""
    data, line, remedy = BAD[request.param]
    (tmp_path / f"{request.param}.toml").write_bytes(data)
    (tmp_path / "capture.txt").write_bytes(SAMPLE)
    return f"{request.param}.toml", line, remedy


def test_each_is_one_line_with_file_line_and_remedy(bad_plan: tuple[str, str, str], run_station: Run) -> None:
    name, line, remedy = bad_plan
    done = run_station("plan", "show", name)
    error = done.stderr.decode()
    assert (done.returncode, done.stdout, error.count("\n")) == (2, b"", 1)
    assert error.startswith(f"station: {name}: {line}")
    assert remedy in error
    assert len(error) < 500


@pytest.mark.parametrize(
    "command",
    ["check capture.txt", "replay capture.txt --no-open", "live loop:// --page 127.0.0.1:0 --no-open"],
    ids=lambda command: command.split()[0],
)
@pytest.mark.parametrize("bad_plan", ["wrong-unit", "a-million-rows", "binary"], indirect=True)
def test_every_command_with_a_plan_says_it_before_it_begins(
    command: str, bad_plan: tuple[str, str, str], run_station: Run, tmp_path: Path
) -> None:
    name, line, _ = bad_plan
    done = run_station(*command.split(), "--plan", name)
    assert (done.returncode, done.stdout, done.stderr.count(b"\n")) == (2, b"", 1)
    assert f"station: {name}: {line}" in done.stderr.decode()
    assert not (tmp_path / "flights").exists()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGTERM to send to another program")
def test_a_plan_that_goes_bad_while_it_records_does_not_matter_and_the_log_keeps_the_good_one(
    start_station: Callable[..., Any], run_station: Run, tmp_path: Path
) -> None:
    plan = tmp_path / "comet.toml"
    plan.write_text('[rocket]\nname = "Little Comet"\n[field]\nwind = "10 mph"\n', encoding="utf-8")
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = f"socket://127.0.0.1:{listener.getsockname()[1]}"
        live = start_station(
            "live", port, "--plan", "comet.toml", "--logs", "logs", "--page", "127.0.0.1:0", "--no-open"
        )
        sender, _ = listener.accept()
        with sender:
            live.line()
            log = Path(live.line().removeprefix("log: "))
            plan.write_bytes(b"\x00\xff" * 1000)
            sender.sendall(b"\n" + SAMPLE)
            sender.shutdown(socket.SHUT_WR)
            # The station closes its end when it has read to the end of ours.
            assert sender.recv(1) == b""
    assert live.end(signal.SIGTERM) == 0, live.errors()
    assert live.errors() == ""
    shown = json.loads(run_station("plan", "show", "--json", log).stdout)
    assert shown["plan"]["rocket_name"] == "Little Comet"
    assert shown["plan"]["wind_mps"] == 4.4704
    # The check takes the plan in the log, and another one only if it is given.
    checked = run_station("check", "--json", log)
    assert (checked.returncode, checked.stderr) == (3, b"")
    assert json.loads(checked.stdout)["source"]["lines"] == 1
    assert run_station("check", "--plan", "comet.toml", log).returncode == 2


def test_a_bad_plan_in_a_log_is_said_and_the_flight_is_judged_without_it(tmp_path: Path, run_station: Run) -> None:
    header = b'station flight log 1\nport: x\nplan: [field]\\x0Awind = "10"\\x0A\n\n'
    (tmp_path / "old.flight").write_bytes(header + b"1.000000 line " + SAMPLE)
    done = run_station("check", "--json", "old.flight")
    assert done.returncode == 3
    assert json.loads(done.stdout)["source"]["lines"] == 1
    error = done.stderr.decode()
    assert error.count("\n") == 1
    assert 'line 2: wind in [field]: "10" has no unit' in error
    assert "judged without a plan" in error
