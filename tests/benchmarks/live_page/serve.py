"""One server for measuring: `serve.py push|interval|day POINTS`.

Prints its address and the wall time of sample 0, then feeds. `day` feeds POINTS points a second of an endless flight
that no pipeline made. A line "restart" on standard input serves the page anew at the same address.
"""

import sys
import threading
import time
from collections.abc import Callable
from typing import cast

from long_flight import RATE_HZ, WAIT_S, line

from station.pipeline import Pipeline
from station.session import FlightSession


def fed_session(points: int) -> tuple[FlightSession, int]:
    """A session whose curve already has `points` points; and the number of the next line."""
    session = FlightSession(Pipeline(), "benchmark", lambda: time.monotonic_ns() // 1000)
    index = 0
    while index < WAIT_S * RATE_HZ or len(session.points(0)) < points:
        step = max(1, points - len(session.points(0)))
        for number in range(index, index + step):
            session.take_line(line(number), time.monotonic_ns() // 1000)
        index += step
    return session, index


def feed_forever(session: FlightSession, first: int, start_s: float, sleep: Callable[[float], None]) -> None:
    """One sample every 20 ms of the wall clock, counted from `start_s`."""
    index = first
    while True:
        due_s = start_s + (index - first) / RATE_HZ
        now_s = time.time()
        if due_s > now_s:
            sleep(due_s - now_s)
        session.take_line(line(index), time.monotonic_ns() // 1000)
        index += 1


def announce(address: str, session: FlightSession, first: int) -> None:
    """Print where the page is, and start the feeding from line `first`."""
    start_s = time.time() + 0.5
    # The wall time, ms, at which the altimeter's clock stood at zero: a sample's T_MS plus this is when it was made.
    print(address, 1000 * start_s - 1000 * first / RATE_HZ, flush=True)
    threading.Thread(target=feed_forever, args=(session, first, start_s, time.sleep), daemon=True).start()


def serve_page(session: FlightSession, begin: Callable[[str], None]) -> None:
    """Serve the page until standard input ends, anew whenever asked to; `begin` is told the address."""
    from dashboard.server import PageServer

    page = PageServer(session, "127.0.0.1", 0)
    address = page.start()
    begin(address)
    for command in sys.stdin:
        if command.strip() == "restart":
            page.stop()
            page = PageServer(session, "127.0.0.1", int(address.rstrip("/").rpartition(":")[2]))
            page.start()
            print("restarted", flush=True)
    page.stop()


def main() -> None:
    way, points = sys.argv[1], int(sys.argv[2])
    if way == "day":
        from endless_session import EndlessSession

        serve_page(cast(FlightSession, EndlessSession(points)), lambda address: print(address, 0, flush=True))
        return
    session, first = fed_session(points)
    session.set_source(is_open=True)
    if way == "push":
        serve_page(session, lambda address: announce(address, session, first))
        return
    from interval_page import serve_interval_page

    announce(serve_interval_page(session), session, first)
    sys.stdin.read()


if __name__ == "__main__":
    main()
