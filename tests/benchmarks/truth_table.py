"""How good are the estimates and verdicts? Flies seeded virtual flights and prints what was said beside what was.

    python tests/benchmarks/truth_table.py                     2,000 flights: errors beside targets and the ordinary way
    python tests/benchmarks/truth_table.py --verdicts 2000     verdicts by class of fault
    python tests/benchmarks/truth_table.py --false-calls 5000  what was called that did not happen: pad, shock, all else
    python tests/benchmarks/truth_table.py --rare --flights 600 --verdicts 600    the classes of what is seldom

Flights are spread over the classes of fault (--faults chooses some), on all cores, with a progress bar on standard
error. With an option for another table the first is left out unless --flights asks for it.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from false_calls import print_false_calls, watched_jobs
from ordinary_way import ordinary_errors
from progress import run_all
from scored_flight import HEARD_HIGH, HEARD_HIGH_TWICE, NOT_UNSEEN, OPENED_AND_SEEN, UNSEEN, Score, score
from verdict_table import print_verdicts
from watched_flight import watch

from station.flight_state import Verdict
from station.virtual.random_flights import FAULT_CLASSES, RARE_CLASSES, random_flight

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
PARTS = {
    "apogee altitude": (UNSEEN, NOT_UNSEEN),
    "live liftoff baro": (HEARD_HIGH, HEARD_HIGH_TWICE),
}
# Waits of up to eight hours, without a flight: only the false calls need them.
PAD_ONLY = "pad-"


@dataclass(frozen=True, slots=True)
class Flown:
    """One flight's score, and the errors of the ordinary way on it if that was wanted."""

    score: Score
    ordinary: dict[str, float] | None


def fly_and_score(job: tuple[int, str, bool]) -> Flown:
    """Fly (seed, class of fault, with the ordinary way) and score."""
    seed, fault, with_ordinary = job
    flight = random_flight(seed, fault)
    return Flown(score(flight, fault), ordinary_errors(flight) if with_ordinary else None)


def print_table(flown: list[Flown]) -> None:
    """Errors beside targets."""
    results = [flight.score for flight in flown]
    rows = _by_row(result.errors for result in results)
    ordinary = _by_row(flight.ordinary for flight in flown if flight.ordinary is not None)
    seen = _by_row({row: e for row, e in r.errors.items() if row not in r.hidden} for r in results)
    head = f"{'what':24} {'n':>5} {'p50':>8} {'p95':>8} {'target':>8} {'seen':>8}  {'mean':>8}  {'worst':>8}"
    print("seen: p95 where no silence of the radio of over 0.25 s hides the moment")
    print(f"{head} {'ordinary way':>24} {'n':>4} {'p95':>8}")
    for row, (target, unit) in TARGETS.items():
        if row not in rows:
            continue
        errors = np.array(rows[row])
        size = np.abs(errors)
        p95 = float(np.percentile(size, 95))
        mark = "ok" if p95 <= target else "OVER"
        print(
            f"{row:24} {len(errors):5d} {np.percentile(size, 50):8.3f} {p95:8.3f} {target:8.3f}"
            f" {np.percentile(np.abs(seen.get(row, [np.nan])), 95):8.3f}"
            f"  {errors.mean():+8.3f}  {errors[size.argmax()]:+8.3f} {unit:18} {mark:4}{_ordinary(ordinary, row)}"
        )
        for part in PARTS.get(row, ()):
            print(f"  {part}: p95 {np.percentile(np.abs(rows[part]), 95):.3f}")
    for row in sorted(rows.keys() - TARGETS.keys() - {part for parts in PARTS.values() for part in parts}):
        errors = np.array(rows[row])
        print(f"({row}: mean {errors.mean():+.3f}, p95 {np.percentile(np.abs(errors), 95):.3f})")
    print()
    print("share of truths within 2 sigma:", _within_2_sigma(result.sigmas for result in results))
    print("the same of what losses hid and is told all the same:", _within_2_sigma(result.unseen for result in results))
    opened = [r.verdicts[role] for r in results for role, case in r.cases.items() if case == OPENED_AND_SEEN]
    if opened:
        confirmed = opened.count(Verdict.CONFIRMED)
        share = confirmed / len(opened)
        print(f"confirmed where it opened as planned and the data cover it: {confirmed}/{len(opened)} = {share:.4f}")
    flaws = Counter(flaw.split(":")[0] for r in results for flaw in r.flaws)
    for flaw, count in flaws.most_common():
        print(f"{count:5d}  {flaw}")


def _within_2_sigma(told: Iterable[dict[str, tuple[float, float]]]) -> str:
    """Of each row's errors and sigmas, in words."""
    within: dict[str, list[bool]] = defaultdict(list)
    for rows in told:
        for row, (error, sigma) in rows.items():
            within[row].append(abs(error) <= 2.0 * sigma)
    return ", ".join(f"{row} {np.mean(known):.2f} of {len(known)}" for row, known in within.items())


def _by_row(errors: Iterable[dict[str, float]]) -> dict[str, list[float]]:
    rows: dict[str, list[float]] = defaultdict(list)
    for each in errors:
        for row, error in each.items():
            rows[row].append(error)
    return rows


def _ordinary(rows: dict[str, list[float]], row: str) -> str:
    return f" {len(rows[row]):5d} {np.percentile(np.abs(rows[row]), 95):8.3f}" if row in rows else ""


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, metavar="N", help="flights in the table of errors [default: 2000]")
    parser.add_argument("--verdicts", type=int, default=0, metavar="N", help="flights in the table of verdicts")
    parser.add_argument("--false-calls", type=int, default=0, metavar="N", help="flights watched for false calls")
    parser.add_argument("--first-seed", type=int, default=1, metavar="S")
    parser.add_argument("--faults", nargs="*", metavar="CLASS", help="classes of fault [default: all that fly]")
    parser.add_argument("--rare", action="store_true", help="the classes of what is seldom in place of the usual ones")
    parser.add_argument("--show-flaws", type=int, default=0, metavar="K", help="print K flawed flights in full")
    parser.add_argument(
        "--ordinary-every",
        type=int,
        default=4,
        metavar="K",
        help="the ordinary way on each Kth flight, as it takes long [default: 4]; 0: none",
    )
    given = parser.parse_args()
    flights = given.flights
    if flights is None:
        flights = 0 if given.verdicts or given.false_calls else 2000
    seeds = range(given.first_seed, given.first_seed + max(flights, given.verdicts))
    usual = [fault for fault in FAULT_CLASSES if not fault.startswith(PAD_ONLY)]
    faults = given.faults or (list(RARE_CLASSES) if given.rare else usual)
    jobs = [(seed, faults[n % len(faults)]) for n, seed in enumerate(seeds)]
    scores: list[Score] = []
    if jobs:
        every = given.ordinary_every
        started = time.monotonic()
        beside = [every > 0 and n < flights and n % every == 0 for n in range(len(jobs))]
        flown = run_all(fly_and_score, [(*job, ordinary) for job, ordinary in zip(jobs, beside, strict=True)])
        print(f"{len(flown)} flights in {time.monotonic() - started:.0f} s\n")
        scores = [flight.score for flight in flown]
        if flights:
            print_table(flown[:flights])
        if given.verdicts:
            print_verdicts(scores[: given.verdicts])
        for result in [r for r in scores if r.flaws][: given.show_flaws]:
            print(result.seed, result.fault, result.flaws)
    if given.false_calls:
        started = time.monotonic()
        watched = run_all(watch, watched_jobs(given.false_calls, given.first_seed))
        print(f"{len(watched)} flights watched in {time.monotonic() - started:.0f} s\n")
        print_false_calls(watched)


if __name__ == "__main__":
    main()
