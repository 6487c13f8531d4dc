"""How old a sample is when it is drawn, and what that costs: one way, so many viewers, a processor slowed or not."""

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from statistics import median, quantiles

from measured_server import HERE, MeasuredServer, environment
from playwright.sync_api import Browser
from watched_page import WATCH, WatchedPage

POINTS = 30_000
RATE_HZ = 50
MEASURED_S = 12.0
USABLE_PATIENCE_S = 45.0


@dataclass(frozen=True)
class Case:
    """The way, how many viewers with the browser, and how many times the browser's processor is slowed."""

    way: str
    viewers: int
    slowed: int = 1


CASES = (
    Case("push", 1),
    Case("interval", 1),
    Case("push", 20),
    Case("interval", 20),
    Case("push", 60),
    Case("push", 1, slowed=4),
    Case("interval", 1, slowed=4),
)


def percentile_95(values: list[float]) -> float:
    return quantiles(values, n=20)[-1] if len(values) > 1 else float("nan")


def measure(case: Case, browser: Browser) -> dict[str, float]:
    """What is found; a figure that could not be had is left out."""
    with MeasuredServer(case.way, POINTS) as server:
        others = None
        if case.viewers > 1:
            arguments = [server.address, case.viewers - 1, server.zero_ms, MEASURED_S + 8, case.way]
            others = subprocess.Popen(
                [sys.executable, HERE / "viewers.py", *map(str, arguments)],
                stdout=subprocess.PIPE,
                text=True,
                env=environment(),
            )
        try:
            found = _watch(case, browser, server)
            if others is not None:
                found |= json.loads(others.communicate(timeout=90)[0])
            return found
        finally:
            if others is not None:
                others.kill()
                others.communicate()


def _watch(case: Case, browser: Browser, server: MeasuredServer) -> dict[str, float]:
    watched = WatchedPage(browser, slowed=case.slowed)
    page = watched.page
    try:
        usable_s = watched.open(server.address, case.way, USABLE_PATIENCE_S)
        if usable_s is None:
            return {}
        first_load = watched.received_bytes
        page.wait_for_timeout(3000)
        page.evaluate(WATCH[case.way])
        page.wait_for_timeout(2000)
        page.evaluate("window.seen.length = 0")
        before, processor_s, began_s = watched.metrics(), server.processor_s(), time.monotonic()
        page.wait_for_timeout(1000 * MEASURED_S)
        after, spent_s, passed_s = watched.metrics(), server.processor_s() - processor_s, time.monotonic() - began_s
        ages = [age - server.zero_ms for age in page.evaluate("window.seen")]
    finally:
        page.close()
    found = {
        "drawn": len(ages) / (RATE_HZ * MEASURED_S),
        "server_core": spent_s / passed_s,
        "main_thread": (after["TaskDuration"] - before["TaskDuration"]) / passed_s,
        "usable_s": usable_s,
        "first_load_bytes": float(first_load),
    }
    if ages:
        found |= {"age_p50_ms": median(ages), "age_p95_ms": percentile_95(ages)}
    return found
