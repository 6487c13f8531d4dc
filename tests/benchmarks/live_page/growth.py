"""What grows in eight hours: as many points as come in that time at 50 a second, as fast as the server tells them.

The page gets every point and draws all the while. Its heap after its garbage has been collected and the server's
memory go up and down as old points are thinned, so what they hold for good is in the least of some readings. Compared
are the least in the second quarter, when all that is bounded is full and most of the page's script is compiled, and in
the last.
"""

from long_flight import RATE_HZ
from measured_server import MeasuredServer
from playwright.sync_api import Browser
from watched_page import WatchedPage

HOURS = 8
POINTS_PER_S = 7_200
PATIENCE_S = 120.0
EARLY = (0.26, 0.3, 0.34, 0.38, 0.42, 0.46, 0.5)
LATE = (0.76, 0.8, 0.84, 0.88, 0.92, 0.96, 1.0)


def measure(browser: Browser) -> dict[str, float]:
    points = HOURS * 3600 * RATE_HZ
    with MeasuredServer("day", POINTS_PER_S) as server:
        watched = WatchedPage(browser)
        try:
            if watched.open(server.address, "push", 45.0) is None:
                raise RuntimeError("the page did not open")
            readings = []
            for share in EARLY + LATE:
                if not watched.wait_for(f"station.stream.store.count >= {share * points}", PATIENCE_S):
                    raise RuntimeError("the points came too slowly")
                watched.collect_garbage()
                metrics = watched.metrics()
                readings.append((metrics["JSHeapUsedSize"], metrics["Nodes"], float(server.memory_bytes())))
        finally:
            watched.page.close()
    early, late = readings[: len(EARLY)], readings[len(EARLY) :]
    growth = [
        min(then) / min(before) - 1.0
        for before, then in zip(zip(*early, strict=True), zip(*late, strict=True), strict=True)
    ]
    return {
        "points": float(points),
        "heap_bytes": min(heap for heap, _, _ in late),
        "heap_growth": growth[0],
        "nodes_growth": growth[1],
        "server_growth": growth[2],
    }
