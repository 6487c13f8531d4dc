"""The program `station` run many times without loading its parts anew: for tests, which start it hundreds of times.

One JSON object a line on standard input says what to run: arguments, folder, environment, the files that stand for its
three standard streams. For each a process of its own branches off from this one, which has everything loaded and has
run nothing; the exit status is answered on standard output. Other systems than Linux have no such branching, or bear
it badly.
"""

import atexit
import gc
import json
import os
import sys
import threading
from importlib import import_module
from typing import Any

from dashboard.command import ARITHMETIC_THREADS, main

PARTS = (
    *("captions", "check", "check_page", "demo", "emulate", "export", "find", "front", "importing", "live", "logbook"),
    *("picture", "plan", "ports", "predicting", "replay", "run", "share"),
)


def load() -> None:
    """All that a command may load on its way; only definitions, so that no command leaves anything to the next."""
    os.environ.setdefault(ARITHMETIC_THREADS, "1")
    for name in PARTS:
        import_module(f"station.command.{name}")
    for name in ("server", "front_server"):
        import_module(f"dashboard.{name}")
    gc.freeze()


def become(asked: dict[str, Any]) -> None:
    """Make this process look as one does that was started for it."""
    os.chdir(asked["folder"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    sys.argv = ["station", *asked["arguments"]]
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        opened = os.open(asked[name], os.O_WRONLY if number else os.O_RDONLY)
        os.dup2(opened, number)
        os.close(opened)
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        own = getattr(sys, name)
        mode, buffering = "w" if number else "r", 1 if number == 2 else -1
        stream = open(number, mode, buffering, own.encoding, own.errors, closefd=False)  # noqa: SIM115
        setattr(sys, name, stream)


def serve() -> None:
    """Returns in a process that shall run the program; in this one, when nothing more is asked for."""
    for line in sys.stdin.buffer:
        child = os.fork()
        if child == 0:
            become(json.loads(line))
            return
        _, status = os.waitpid(child, 0)
        os.write(1, f"{os.waitstatus_to_exitcode(status)}\n".encode())
    sys.exit(0)


def end(status: object) -> None:
    """As the interpreter ends, but without taking apart all that was loaded, which takes longer than most commands."""
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join()
    atexit._run_exitfuncs()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(int(str(status or 0)))


if __name__ == "__main__":
    load()
    serve()
    try:
        main()
    except SystemExit as ended:
        end(ended.code)
