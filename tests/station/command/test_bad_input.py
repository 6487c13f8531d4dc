"""What a person may get wrong: one line that says what to do, the right exit status, never a traceback."""

import json
import os
import random
import signal
import socket
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., subprocess.CompletedProcess[bytes]]


@pytest.fixture
def odd_files(tmp_path: Path) -> Path:
    """A folder of files that are no flights, and one that is."""
    noise = random.Random(11).randbytes(200_000)
    contents = {
        "empty.txt": b"",
        "noise.bin": noise,
        "letter.txt": b"Dear club,\nsee you on Sunday.\n",
        "zeros.bin": bytes(10_000),
        "one_long_line.txt": b"@SMP," + b"9" * 3_000_000,
        "bad_crc.txt": b"@SMP,1,370,101312.4,18.62,9.79*0000\n" * 100,
        "later.flight": b"station flight log 99\n\n",
        "damaged.flight": b"station flight log ?!\n\n",
        "capture.txt": b"@SMP,1,370,101312.4,18.62,9.79*4A5D\n",
        "bad.toml": b'[recovery]\nmain_height = "500"\n',
        "noise.toml": noise,
        "noise_and_a_line.bin": noise + b"\n@SMP,1,370,101312.4,18.62,9.79*4A5D\n" + noise,
    }
    for name, data in contents.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "folder").mkdir()
    return tmp_path


def assert_one_line(done: subprocess.CompletedProcess[bytes], status: int, said: str) -> None:
    error = done.stderr.decode()
    assert "Traceback" not in error
    assert (done.returncode, error.count("\n"), done.stdout) == (status, 1, b""), error
    assert error.startswith("station: ")
    assert said in error
    assert "defect" not in error


BAD = [
    ("check missing.flight", "missing.flight"),
    ("check folder", "is a folder"),
    ("check empty.txt", "empty"),
    ("check noise.bin", "not a flight"),
    ("check letter.txt", "not a flight"),
    ("check zeros.bin", "zeros.bin"),
    ("check one_long_line.txt", "not a flight"),
    ("check bad_crc.txt", "not a flight"),
    ("check later.flight", "later version"),
    ("check damaged.flight", "damaged"),
    ("check --json noise.bin", "not a flight"),
    ("check capture.txt --plan missing.toml", "missing.toml"),
    ("check capture.txt --plan folder", "folder"),
    ("check capture.txt --plan bad.toml", "bad.toml: line 2: main_height"),
    ("check capture.txt --plan noise.toml", "noise.toml"),
    ("check capture.txt --air-temperature nan", "--air-temperature"),
    ("check capture.txt --air-temperature 200", "--air-temperature"),
    ("check --jsno capture.txt", "--json"),
    ("replay missing.flight --no-open", "missing.flight"),
    ("replay folder --no-open", "is a folder"),
    ("replay noise.bin --no-open", "not a flight"),
    ("replay capture.txt --speed fast --no-open", "--speed"),
    ("replay capture.txt --speed nan --no-open", "--speed"),
    ("replay capture.txt --page 127.0.0.1 --no-open", "HOST:PORT"),
    ("replay capture.txt --page no.such.host.invalid:0 --no-open", "no.such.host.invalid"),
    ("live /dev/no-such-port --page 127.0.0.1:0 --no-open", "/dev/no-such-port"),
    ("live capture.txt --page 127.0.0.1:0 --no-open", "not a serial port"),
    ("live folder --page 127.0.0.1:0 --no-open", "folder"),
    ("live nonsense://x --page 127.0.0.1:0 --no-open", "nonsense://x"),
    ("live socket://127.0.0.1:1 --page 127.0.0.1:0 --no-open", "nobody answers"),
    ("live loop:// --baud 1 --no-open", "--baud"),
    ("live loop:// --plan bad.toml --no-open", "line 2"),
    ("live loop:// --logs capture.txt --page 127.0.0.1:0 --no-open", "capture.txt"),
    ("demo nominal-duel --no-open", "did you mean nominal-dual?"),
    ("demo --to pyt --no-open", "--to"),
    ("emulate", "SCENARIO"),
    ("emulate nominal-dual --pace nan", "--pace"),
    ("emulate nominal-dual --seed -1", "--seed"),
    ("emulate nominal-dual --to folder", "folder"),
    ("emulate nominal-dual --to no-such-folder/x.txt", "no-such-folder"),
    ("emulate nominal-dual --to later.flight", "not written over"),
    ("emulate nominal-dual --to /dev/no-such-port", "/dev/no-such-port"),
    ("emulate nominal-dual --to socket://127.0.0.1:1", "nobody answers"),
    ("fly", "station --help"),
]


@pytest.mark.parametrize(("command", "said"), BAD, ids=[command for command, _ in BAD])
def test_bad_input_is_one_line_with_the_right_status(
    command: str, said: str, run_station: Run, odd_files: Path
) -> None:
    assert_one_line(run_station(*command.split()), 2, said)
    assert not (odd_files / "flights").exists()


def test_a_flight_with_too_little_in_it_is_exit_status_3(run_station: Run, odd_files: Path) -> None:
    for name in ("capture.txt", "noise_and_a_line.bin"):
        done = run_station("check", "--json", name)
        assert (done.returncode, done.stderr) == (3, b"")
        assert json.loads(done.stdout)["verdict"] == "not_observed"


def test_a_bad_file_does_not_stop_the_others_and_the_most_serious_answer_is_the_status(
    run_station: Run, odd_files: Path
) -> None:
    for scenario, name in (("nominal-dual", "good.txt"), ("main-stays-in", "look.txt")):
        assert run_station("emulate", scenario, "--to", name, "--pace", "0").returncode == 0
    for files, status in (
        (["good.txt"], 0),
        (["look.txt"], 1),
        (["good.txt", "capture.txt"], 3),
        (["good.txt", "noise.bin", "capture.txt"], 2),
        (["missing.flight", "look.txt", "folder", "capture.txt", "good.txt"], 1),
    ):
        done = run_station("check", "--json", *files)
        assert done.returncode == status
        flights = [name for name in files if name in ("good.txt", "look.txt", "capture.txt")]
        assert [json.loads(line)["source"]["file"] for line in done.stdout.splitlines()] == flights
        assert done.stderr.count(b"\n") == len(files) - len(flights)


def test_a_page_address_that_is_taken_is_said(run_station: Run, odd_files: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        address = f"127.0.0.1:{taken.getsockname()[1]}"
        assert_one_line(run_station("replay", "capture.txt", "--page", address, "--no-open"), 2, address)
        assert_one_line(run_station("live", "loop://", "--page", address, "--no-open"), 2, address)
    assert not (odd_files / "flights").exists()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGTERM to send to another program")
def test_without_a_wish_the_page_takes_the_next_free_address(
    start_station: Callable[..., Any], odd_files: Path
) -> None:
    first = start_station("replay", "capture.txt", "--no-open")
    second = start_station("replay", "capture.txt", "--no-open")
    addresses = {first.line(), second.line()}
    assert len(addresses) == 2
    assert all(address.startswith("page: http://127.0.0.1:80") for address in addresses)
    assert [first.end(signal.SIGTERM), second.end(signal.SIGTERM)] == [0, 0]


@pytest.mark.skipif(os.name == "nt", reason="Windows has no /dev/full")
def test_a_full_standard_output_is_said_and_is_no_verdict(run_station: Run, odd_files: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = run_station("check", "capture.txt", stdout=full)
    error = done.stderr.decode()
    assert done.returncode == 2
    assert error.count("\n") == 1
    assert "standard output" in error


@pytest.mark.skipif(os.name == "nt", reason="pipes of Windows end otherwise")
@pytest.mark.parametrize("command", ["check capture.txt", "emulate nominal-dual --to stdout --pace 0", "--help"])
def test_a_reader_that_has_gone_ends_it_without_a_word_and_without_a_verdict(
    command: str, run_station: Run, odd_files: Path
) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = run_station(*command.split(), stdout=writer)
    finally:
        os.close(writer)
    assert (done.returncode, done.stderr) == (141, b"")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGTERM to send to another program")
def test_a_screenful_of_noise_is_recorded_and_counted_and_the_recorder_goes_on(
    start_station: Callable[..., Any], run_station: Run, odd_files: Path
) -> None:
    noise = (odd_files / "noise.bin").read_bytes()
    good = b"\n@SMP,1,370,101312.4,18.62,9.79*4A5D\n"
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = f"socket://127.0.0.1:{listener.getsockname()[1]}"
        live = start_station("live", port, "--logs", "logs", "--page", "127.0.0.1:0", "--no-open")
        sender, _ = listener.accept()
        with sender:
            live.line()
            log = Path(live.line().removeprefix("log: "))
            # Only now: a port that is opened throws away what came before.
            sender.sendall(noise + good)
            sender.shutdown(socket.SHUT_WR)
            # The station closes its end when it has read to the end of ours.
            assert sender.recv(1) == b""
    assert live.end(signal.SIGTERM) == 0, live.errors()
    assert live.errors() == ""
    done = run_station("check", "--json", log)
    assert done.returncode == 3
    source = json.loads(done.stdout)["source"]
    assert source["lines"] - source["rejected"] == 1
    assert source["rejected"] > 100
