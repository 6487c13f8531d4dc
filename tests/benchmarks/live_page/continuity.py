"""Whether a viewer loses or doubles a point when the line is cut and when the page's server is started anew."""

import socket
import threading
import time
from collections import Counter
from contextlib import suppress

from long_flight import RATE_HZ
from measured_server import MeasuredServer
from playwright.sync_api import Browser
from watched_page import WatchedPage

POINTS = 3000
HELD = "station.stream.store.columns[0]"


class CuttableLine:
    """Passes bytes on to a port of this machine; can be cut for a while."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._open: set[socket.socket] = set()
        self._is_cut = False
        self._lock = threading.Lock()
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self, seconds: float) -> None:
        """Hang up on everybody and take no new call for so long."""
        with self._lock:
            self._is_cut = True
            ends, self._open = self._open, set()
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
        time.sleep(seconds)
        with self._lock:
            self._is_cut = False

    def close(self) -> None:
        self.cut(0.0)
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            with self._lock:
                if self._is_cut:
                    near.close()
                    continue
            try:
                far = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                near.close()
                continue
            with self._lock:
                self._open |= {near, far}
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(1 << 16):
                other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


def measure(browser: Browser) -> dict[str, float]:
    """Two cuts and a restarted server within half a minute; every point of that time is looked for."""
    with MeasuredServer("push", POINTS) as server:
        line = CuttableLine(server.port)
        watched = WatchedPage(browser)
        page = watched.page
        try:
            if watched.open(f"http://127.0.0.1:{line.port}/", "push", 45.0) is None:
                raise RuntimeError("the page did not open")
            page.wait_for_timeout(2000)
            first_ms = page.evaluate(f"{HELD}.at(-1)")
            for trouble in (lambda: line.cut(1.0), server.restart, lambda: line.cut(4.0)):
                page.wait_for_timeout(2500)
                trouble()
            before = page.evaluate(f"{HELD}.at(-1)")
            if not watched.wait_for(f"{HELD}.at(-1) > {before + 3000}", 30.0):
                raise RuntimeError("no more points came after the line was mended")
            held = [t_ms for t_ms in page.evaluate(HELD) if t_ms > first_ms]
        finally:
            page.close()
            line.close()
    step_ms = 1000 // RATE_HZ
    # Once a second the altimeter tells of its channels in place of a sample.
    sent = {t_ms for t_ms in range(int(first_ms) + step_ms, int(held[-1]) + step_ms, step_ms) if t_ms % 1000}
    counted = Counter(int(t_ms) for t_ms in held)
    return {
        "points": float(len(sent)),
        "lost": float(len(sent - set(counted))),
        "doubled": float(sum(number - 1 for number in counted.values())),
    }
