"""The server of the start page, and of the logbook, the plan and the first lesson beside it: plain pages, no Dash."""

from flask import Flask

from dashboard.addresses import own_names, page_address
from dashboard.compression import Gzip
from dashboard.front_routes import add_front_routes
from dashboard.guarding import guard
from dashboard.plan_routes import add_plan_routes
from dashboard.serving import PageListener
from station.command.front_desk import FrontDesk


class FrontServer:
    """Serves the pages around one desk until stopped."""

    def __init__(self, desk: FrontDesk, host: str, port: int) -> None:
        self._desk = desk
        self._host = host
        self._port = port
        self._listener: PageListener | None = None

    def start(self) -> str:
        """Serve, and return the page's address. Port 0 takes any free one. Raises PageError."""
        server = Flask("station_front", static_folder=None)
        Gzip(server)
        guard(server, own_names(self._host))
        add_front_routes(server, self._desk, served_on=self._host)
        add_plan_routes(server, self._desk, served_on=self._host)
        listener = PageListener(server, self._host, self._port)
        listener.start()
        self._listener = listener
        return page_address(listener.host, listener.port)

    def stop(self) -> None:
        """Give the address back. Does nothing if not started."""
        if self._listener is not None:
            self._listener.stop()
            self._listener = None
