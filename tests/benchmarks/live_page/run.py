"""How fast the live page is, beside the usual way of a Dash page: `python tests/benchmarks/live_page/run.py`.

Each case: a server of its own with 30,000 points already on the curve and 50 samples a second coming in, one real
Chromium that draws in software, and the other viewers in a process that only listens. Age: from when a sample
was made until the frame that shows it. Needs Linux (/proc) and two cores; takes about four minutes.
"""

import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

HERE = Path(__file__).parent
POINTS = 30_000
MEASURED_S = 15.0
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]

# Notes for each draw the wall time of the frame that shows it, and how far the curve went (T_MS of its last point).
WATCH_PUSH = """() => {
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
}"""
WATCH_INTERVAL = """() => {
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
}"""
READY_PUSH = "!!(window.station && station.curve && station.curve.draws.count)"
READY_INTERVAL = "document.querySelectorAll('.js-plotly-plot').length === 3"


@dataclass
class Case:
    """What is measured: the way, how many viewers with the browser, and how many times the processor is slowed."""

    way: str
    viewers: int
    slowed: int = 1


CASES = [
    Case("interval", 1),
    Case("push", 1),
    Case("push", 20),
    Case("interval", 20),
    Case("push", 60),
    Case("push", 1, slowed=4),
]


def busy_ticks(pid: int) -> int:
    """Processor time that a process has used, in clock ticks (proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12])


def percentile_95(values: list[float]) -> float:
    return quantiles(values, n=20)[-1] if len(values) > 1 else float("nan")


def task_seconds(session: Any) -> tuple[float, float]:
    metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
    return metrics["TaskDuration"], metrics["Timestamp"]


def wait_for(page: Page, condition: str) -> None:
    while not page.evaluate(condition):
        time.sleep(0.02)


def measure(case: Case, browser: Browser) -> dict[str, float]:
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE), *filter(None, sys.path)])}
    server = subprocess.Popen(
        [sys.executable, HERE / "serve.py", case.way, str(POINTS)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    assert server.stdout is not None
    address, zero_ms = server.stdout.readline().split()
    others = None
    if case.viewers > 1:
        seconds = MEASURED_S + 8
        arguments = [address, str(case.viewers - 1), zero_ms, str(seconds), case.way]
        others = subprocess.Popen(
            [sys.executable, HERE / "viewers.py", *arguments], stdout=subprocess.PIPE, text=True, env=environment
        )
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.set_default_timeout(120_000)
    wire = page.context.new_cdp_session(page)
    wire.send("Network.enable")
    received = {"bytes": 0}
    wire.on("Network.dataReceived", lambda event: received.update(bytes=received["bytes"] + event["encodedDataLength"]))
    wire.send("Performance.enable")
    if case.slowed > 1:
        wire.send("Emulation.setCPUThrottlingRate", {"rate": case.slowed})
    opened = time.time()
    page.goto(address, wait_until="commit")
    wait_for(page, READY_PUSH if case.way == "push" else READY_INTERVAL)
    usable_s = time.time() - opened
    first_load = received["bytes"]
    page.wait_for_timeout(3000)
    page.evaluate(WATCH_PUSH if case.way == "push" else WATCH_INTERVAL)
    page.wait_for_timeout(2000)
    page.evaluate("window.seen.length = 0")
    ticks, (task_s, at_s), began = busy_ticks(server.pid), task_seconds(wire), time.time()
    page.wait_for_timeout(1000 * MEASURED_S)
    spent = (busy_ticks(server.pid) - ticks) / os.sysconf("SC_CLK_TCK") / (time.time() - began)
    task_then, at_then = task_seconds(wire)
    ages = [age - float(zero_ms) for age in page.evaluate("window.seen")]
    page.close()
    told = json.loads(others.communicate()[0]) if others is not None else {}
    server.kill()
    server.communicate()
    return told | {
        "age_p50_ms": median(ages) if ages else float("nan"),
        "age_p95_ms": percentile_95(ages),
        "drawn": len(ages) / (50 * MEASURED_S),
        "server_core": spent,
        "main_thread": (task_then - task_s) / (at_then - at_s),
        "usable_s": usable_s,
        "first_load_bytes": first_load,
    }


COLUMNS = [
    ("age p50 ms", "age_p50_ms", "{:.0f}"),
    ("age p95 ms", "age_p95_ms", "{:.0f}"),
    ("drawn", "drawn", "{:.0%}"),
    ("delivery p95 ms", "delivery_p95_ms", "{:.0f}"),
    ("server, of a core", "server_core", "{:.1%}"),
    ("bytes/s a viewer", "bytes_per_s", "{:,.0f}"),
    ("main thread", "main_thread", "{:.0%}"),
    ("usable s", "usable_s", "{:.2f}"),
    ("first load bytes", "first_load_bytes", "{:,.0f}"),
]


def main() -> None:
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        sys.exit("no Chromium on this machine")
    print("| way | viewers | " + " | ".join(title for title, _, _ in COLUMNS) + " |")
    print("|---" * (len(COLUMNS) + 2) + "|", flush=True)
    chosen = [case for case in CASES if not sys.argv[1:] or case.way in sys.argv[1:]]
    with sync_playwright() as playwright:
        for case in chosen:
            browser = playwright.chromium.launch(executable_path=program, args=SWITCHES)
            found = measure(case, browser)
            browser.close()
            way = case.way + (f", processor slowed {case.slowed} times" if case.slowed > 1 else "")
            cells = [form.format(found[key]) if key in found else "-" for _, key, form in COLUMNS]
            print(f"| {way} | {case.viewers} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
