"""One server for measuring: `serve.py push|interval POINTS`.

Prints its address and the wall time of sample 0, then feeds.
"""

import sys
import threading
import time
from collections.abc import Callable

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


def main() -> None:
    way, points = sys.argv[1], int(sys.argv[2])
    session, first = fed_session(points)
    session.set_source(is_open=True)
    if way == "push":
        from dashboard.server import PageServer

        address = PageServer(session, "127.0.0.1", 0).start()
    else:
        from interval_page import serve_interval_page

        address = serve_interval_page(session)
    start_s = time.time() + 0.5
    # The wall time, ms, at which the altimeter's clock stood at zero: a sample's T_MS plus this is when it was made.
    zero_ms = 1000 * start_s - 1000 * first / RATE_HZ
    print(address, zero_ms, flush=True)
    threading.Thread(target=feed_forever, args=(session, first, start_s, time.sleep), daemon=True).start()
    sys.stdin.read()


if __name__ == "__main__":
    main()
