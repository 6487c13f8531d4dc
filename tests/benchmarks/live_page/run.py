"""How fast the live page is, beside the usual way of a Dash page: `python tests/benchmarks/live_page/run.py`.

Each case: a server of its own with 30,000 points already on the curve and 50 samples a second coming in, one real
Chromium that draws in software, and the other viewers in a process that only listens. Age: from when a sample was made
until the frame that shows it. Needs Linux (/proc), Chromium and two idle cores; takes about seven minutes. With words
only some parts are run: `speed`, `continuity`, `growth`.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import continuity
import growth
import speed
from speed import CASES, Case
from watched_page import chromium

COLUMNS = [
    ("age p50 ms", "age_p50_ms", "{:.0f}"),
    ("age p95 ms", "age_p95_ms", "{:.0f}"),
    ("drawn", "drawn", "{:.0%}"),
    ("delivery p95 ms", "delivery_p95_ms", "{:.0f}"),
    ("server, of a core", "server_core", "{:.1%}"),
    ("kB/s a viewer", "kilobytes_per_s", "{:,.1f}"),
    ("main thread", "main_thread", "{:.0%}"),
    ("usable s", "usable_s", "{:.2f}"),
    ("first load MB", "first_load_megabytes", "{:.2f}"),
]

Found = dict[Case, dict[str, float]]


@dataclass(frozen=True)
class Target:
    """One figure that must be reached, in which case it is read, and beside which case of the usual way."""

    what: str
    at_most: float
    key: str
    form: str
    case: Case
    beside: Case | None


ONE, TWENTY, SIXTY, SLOWED = Case("push", 1), Case("push", 20), Case("push", 60), Case("push", 1, slowed=4)
USUAL_ONE, USUAL_TWENTY, USUAL_SLOWED = Case("interval", 1), Case("interval", 20), Case("interval", 1, slowed=4)

TARGETS = [
    Target("age p95, 20 viewers, ms", 150, "age_p95_ms", "{:,.0f}", TWENTY, USUAL_TWENTY),
    Target("main thread busy, 20 viewers", 0.5, "main_thread", "{:.0%}", TWENTY, USUAL_TWENTY),
    Target("delivery p95, 60 viewers, ms", 60, "delivery_p95_ms", "{:,.0f}", SIXTY, None),
    Target("server, of a core, 60 viewers (usual way: 20)", 0.12, "server_core", "{:.1%}", SIXTY, USUAL_TWENTY),
    Target("kB/s a viewer, 60 viewers (usual way: 20)", 5.0, "kilobytes_per_s", "{:,.1f}", SIXTY, USUAL_TWENTY),
    Target("age p95, processor slowed 4 times, ms", 500, "age_p95_ms", "{:,.0f}", SLOWED, USUAL_SLOWED),
    Target("usable after opening, s", 2.0, "usable_s", "{:.2f}", ONE, USUAL_ONE),
    Target("bytes over the wire at first load, MB", 2.0, "first_load_megabytes", "{:.2f}", ONE, USUAL_ONE),
]


def row(*cells: str) -> None:
    print("| " + " | ".join(cells) + " |", flush=True)


def told(found: dict[str, float] | None, key: str, form: str, *, missing: str = "-") -> str:
    return form.format(found[key]) if found and key in found else missing


def run_speed() -> None:
    """Every case, then each target beside what was reached."""
    found: Found = {}
    row("way", "viewers", *(title for title, _, _ in COLUMNS))
    row(*["---"] * (len(COLUMNS) + 2))
    for case in CASES:
        with chromium() as browser:
            figures = speed.measure(case, browser)
        if "bytes_per_s" in figures:
            figures["kilobytes_per_s"] = figures["bytes_per_s"] / 1000
        if "first_load_bytes" in figures:
            figures["first_load_megabytes"] = figures["first_load_bytes"] / 1e6
        found[case] = figures
        way = case.way + (f", processor slowed {case.slowed} times" if case.slowed > 1 else "")
        row(way, str(case.viewers), *(told(figures, key, form) for _, key, form in COLUMNS))
    print()
    row("figure", "at most", "reached", "", "dcc.Interval")
    row(*["---"] * 5)
    for target in TARGETS:
        value = found[target.case].get(target.key)
        met = "yes" if value is not None and value <= target.at_most else "NO"
        usual = "-" if target.beside is None else told(found[target.beside], target.key, target.form, missing="nothing")
        reached = told(found[target.case], target.key, target.form, missing="nothing")
        row(target.what, target.form.format(target.at_most), reached, met, usual)


def run_continuity() -> None:
    """Points lost and doubled."""
    with chromium() as browser:
        found = continuity.measure(browser)
    row("figure", "at most", "reached", "")
    row(*["---"] * 4)
    for what in ("lost", "doubled"):
        of = f"points {what}, of {found['points']:.0f} through two cuts and a restarted server"
        row(of, "0", f"{found[what]:.0f}", "yes" if found[what] == 0 else "NO")


def run_growth() -> None:
    """What grew in a day's worth of points."""
    with chromium() as browser:
        found = growth.measure(browser)
    row("figure", "at most", "reached", "")
    row(*["---"] * 4)
    for what, key, most in (
        (f"page's heap ({found['heap_bytes'] / 1e6:.1f} MB)", "heap_growth", 0.1),
        ("page's elements", "nodes_growth", 0.1),
        ("server's memory", "server_growth", 0.1),
    ):
        of = f"growth of the {what} over {found['points']:,.0f} points, {growth.HOURS} h at 50 a second"
        row(of, f"{most:.0%}", f"{found[key]:+.1%}", "yes" if found[key] <= most else "NO")


PARTS: dict[str, Callable[[], None]] = {"speed": run_speed, "continuity": run_continuity, "growth": run_growth}


def main() -> None:
    wanted = sys.argv[1:] or list(PARTS)
    if unknown := set(wanted) - set(PARTS):
        sys.exit(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    for part in wanted:
        PARTS[part]()
        print(flush=True)


if __name__ == "__main__":
    main()
