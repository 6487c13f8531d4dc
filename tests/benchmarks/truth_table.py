"""How good are the estimates and verdicts? Flies seeded virtual flights and prints the errors beside the targets.

    python tests/benchmarks/truth_table.py [--flights N] [--first-seed S] [--faults NAME ...] [--show-flaws K]

N flights are spread over the classes of fault, on all cores, with a progress bar on standard error.
"""

import argparse
import multiprocessing
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from scored_flight import OPENED_AND_SEEN, Score, score

from station.flight_state import Verdict
from station.virtual.random_flights import FAULT_CLASSES

# row: (target, unit); the 95th percentile of the absolute error must not be over it
TARGETS = {
    "apogee": (0.06, "s"),
    "apogee altitude": (1.0, "x (0.1 % + 0.3 m)"),
    "speed force": (1.1, "%"),
    "speed baro": (2.4, "%"),
    "burnout force": (0.07, "s"),
    "burnout baro": (0.20, "s"),
    "liftoff force": (0.05, "s"),
    "liftoff baro": (0.15, "s"),
    "main": (0.30, "s"),
    "drogue": (0.80, "s"),
    "touchdown": (0.5, "s"),
    "rate drogue": (2.0, "%"),
    "rate main": (2.0, "%"),
    "live apogee": (0.5, "s after"),
    "live apogee altitude": (0.5, "%"),
    "live speed force": (3.0, "%"),
    "live speed baro": (8.0, "%"),
    "live burnout force": (0.3, "s after"),
    "live burnout baro": (0.6, "s after"),
    "live liftoff force": (0.3, "s after"),
    "live liftoff baro": (0.5, "s after"),
    "live main": (1.0, "s after"),
    "live drogue": (2.5, "s after"),
    "live touchdown": (4.0, "s after"),
}
SLOW_CLASSES = ("pad-front", "pad-sun")


def _score(job: tuple[int, str]) -> Score:
    try:
        return score(*job)
    except Exception as error:
        # Named, and no StopIteration that would end the loop over the results without a word.
        raise RuntimeError(f"flight {job} failed: {error!r}") from error


def run(jobs: list[tuple[int, str]]) -> list[Score]:
    """Score all jobs on all cores."""
    results = []
    start = time.monotonic()
    with multiprocessing.Pool() as pool:
        for n, result in enumerate(pool.imap_unordered(_score, jobs, chunksize=4), 1):
            results.append(result)
            if n % 10 == 0 or n == len(jobs):
                share = n / len(jobs)
                bar = "#" * round(40 * share)
                left = (time.monotonic() - start) * (1.0 / share - 1.0)
                print(f"\r[{bar:<40}] {n}/{len(jobs)}, {left:4.0f} s left ", end="", file=sys.stderr)
    print(file=sys.stderr)
    return sorted(results, key=lambda r: (r.fault, r.seed))


def print_table(results: list[Score]) -> None:
    """Errors beside targets."""
    rows: dict[str, list[float]] = defaultdict(list)
    for result in results:
        for row, error in result.errors.items():
            rows[row].append(error)
    print(f"{'what':24} {'n':>5} {'p50':>8} {'p95':>8} {'target':>8}  {'mean':>8}  {'worst':>8}")
    for row, (target, unit) in TARGETS.items():
        if row not in rows:
            continue
        errors = np.array(rows[row])
        size = np.abs(errors)
        p95 = float(np.percentile(size, 95))
        mark = "ok" if p95 <= target else "OVER"
        print(
            f"{row:24} {len(errors):5d} {np.percentile(size, 50):8.3f} {p95:8.3f} {target:8.3f}"
            f"  {errors.mean():+8.3f}  {errors[size.argmax()]:+8.3f} {unit:18} {mark}"
        )
    for row in rows.keys() - TARGETS.keys():
        errors = np.array(rows[row])
        print(f"({row}: mean {errors.mean():+.3f}, p95 {np.percentile(np.abs(errors), 95):.3f})")
    print()
    covered: dict[str, list[bool]] = defaultdict(list)
    for result in results:
        for row, (error, sigma) in result.sigmas.items():
            covered[row].append(abs(error) <= 2.0 * sigma)
    print("share of truths within 2 sigma:", ", ".join(f"{row} {np.mean(c):.2f}" for row, c in covered.items()))
    opened = [r.verdicts[role] for r in results for role, case in r.cases.items() if case == OPENED_AND_SEEN]
    if opened:
        confirmed = opened.count(Verdict.CONFIRMED)
        share = confirmed / len(opened)
        print(f"confirmed where it opened as planned and the data cover it: {confirmed}/{len(opened)} = {share:.4f}")
    flaws = Counter(flaw.split(":")[0] for r in results for flaw in r.flaws)
    for flaw, count in flaws.most_common():
        print(f"{count:5d}  {flaw}")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, default=2000)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--faults", nargs="*", default=[f for f in FAULT_CLASSES if f not in SLOW_CLASSES])
    parser.add_argument("--show-flaws", type=int, default=0, metavar="K", help="print K flawed flights in full")
    given = parser.parse_args()
    jobs = [(given.first_seed + n, given.faults[n % len(given.faults)]) for n in range(given.flights)]
    start = time.monotonic()
    results = run(jobs)
    print(f"{len(results)} flights in {time.monotonic() - start:.0f} s\n")
    print_table(results)
    for result in [r for r in results if r.flaws][: given.show_flaws]:
        print(result.seed, result.fault, result.flaws)


if __name__ == "__main__":
    main()
