"""One real Chromium that draws in software, and what is measured inside it."""

import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]

READY = {
    "push": "!!(window.station && station.curve && station.curve.draws.count)",
    "interval": "document.querySelectorAll('.js-plotly-plot').length === 3",
}

# Note for each draw how old the samples were when the frame that shows them came.
WATCH = {
    "push": """() => {
  window.seen = [];
  let last = -1;
  station.onDrawn = (newest) => {
    const times = station.stream.store.columns[0];
    const drawn = [];
    for (let i = times.length - 1; i >= 0 && times[i] > last; i -= 1) if (times[i] <= newest) drawn.push(times[i]);
    const counts = last >= 0;
    last = newest;
    requestAnimationFrame(() => setTimeout(() => {
      const now = performance.timeOrigin + performance.now();
      if (counts) window.seen.push(...drawn.map((time) => now - time));
    }));
  };
}""",
    "interval": """() => {
  window.seen = [];
  let last = -1;
  const gd = document.querySelectorAll('.js-plotly-plot')[2];
  gd.on('plotly_afterplot', () => requestAnimationFrame(() => setTimeout(() => {
    const x = gd.data[0].x;
    const times = x.bdata ? gd._fullData[0].x : x;
    const now = performance.timeOrigin + performance.now();
    for (let i = times.length - 1; i >= 0 && times[i] > last; i -= 1) if (last >= 0) window.seen.push(now - times[i]);
    last = times[times.length - 1];
  })));
}""",
}


@contextmanager
def chromium() -> Iterator[Browser]:
    """This machine's own."""
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        sys.exit("no Chromium on this machine")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=SWITCHES)
        yield browser
        browser.close()


class WatchedPage:
    """A page of a laptop's size, with what the browser itself measures of it."""

    def __init__(self, browser: Browser, *, slowed: int = 1) -> None:
        self.page: Page = browser.new_page(viewport={"width": 1366, "height": 768})
        self._wire = self.page.context.new_cdp_session(self.page)
        self.received_bytes = 0
        self._wire.send("Network.enable")
        self._wire.send("HeapProfiler.enable")
        # Processor time, so that what else the machine does is not counted.
        self._wire.send("Performance.enable", {"timeDomain": "threadTicks"})
        self._wire.on("Network.dataReceived", self._note_bytes)
        if slowed > 1:
            self._wire.send("Emulation.setCPUThrottlingRate", {"rate": slowed})

    def _note_bytes(self, event: dict[str, Any]) -> None:
        self.received_bytes += event["encodedDataLength"]

    def open(self, address: str, way: str, patience_s: float) -> float | None:
        """Seconds until it is usable: the text stands and the curve is drawn. None if it never was in this time."""
        began_s = time.monotonic()
        self.page.goto(address, wait_until="commit")
        return time.monotonic() - began_s if self.wait_for(READY[way], patience_s) else None

    def wait_for(self, condition: str, patience_s: float) -> bool:
        """Whether a condition came true in time."""
        give_up_s = time.monotonic() + patience_s
        while time.monotonic() < give_up_s:
            if self.page.evaluate(condition):
                return True
            time.sleep(0.02)
        return False

    def metrics(self) -> dict[str, float]:
        """Chromium's own counters: `TaskDuration` (the main thread's, s), `Nodes`, `JSHeapUsedSize` and more."""
        return {m["name"]: m["value"] for m in self._wire.send("Performance.getMetrics")["metrics"]}

    def collect_garbage(self) -> None:
        """So that what is still held is what is needed."""
        self._wire.send("HeapProfiler.collectGarbage")
