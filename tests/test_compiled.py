"""The compiled modules give what their plain Python gives, to the last bit: see setup.py."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import station.pipeline

CHECKOUT = Path(__file__).resolve().parents[1]
IS_COMPILED = not str(station.pipeline.__file__).endswith(".py")

# Run with "plain" it leaves the compiled modules aside; nothing else differs.
ALL_THAT_IS_SAID = """
import hashlib, sys
from importlib.machinery import FileFinder, SourceFileLoader
from pathlib import Path

def plain(folder):
    if "station" not in Path(folder).parts[-2:]:
        raise ImportError(folder)
    return FileFinder(folder, (SourceFileLoader, [".py"]))

if sys.argv[1] == "plain":
    sys.path_hooks.insert(0, plain)
import station.pipeline
from station.after_landing import judge_pipeline
from station.flight_log.entries import EntryKind, LogEntry, entry_from, entry_text
from station.virtual.random_flights import random_flight

print(Path(station.pipeline.__file__).suffix)
for seed, fault, *least_m in [named.split(":") for named in sys.argv[2:]]:
    flight = random_flight(int(seed), fault, apogee_m=(1500.0, 6500.0)) if least_m else random_flight(int(seed), fault)
    pipeline, said = station.pipeline.Pipeline(), hashlib.sha256()
    lines = list(flight.heard())
    # Some lines are damaged, lost, heard twice or have no time of arrival.
    for k, (line, arrival_us) in enumerate(lines):
        if k % 97 == 13:
            line = line[: k % 31] + b"\\xff" + line[k % 31 + 2 :]
        text = entry_text(LogEntry(EntryKind.LINE, arrival_us, line))
        said.update(repr((text, entry_from(text[:-1]), entry_from(text[k % 9 :]))).encode())
        for _ in range({1: 0, 2: 2}.get(k % 89, 1)):
            estimate = pipeline.take_line(line, None if k % 61 == 5 else arrival_us)
            said.update(repr(estimate).encode())
        if k % 50 == 0:
            said.update(repr(pipeline.snapshot()).encode())
    said.update(repr(pipeline.snapshot(over=True)).encode())
    said.update(repr(pipeline.tracker.flown).encode())
    said.update(repr(judge_pipeline(pipeline, file="")).encode())
    print(fault, len(lines), said.hexdigest())
"""
# The last is by pressure alone, past the speed of sound.
FLIGHTS = ["81:tangled-main", "81:drogue-early", "81:restart", "81:pad-gusts", "701746:none:high"]


def said(*arguments: str) -> list[str]:
    command = [sys.executable, "-P", "-c", ALL_THAT_IS_SAID, *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()


def modules_to_compile() -> list[str]:
    for statement in ast.parse((CHECKOUT / "setup.py").read_text(encoding="utf-8")).body:
        if isinstance(statement, ast.Assign) and ast.unparse(statement.targets[0]) == "COMPILED":
            return list(ast.literal_eval(statement.value))
    raise AssertionError("setup.py names no modules")


def test_every_module_that_is_to_be_compiled_exists() -> None:
    assert [name for name in modules_to_compile() if not (CHECKOUT / name).is_file()] == []


def test_where_a_compiler_is_at_hand_all_of_them_were_compiled() -> None:
    if not IS_COMPILED:
        if os.environ.get("CI"):
            pytest.fail("not compiled: the build said why (a C compiler and Python's headers are wanted)")
        pytest.skip("not compiled here: an editable install, the checkout itself, or no C compiler")
    installed = Path(str(station.pipeline.__file__)).parents[1]
    for name in modules_to_compile():
        folder, stem = installed / Path(name).parent, Path(name).stem
        assert [path for path in folder.glob(f"{stem}.*") if path.suffix in (".so", ".pyd")], name


def test_compiled_and_plain_say_the_same_to_the_last_bit() -> None:
    if not IS_COMPILED:
        pytest.skip("not compiled here, so there is nothing to compare")
    compiled, plain = said("compiled", *FLIGHTS), said("plain", *FLIGHTS)
    assert compiled[0] in (".so", ".pyd")
    assert plain[0] == ".py"
    assert len(compiled) == 1 + len(FLIGHTS)
    assert compiled[1:] == plain[1:]
