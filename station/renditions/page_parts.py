"""Reads the shared page's script and style from the package."""

from importlib.resources import files


def page_script() -> str:
    """The player."""
    return _read("share.js")


def page_style() -> str:
    """The page's look."""
    return _read("share.css")


def _read(name: str) -> str:
    return files("station.renditions").joinpath("assets", name).read_text(encoding="utf-8")
