"""The tree of errors that a user may see."""

import ast
import inspect
from importlib.resources import files
from importlib.resources.abc import Traversable

import pytest

from station import errors
from station.errors import StationError

TREE = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if kind.__module__ == errors.__name__]


def raised_in(folder: Traversable) -> list[tuple[str, ast.Call]]:
    """Every call of one of our error classes in the sources: where, and the call."""
    names = {kind.__name__ for kind in TREE}
    found = []
    for entry in folder.iterdir():
        if entry.is_dir():
            found += raised_in(entry)
        elif entry.name.endswith(".py"):
            for node in ast.walk(ast.parse(entry.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names:
                    found.append((f"{entry.name}:{node.lineno}", node))
    return found


@pytest.mark.parametrize("kind", TREE)
def test_every_error_is_of_the_one_tree_explains_itself_and_ends_with_status_2(kind: type[StationError]) -> None:
    assert issubclass(kind, StationError)
    assert kind.__doc__
    assert kind.exit_code == 2  # "bad usage or not a flight" of the check's contract
    assert str(kind("flight.txt: wrong: do this")) == "flight.txt: wrong: do this"


def test_the_base_is_never_raised_itself() -> None:
    calls = [place for package in ("station", "dashboard") for place, node in raised_in(files(package))
             if ast.unparse(node.func) == "StationError"]  # fmt: skip
    assert calls == []


def test_the_texts_of_errors_have_no_line_break_and_say_what_to_do() -> None:
    calls = [call for package in ("station", "dashboard") for call in raised_in(files(package))]
    assert len(calls) > 20
    for place, node in calls:
        assert len(node.args) == 1, place
        texts = [part.value for part in ast.walk(node.args[0]) if isinstance(part, ast.Constant)]
        written = "".join(text for text in texts if isinstance(text, str))
        assert "\n" not in written, place
