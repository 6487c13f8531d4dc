"""The page server: one object that the command line starts and stops around a flight session."""

import threading
from collections.abc import Callable

from dashboard.addresses import own_names, page_address
from dashboard.after_landing import AfterLanding
from dashboard.after_routes import add_after_route
from dashboard.app import make_app
from dashboard.compression import Gzip
from dashboard.playback import Playback
from dashboard.publisher import Publisher
from dashboard.qr_code import qr_lines
from dashboard.routes import add_routes
from dashboard.serving import MOST_VIEWERS, PageListener
from dashboard.sharing import shared_addresses
from station.session import FlightSession


class PageServer:
    """Shows one session on a page until stopped.

    `on_mark` is called with the operator's words, in a server thread; None hides the means to mark.
    """

    def __init__(
        self,
        session: FlightSession,
        host: str,
        port: int,
        *,
        playback: Playback | None = None,
        on_mark: Callable[[str], None] | None = None,
    ) -> None:
        self._session = session
        self._host = host
        self._port = port
        self._playback = playback
        self._on_mark = on_mark
        self._publisher: Publisher | None = None
        self._listener: PageListener | None = None

    def start(self) -> str:
        """Serve, and return the page's address. Port 0 takes any free one. Raises PageError."""
        app = make_app(served_on=self._host, playback=self._playback is not None, marks=self._on_mark is not None)
        publisher = Publisher(self._session, self._playback, most_viewers=MOST_VIEWERS)
        Gzip(app.server)
        add_routes(
            app.server,
            publisher,
            own_names=own_names(self._host),
            served_on=self._host,
            playback=self._playback,
            on_mark=self._on_mark,
        )
        playback = self._playback
        add_after_route(app.server, AfterLanding(self._session, None if playback is None else lambda: playback.saved))
        listener = PageListener(app.server, self._host, self._port)
        publisher.start()
        listener.start()
        if self._playback is not None:
            # The page answers meanwhile; the buttons that jump to an event come when it is known.
            threading.Thread(target=self._playback.find_events, name="page-events", daemon=True).start()
        self._publisher, self._listener = publisher, listener
        return page_address(listener.host, listener.port)

    def share_lines(self) -> list[str]:
        """What to print so that spectators on the same network find the page: a QR code and the addresses.

        Empty if not started, or if only this machine can reach it.
        """
        addresses = [] if self._listener is None else shared_addresses(self._host, self._listener.port)
        if not addresses:
            return []
        return [*qr_lines(addresses[0]), *(f"spectators: {address}" for address in addresses)]

    def stop(self) -> None:
        """End every viewer's stream and give the address back. Does nothing if not started."""
        if self._publisher is not None and self._listener is not None:
            self._publisher.stop()
            self._listener.stop()
            self._publisher = self._listener = None
