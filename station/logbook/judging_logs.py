"""Reads and judges many logs, on every core; each is one job that cannot fail."""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.process import BaseProcess
from pathlib import Path

from station.errors import StationError
from station.flight_log import read_flight_file
from station.logbook.index import Indexed, Stamp

# Starting other processes takes longer than judging so few.
WORTH_OTHER_PROCESSES = 4


def judge_logs(paths: Sequence[Path], should_stop: Callable[[], bool] = lambda: False) -> Iterator[Indexed]:
    """Each log judged, as they are finished. Ends early when asked to stop."""
    cores = os.cpu_count() or 1
    if len(paths) < WORTH_OTHER_PROCESSES or cores == 1:
        for path in paths:
            if should_stop():
                return
            yield judged(path)
        return
    # A fork would copy the threads' locks of a page that is being served.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(cores, len(paths)), context, initializer=_begin)
    try:
        waiting = {pool.submit(judged, path): path for path in paths}
        for done in as_completed(waiting):
            if should_stop():
                return
            yield _outcome(done, waiting[done])
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def judged(path: Path) -> Indexed:
    """Read and judge one log; whatever goes wrong is its problem."""
    stamp = Stamp(0, 0)
    try:
        status = path.stat()
        stamp = Stamp(status.st_size, status.st_mtime_ns)
        # Not needed where everything is indexed already.
        from station.logbook.judged_log import judge_log

        found = judge_log(read_flight_file(path))
    except StationError as error:
        return Indexed(path.name, stamp, None, str(error))
    except OSError as error:
        return Indexed(path.name, stamp, None, f"{path} cannot be read ({error.strerror or error}).")
    except Exception as error:
        what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        return Indexed(path.name, stamp, None, f"{path}: a defect of the program, not of the flight: {what}")
    return Indexed(path.name, stamp, found.row, None, None if found.curve is None else found.curve.packed())


def _outcome(done: "Future[Indexed]", path: Path) -> Indexed:
    try:
        return done.result()
    except BrokenProcessPool:
        # A process was ended from outside; what it would have done is done here.
        return judged(path)


def _begin() -> None:
    """In each process: leave Ctrl-C to the one that started it, and end with that one, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)
