"""Serves the start page, which the logbook page belongs to."""

import os
import sys
from pathlib import Path

from station.command.front_desk import FrontDesk
from station.command.page import Pages, can_open_browser, open_browser, served_page
from station.command.saying import say
from station.command.stopping import stop_on_signals
from station.errors import PageError

START, LOGBOOK = "", "logbook"


def serve_front(pages: Pages, logs: Path, page: tuple[str, int] | None, *, no_open: bool, show: str = START) -> None:
    """Serve the start page until somebody ends the station, and open a browser at the part to `show`.

    Raises PageError if nobody could come to see it, or if it cannot be served.
    """
    shown = can_open_browser() and not no_open
    if not shown and not no_open and page is None and not _has_terminal():
        raise PageError(
            "there is neither a screen for a browser nor a terminal here, so nobody would see the page: "
            "--no-open serves it all the same, station --help lists what else there is"
        )
    with stop_on_signals() as stop:
        desk = FrontDesk(pages, logs, stop.set)
        try:
            with served_page(pages.front, desk, page) as address:
                say(f"page: {address}{show}")
                if shown:
                    open_browser(f"{address}{show}")
                else:
                    say("Open this address in a browser on this machine. Without one: station --help")
                say("Ctrl-C ends the station, and whatever was opened on the page.")
                stop.wait()
        finally:
            desk.close_all()


def _has_terminal() -> bool:
    return any(stream is not None and os.isatty(stream.fileno()) for stream in (sys.stdin, sys.stdout))
