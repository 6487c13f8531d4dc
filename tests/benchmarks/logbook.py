"""How fast is the logbook? `python tests/benchmarks/logbook.py [--flights N] [--judged N]`

    judging   real invented flights judged and indexed, on all cores
    listing   `station logbook` of a folder with N indexed flights, a process of its own, from start to end

The flights beyond the judged ones are copies of these in other files, put into the index as if judged: what listing
costs depends on files, notes and rows alone. One flight in ten has a note.
"""

import argparse
import subprocess
import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from station.logbook.book import Logbook
from station.logbook.index import Indexed, IndexFile, Stamp
from station.logbook.notes import change_note
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

LISTING_TARGET_S = 1.0
TURNS = 5
KINDS = ("nominal-dual", "main-silent", "past-mach-1", "late-ejection")
STATION = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]


def stamp_of(path: Path) -> Stamp:
    """As the index keeps it."""
    status = path.stat()
    return Stamp(status.st_size, status.st_mtime_ns)


def judge(folder: Path, number: int) -> float:
    """Write and judge so many flights; returns flights a second."""
    kinds = [flight_log(fly(SCENARIOS[kind], seed)) for seed, kind in enumerate(KINDS, 1)]
    for k in range(number):
        (folder / f"judged-{k:04}.flight").write_bytes(kinds[k % len(kinds)])
    book = Logbook(folder)
    start = time.perf_counter()
    book.refresh(book.pending())
    return number / (time.perf_counter() - start)


def fill(folder: Path, number: int) -> None:
    """Up to so many flights, all in the index."""
    index = IndexFile(folder)
    judged = list(index.load().values())
    found = []
    for k in range(len(judged), number):
        like = judged[k % len(judged)]
        path = folder / f"copied-{k:04}.flight"
        path.write_bytes((folder / like.file).read_bytes())
        assert like.row is not None
        assert like.row.flown_at is not None
        row = replace(
            like.row, file=path.name, flown_at=like.row.flown_at - timedelta(days=k), plan_rocket=f"Rocket {k % 12}"
        )
        found.append(Indexed(path.name, stamp_of(path), row, None, index.curve(like.file)))
    index.store(found)
    for one in found[::10]:
        change_note(folder / one.file, {"remarks": f"Remark on {one.file}, windy."})


def list_once(folder: Path) -> float:
    """Seconds that the command takes."""
    start = time.perf_counter()
    done = subprocess.run([*STATION, "logbook", str(folder)], capture_output=True, check=True)
    seconds = time.perf_counter() - start
    assert done.stderr == b"", done.stderr
    return seconds


def main(arguments: list[str] | None = None) -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, default=1000)
    parser.add_argument("--judged", type=int, default=40)
    chosen = parser.parse_args(arguments)
    with TemporaryDirectory() as name:
        folder = Path(name)
        rate = judge(folder, min(chosen.judged, chosen.flights))
        print(f"judging: {rate:.1f} flights/s on all cores, so {1000 / rate / 60:.1f} min for 1,000")
        fill(folder, chosen.flights)
        seconds = [list_once(folder) for _ in range(TURNS)]
        size = sum(path.stat().st_size for path in folder.glob("*.sqlite3"))
        spread = f"from {min(seconds):.2f} to {max(seconds):.2f}"
        print(f"listing {chosen.flights} flights: {median(seconds):.2f} s ({spread})")
        print(f"target for 1,000: {LISTING_TARGET_S:.1f} s; the index has {size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
