"""The console command `station`: the command line, with the page put in its hands."""

import gc
import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from station.command.page import Page

ARITHMETIC_THREADS = "OPENBLAS_NUM_THREADS"
"""How many threads numpy's linear algebra takes, from OpenBLAS's documentation; read when numpy is loaded."""

GARBAGE_SOUGHT_EVERY = 50_000
"""New objects between two searches for garbage in rings (the module `gc`; Python's own: 700).

What a flight is made of holds no rings, and looking through all of it again and again is a tenth of a check.
"""


class Pages:
    """Makes the pages. What they are made of is imported only when one is wanted: Dash takes a second."""

    def __call__(self, *arguments: Any, **named: Any) -> "Page":
        """The page of a flight."""
        from dashboard.server import PageServer

        return PageServer(*arguments, **named)

    def front(self, *arguments: Any, **named: Any) -> "Page":
        """The start page, with the logbook's beside it."""
        from dashboard.front_server import FrontServer

        return FrontServer(*arguments, **named)


def main() -> None:
    """Run the command line and end the program with its status."""
    # One thread: more would only wait for each other over sums as short as ours, and how a sum is cut among them, which
    # depends on the machine, changes its last digits.
    os.environ.setdefault(ARITHMETIC_THREADS, "1")
    gc.set_threshold(GARBAGE_SOUGHT_EVERY)
    from station.command.run import run

    status = run(Pages())
    # What is left goes with the process: to look through it once more for rings is a twentieth of a check.
    gc.freeze()
    sys.exit(status)
