"""How good is the look-ahead, and the warning of a fast descent? Seeded virtual flights, errors against the truth.

    python tests/benchmarks/outlook_table.py [--flights N] [--first-seed S] [--faults NAME ...] [--thermals MPS]

N flights are spread over the classes of fault, on all cores, with a progress bar on standard error. `--thermals` is
the sigma of the strongest rising and sinking air drawn. What is due when is told in `foretold_flight`.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from foretold_flight import WARN_WITHIN_S, Foretold, foretell
from progress import run_all

from station.virtual.random_flights import FAULT_CLASSES

COVERED_TARGET = (0.90, 0.99)


def print_forecasts(results: list[Foretold]) -> None:
    """A line for each thing foretold at each moment."""
    rows: dict[str, list[tuple[float, float]]] = defaultdict(list)
    missing = Counter(row for result in results for row in result.missing)
    for result in results:
        for row, pair in result.errors.items():
            rows[row].append(pair)
    print(
        f"{'foretold':60} {'n':>5} {'none':>4} {'p50':>8} {'p95':>8} {'worst':>8} {'mean':>7} {'sigma':>7}  in 2 sigma"
    )
    for row in sorted(rows):
        pairs = np.array(rows[row])
        size = np.abs(pairs[:, 0])
        inside = float(np.mean(size <= 2.0 * pairs[:, 1]))
        mark = "ok" if COVERED_TARGET[0] <= inside <= COVERED_TARGET[1] else "OUT"
        p50, p95 = np.percentile(size, [50, 95])
        print(
            f"{row:60} {len(size):5d} {missing[row]:4d} {p50:8.2f} {p95:8.2f} {pairs[size.argmax(), 0]:+8.2f}"
            f" {pairs[:, 0].mean():+7.2f} {np.median(pairs[:, 1]):7.2f}  {inside:.3f} {mark}"
        )


def print_warnings(results: list[Foretold]) -> None:
    """The warning's delay by class of fault, and warnings where nothing was wrong."""
    print(f"\n{'warning of a fast descent':25} {'due':>5} {'none':>5} {'p50 s':>7} {'p95 s':>7} {'worst':>7}")
    by_fault: dict[str, list[Foretold]] = defaultdict(list)
    for result in results:
        by_fault[result.fault].append(result)
    for fault, flights in by_fault.items():
        due = [f for f in flights if f.evidence_s is not None and f.covered]
        if not due:
            continue
        delays = [f.warned_s - (f.evidence_s or 0.0) for f in due if f.warned_s is not None]
        late = [f for f in due if f.warned_s is None or f.warned_s - (f.evidence_s or 0.0) > WARN_WITHIN_S]
        if delays:
            p50, p95 = np.percentile(delays, [50, 95])
            mark = "ok" if not late else f"OVER {WARN_WITHIN_S} s: seeds {[f.seed for f in late][:8]}"
            print(
                f"{fault:25} {len(due):5d} {len(due) - len(delays):5d} {p50:7.2f} {p95:7.2f} {max(delays):7.2f}  {mark}"
            )
    warned = [f for f in results if f.warned_s is not None]
    early = [f for f in warned if f.first_sign_s is None or (f.warned_s or 0.0) < f.first_sign_s - 0.3]
    good = [f for f in results if f.good]
    false = [f for f in good if f.warned_s is not None]
    print(f"\nwarnings on {len(good)} good flights: {len(false)} {[(f.seed, f.fault) for f in false][:12]}")
    between = [f for f in early if not f.good]
    print(f"on the others, warnings without or before any sign of it: {len(between)}")
    print("  ", [(f.seed, f.fault, f.first_sign_s and round(f.warned_s - f.first_sign_s, 2)) for f in between][:12])
    print(f"flights on which the warning came, went and came again: {sum(f.warned_again > 0 for f in results)}")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    flown = [name for name in FAULT_CLASSES if not name.startswith(("pad-", "front-"))]
    parser.add_argument("--flights", type=int, default=2000)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--faults", nargs="*", default=flown)
    parser.add_argument("--thermals", type=float, default=1.0, metavar="MPS")
    given = parser.parse_args()
    jobs = [(given.first_seed + n, given.faults[n % len(given.faults)], given.thermals) for n in range(given.flights)]
    start = time.monotonic()
    results = run_all(foretell, jobs)
    print(f"{len(results)} flights in {time.monotonic() - start:.0f} s\n")
    print_forecasts(results)
    print_warnings(results)


if __name__ == "__main__":
    main()
