"""Reads the pages' scripts and styles from the package."""

from importlib.resources import files


def page_script() -> str:
    """The shared page's player."""
    return _read("share.js")


def page_style() -> str:
    """The shared page's look."""
    return _read("share.css")


def after_style() -> str:
    """The look of the page after landing."""
    return _read("after.css")


def _read(name: str) -> str:
    return files("station.renditions").joinpath("assets", name).read_text(encoding="utf-8")
