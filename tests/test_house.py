"""README, CI and packaging say and hold what they should."""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from importlib.resources import files
from pathlib import Path

import pytest

import station

CHECKOUT = Path(__file__).resolve().parents[1]
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
IN_CI = bool(os.environ.get("CI"))


def blocks(language: str) -> list[str]:
    return [block.strip() for block in re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)]


def test_the_readme_has_two_commands_each_with_its_windows_form() -> None:
    assert len(blocks("sh")) == len(blocks("powershell")) == 2
    for unix, windows in zip(blocks("sh"), blocks("powershell"), strict=True):
        as_windows = (
            unix.replace("python3 -m venv", "py -m venv").replace(" &&", ";").replace(".venv/bin/", ".venv\\Scripts\\")
        )
        assert as_windows == windows


def test_the_commands_of_the_readme_install_and_run_what_this_project_has() -> None:
    demo, tests = blocks("sh")
    assert demo.endswith(".venv/bin/python -m pip install . && .venv/bin/station demo")
    assert tests.endswith(".venv/bin/python -m pip install '.[test]' && .venv/bin/pytest")
    assert "station" in PROJECT["project"]["scripts"]
    assert any(wanted.startswith("pytest") for wanted in PROJECT["project"]["optional-dependencies"]["test"])


def test_ci_runs_the_readme_s_second_command_to_the_letter() -> None:
    script = CHECKOUT / ".ci" / "run"
    assert blocks("sh")[1] in script.read_text(encoding="utf-8").splitlines()
    assert os.name == "nt" or os.access(script, os.X_OK)


def commands_in(text: str) -> list[list[str]]:
    """Every `station ...` command line that a document shows in code, without placeholders."""
    found = re.findall(r"`station ([^`]*)`", text)
    return [command.split() for command in found if not re.search(r"\b(FILE|NAME|LOG|FOLDER)\b|\*", command)]


@pytest.mark.parametrize("arguments", commands_in(README), ids=" ".join)
def test_every_command_that_the_readme_shows_is_one(arguments: list[str]) -> None:
    """Parsed by the real command line, options and values included, without running it."""
    from station.command.group import station_group

    if arguments[0].startswith("--"):
        return
    context = station_group.make_context("station", ["--help"], resilient_parsing=True)
    command = station_group.get_command(context, arguments[0])
    assert command is not None
    if len(arguments) == 1 or "--help" in arguments:  # only named, or asked about itself
        return
    command.make_context(arguments[0], arguments[1:])


def test_every_document_that_the_readme_links_to_exists() -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", README)
    assert links
    assert [link for link in links if not (CHECKOUT / link).exists()] == []


def test_the_version_is_written_once() -> None:
    assert "version" not in PROJECT["project"]
    assert PROJECT["tool"]["setuptools"]["dynamic"]["version"] == {"attr": "station.__version__"}


def test_what_ci_tests_is_the_installed_package_and_not_the_checkout() -> None:
    if not IN_CI:
        pytest.skip("only .ci/run promises that; here PYTHONPATH may point at the checkout")
    assert Path(str(files("station"))) != CHECKOUT / "station"
    assert distribution("rocket-ground-station").version == station.__version__


def test_the_installed_package_has_every_file_that_is_not_python() -> None:
    wanted = {
        str(path.relative_to(CHECKOUT))
        for package in ("station", "dashboard")
        for path in (CHECKOUT / package).rglob("*")
        # README's pictures are for the reader of the checkout.
        if path.is_file() and path.suffix not in (".py", ".pyc") and path.parent.name != "screenshots"
    }
    assert {"station/py.typed", "station/PLAN.md", "station/wire/sender.c"} <= {
        name.replace("\\", "/") for name in wanted
    }
    installed = {package: Path(str(files(package))).parent for package in ("station", "dashboard")}
    assert {name for name in wanted if not (installed[Path(name).parts[0]] / name).is_file()} == set()


def test_the_console_command_is_installed() -> None:
    try:
        points = distribution("rocket-ground-station").entry_points
    except PackageNotFoundError:
        if IN_CI:
            raise
        pytest.skip("the package is not installed here: it is run from the checkout")
    assert [point.value for point in points if point.name == "station"] == ["dashboard.command:main"]
    program = shutil.which("station", path=str(Path(sys.executable).parent))
    assert program is not None
    done = subprocess.run([program, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == f"station {station.__version__}\n"
