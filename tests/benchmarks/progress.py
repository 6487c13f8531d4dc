"""Run many flights on all cores, with a progress bar on standard error."""

import multiprocessing
import sys
import time
from collections.abc import Callable, Sequence
from typing import TypeVar

Job = TypeVar("Job")
Result = TypeVar("Result")


def run_all(work: Callable[[Job], Result], jobs: Sequence[Job]) -> list[Result]:
    """The results of `work` (a module's own function) for all jobs, in the order of the jobs."""
    results = []
    start = time.monotonic()
    with multiprocessing.Pool() as pool:
        for n, result in enumerate(pool.imap(work, jobs, chunksize=4), 1):
            results.append(result)
            if n % 10 == 0 or n == len(jobs):
                share = n / len(jobs)
                bar = "#" * round(40 * share)
                left = (time.monotonic() - start) * (1.0 / share - 1.0)
                print(f"\r[{bar:<40}] {n}/{len(jobs)}, {left:4.0f} s left ", end="", file=sys.stderr)
    print(file=sys.stderr)
    return results
