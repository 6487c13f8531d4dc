"""The console command `station`: the command line, with the page put in its hands."""

import sys
from typing import Any

from station.command.page import Page
from station.command.run import run


def _make_page(*arguments: Any, **named: Any) -> Page:
    """Dash is imported only here, when a page is wanted: that takes a second."""
    from dashboard.server import PageServer

    return PageServer(*arguments, **named)


def main() -> None:
    """Run the command line and end the program with its status."""
    sys.exit(run(_make_page))
