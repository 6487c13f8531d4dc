"""Words that must not reach a user, whoever writes them.

"Safe" is for the range safety officer to say, and "deployed" would be said of a command where only the descent
can tell. Looked for in every text of the packages and in the documents.
"""

import ast
import re
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import pytest

FORBIDDEN = re.compile(r"\b(?:un)?safe(?:ly|r|st)?\b|\bdeployed\b", re.IGNORECASE)
CHECKOUT = Path(__file__).resolve().parents[1]
# Code may speak of threads, and a browser's content security policy has its own words: no user reads these.
ALLOWED = re.compile(r"thread-safe|'unsafe-(?:inline|eval)'", re.IGNORECASE)


def walk(folder: Traversable, suffixes: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from walk(entry, suffixes)
        elif entry.name.endswith(suffixes):
            yield str(entry), entry.read_text(encoding="utf-8")


def texts_in(source: str) -> list[str]:
    """The string constants of a Python source, docstrings too: those of commands are their help."""
    return [
        node.value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]


def found_in(text: str) -> list[str]:
    return FORBIDDEN.findall(ALLOWED.sub("", text))


@pytest.mark.parametrize("package", ["station", "dashboard"])
def test_no_text_of_the_program_has_a_forbidden_word(package: str) -> None:
    found = {
        name: words
        for name, source in walk(files(package), (".py",))
        if (words := found_in("\n".join(texts_in(source))))
    }
    assert found == {}


@pytest.mark.parametrize("package", ["station", "dashboard"])
def test_no_document_script_or_style_of_the_program_has_a_forbidden_word(package: str) -> None:
    suffixes = (".md", ".js", ".css", ".html", ".c", ".h", ".svg", ".txt")
    found = {name: words for name, text in walk(files(package), suffixes) if (words := found_in(text))}
    assert found == {}


def test_no_document_of_the_house_has_a_forbidden_word() -> None:
    documents = [*CHECKOUT.glob("*.md"), *CHECKOUT.glob("replay_samples/*.md")]
    assert len(documents) >= 3
    found = {str(path): words for path in documents if (words := found_in(path.read_text(encoding="utf-8")))}
    assert found == {}


@pytest.mark.parametrize("text", ["It is safe to approach", "Unsafe!", "land safely", "Main DEPLOYED", "a safer way"])
def test_the_search_finds_what_it_looks_for(text: str) -> None:
    assert len(found_in(text)) == 1


@pytest.mark.parametrize("text", ["the range safety officer", "the safety code", "a deployment", "deploy"])
def test_the_search_leaves_other_words_alone(text: str) -> None:
    assert found_in(text) == []
