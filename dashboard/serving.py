"""Waitress as this page needs it: a thread for each viewer's stream, which another thread may write to, and an end
for viewers that stop reading.

waitress buffers what a viewer does not read; beyond `MOST_UNSENT_BYTES` we hang up. The browser comes back by
itself and gets the whole.
"""

import errno
import select
import socket
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from waitress.channel import ClientDisconnected, HTTPChannel
from waitress.server import create_server
from waitress.task import WSGITask

from station.errors import PageError

MOST_VIEWERS = 64
OTHER_THREADS = 8
MOST_UNSENT_BYTES = 256 * 1024
SEND_BUFFER_BYTES = 128 * 1024
GONE_AFTER_MS = 20_000
"""How long Linux goes on resending to a viewer that has walked away (TCP_USER_TIMEOUT, RFC 5482)."""

_OUTLET = "station.outlet"


@dataclass(frozen=True, slots=True)
class Outlet:
    """The way out to one viewer: how much it has not read yet, how to hang up, and how to write from any thread.

    `write` raises ConnectionError when the viewer is gone; None: only the response's own thread can write.
    """

    unsent_bytes: Callable[[], int]
    drop: Callable[[], None]
    write: Callable[[bytes], None] | None = None

    @staticmethod
    def of(environ: dict[str, Any]) -> "Outlet":
        """The outlet of a request; under another server (a test's client) one that is never stuck."""
        outlet = environ.get(_OUTLET)
        return outlet if isinstance(outlet, Outlet) else Outlet(lambda: 0, lambda: None)

    def is_stuck(self) -> bool:
        """Whether the viewer has stopped reading."""
        return self.unsent_bytes() > MOST_UNSENT_BYTES

    def send(self, data: bytes) -> bool:
        """Write without waiting; False: the viewer is gone, or was dropped because it does not read."""
        if self.write is None:
            return False
        if self.is_stuck():
            self.drop()
            return False
        try:
            self.write(data)
        except ConnectionError:
            return False
        return True


class _Task(WSGITask):  # type: ignore[misc]
    def get_environment(self) -> dict[str, Any]:
        environ: dict[str, Any] = super().get_environment()
        channel = self.channel

        def drop() -> None:
            channel.will_close = True
            channel.server.pull_trigger()

        def write(data: bytes) -> None:
            try:
                self.write(data)
            except ClientDisconnected as error:
                raise ConnectionError from error

        environ[_OUTLET] = Outlet(lambda: int(channel.total_outbufs_len), drop, write)
        return environ


class _Channel(HTTPChannel):  # type: ignore[misc]
    task_class = _Task


class PageListener:
    """Serves a WSGI application on one address, in threads of its own."""

    def __init__(self, application: Callable[..., Any], host: str, port: int) -> None:
        """Bind the address; raises PageError if it cannot be had."""
        listening = _bound(host, port)
        self.host, self.port = listening.getsockname()[:2]
        self._server = create_server(
            application,
            sockets=[listening],
            threads=MOST_VIEWERS + OTHER_THREADS,
            outbuf_high_watermark=16 * MOST_UNSENT_BYTES,
            channel_request_lookahead=1,
            connection_limit=1000,
            max_request_body_size=64 * 1024,
            max_request_header_size=32 * 1024,
            log_socket_errors=False,
            asyncore_use_poll=hasattr(select, "poll"),
            ident=None,
            clear_untrusted_proxy_headers=True,
        )
        self._server.channel_class = _Channel
        # Its default holds small messages back until 18 kB have gathered; as an argument it is deprecated.
        self._server.adj.send_bytes = 1
        self._server.adj.socket_options = _socket_options()
        self._thread = threading.Thread(target=self._server.run, name="page-server", daemon=True)

    def start(self) -> None:
        """Begin to answer."""
        self._thread.start()

    def stop(self) -> None:
        """Answer no more. End the streams first, or their threads are waited for in vain."""
        server = self._server
        server.task_dispatcher.shutdown(timeout=3)
        if not self._thread.is_alive():
            server.close()
            return

        def close_all() -> None:
            for channel in list(server.active_channels.values()):
                channel.handle_close()
            server.close()

        server.trigger.pull_trigger(close_all)
        self._thread.join(timeout=3)


def _socket_options() -> list[tuple[int, int, int]]:
    options = [
        (socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),
        (socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_BYTES),
    ]
    if hasattr(socket, "TCP_USER_TIMEOUT"):
        options.append((socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, GONE_AFTER_MS))
    return options


def _bound(host: str, port: int) -> socket.socket:
    where = f"{host or '*'}:{port}"
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host or None, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except (OSError, OverflowError) as error:
        raise PageError(f"{where}: no such address on this machine; try --page 127.0.0.1:0") from error
    listening = socket.socket(family, kind, protocol)
    try:
        if sys.platform == "win32":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        # Two sockets may be bound here as long as neither listens: only listening shows that the address is free.
        listening.listen()
    except (OSError, OverflowError) as error:
        listening.close()
        raise PageError(_why_not(where, error)) from error
    return listening


def _why_not(where: str, error: Exception) -> str:
    match error:
        case PermissionError():
            return f"{where}: this port is not open to you; choose one above 1023, for example --page 127.0.0.1:8050"
        case OSError(errno=number) if number == errno.EADDRINUSE:
            return f"{where}: taken by another program; choose another port, or 0 for any free one (--page HOST:0)"
        case _:
            return f"{where}: the page cannot be served here ({error}); try --page 127.0.0.1:0"
