"""What the commands with a page share: its options, making it, saying where it is."""

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, runtime_checkable

import click

from station.command.saying import say
from station.errors import PageError

if TYPE_CHECKING:
    from station.command.front_desk import FrontDesk
    from station.session import FlightSession

DEFAULT_HOST = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"
DEFAULT_PORT = 8050
NOBODY_ELSE = "Nobody else can reach the page: join a network (a phone's hotspot will do) and leave --page out."
_SHARING = "station.share"
_PORTS_TRIED = 10  # when nobody asked for a port, a second station beside the first takes the next


class Page(Protocol):
    """A server of the page that shows one session."""

    def start(self) -> str:
        """Serve; returns the page's address once it answers. Raises PageError if the address is taken."""

    def stop(self) -> None:
        """Stop serving."""


@runtime_checkable
class Shared(Protocol):
    """A page that others may look at."""

    def share_lines(self) -> list[str]:
        """What to print so that others on the network find the page; empty if they cannot reach it."""


MakePage = Callable[..., Page]
"""(session, host, port, *, playback=None, on_mark=None) -> Page"""


class Pages(Protocol):
    """Makes both kinds of page: called, that of a session; `front`, the start page."""

    def __call__(self, *arguments: Any, **named: Any) -> Page:
        """As MakePage."""

    def front(self, *arguments: Any, **named: Any) -> Page:
        """(desk, host, port) -> Page"""


Function = TypeVar("Function", bound=Callable[..., Any])


def _host_and_port(_ctx: click.Context, _option: click.Parameter, written: str | None) -> tuple[str, int] | None:
    """HOST:PORT taken apart, an IPv6 host out of its brackets; port 0 takes any free one."""
    if written is None:
        return None
    host, colon, port = written.rpartition(":")
    if host.startswith("[") and host.endswith("]"):
        host = host[1:-1]
    elif ":" in host:
        colon = ""
    if not (colon and host and port.isascii() and port.isdigit() and int(port) <= 65_535):
        raise click.BadParameter(f"{written!r} is not HOST:PORT, such as 127.0.0.1:8050 or 0.0.0.0:8050")
    return host, int(port)


def page_options(command: Function) -> Function:
    """Add --page and --no-open."""
    command = click.option(
        "--no-open",
        "no_open",
        is_flag=True,
        help="Do not open a browser: only print the page's address.",
    )(command)
    return click.option(
        "--page",
        metavar="HOST:PORT",
        callback=_host_and_port,
        help=f"Where to serve the page [default: {DEFAULT_HOST}:{DEFAULT_PORT}, or the next port that is "
        "free]. --share lets phones and laptops on your network look too.",
    )(command)


def share_option(command: Function) -> Function:
    """Add --share; `served_page` heeds it."""
    return click.option(
        "--share",
        is_flag=True,
        expose_value=False,
        callback=_note_sharing,
        help="Serve the page to the network that this machine is in, and print the spectators' address with a QR "
        "code for their phones. They can look and change nothing.",
    )(command)


def _note_sharing(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    ctx.meta[_SHARING] = wanted


def _is_shared() -> bool:
    ctx = click.get_current_context(silent=True)
    return ctx is not None and bool(ctx.meta.get(_SHARING))


@contextmanager
def served_page(
    make_page: MakePage, session: "FlightSession | FrontDesk", page: tuple[str, int] | None, **extras: Any
) -> Iterator[str]:
    """Serve the page of a session, or the start page, while inside; yields its address.

    `page` is (host, port), None for the default. Raises PageError if it cannot be served there.
    """
    server, address = _start(make_page, session, page, extras)
    try:
        if _is_shared():
            lines = server.share_lines() if isinstance(server, Shared) else []
            for line in lines or [NOBODY_ELSE]:
                say(line)
        yield address
    finally:
        server.stop()


def announce(address: str, *, no_open: bool, log: Path | None = None) -> None:
    """Say where the page is and what is being written, and open a browser if wanted."""
    say(f"page: {address}")
    if log is not None:
        say(f"log: {log}")
    if not no_open:
        open_browser(address)


def _start(
    make_page: MakePage, session: "FlightSession | FrontDesk", page: tuple[str, int] | None, extras: dict[str, Any]
) -> tuple[Page, str]:
    if page is not None:
        server = make_page(session, *page, **extras)
        return server, server.start()
    host = EVERY_ADDRESS if _is_shared() else DEFAULT_HOST
    for port in range(DEFAULT_PORT, DEFAULT_PORT + _PORTS_TRIED - 1):
        server = make_page(session, host, port, **extras)
        with suppress(PageError):
            return server, server.start()
    server = make_page(session, host, DEFAULT_PORT + _PORTS_TRIED - 1, **extras)
    return server, server.start()


def can_open_browser() -> bool:
    """Whether there is a screen, as far as can be told."""
    on_a_desktop = os.name == "nt" or sys.platform == "darwin"
    return on_a_desktop or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))


def open_browser(address: str) -> None:
    """Show `address` in the user's browser if there is a screen; whatever goes wrong does not matter."""
    if can_open_browser():
        # A thread, because some systems answer only when the browser has started.
        threading.Thread(target=_open, args=(address,), name="browser-opener", daemon=True).start()


def _open(address: str) -> None:
    import webbrowser  # only a page needs it, and every command loads this file

    with suppress(Exception):
        webbrowser.open(address)
