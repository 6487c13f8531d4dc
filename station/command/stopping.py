"""Turns Ctrl-C and a request to end (SIGTERM, a closed terminal) into an event that a loop can wait for.

A handler that raised would cut whatever runs just then, a half-written log line for one; and a Python
handler that took a lock could wait for ever for the very code that it interrupted. So the signal's number goes
through a socket (`signal.set_wakeup_fd`) to a thread of its own, which sets the event.
"""

import os
import signal
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
_PATIENCE = 3  # after this many requests the program ends at once, in case the orderly end hangs


@contextmanager
def stop_on_signals() -> Iterator[threading.Event]:
    """While inside, the event is set when somebody asks the program to end. Main thread only."""
    stop = threading.Event()
    reader, writer = socket.socketpair()
    writer.setblocking(False)
    watcher = threading.Thread(target=_watch, args=(reader, stop), name="stop-watcher", daemon=True)
    signals = [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
    watcher.start()
    previous_fd = signal.set_wakeup_fd(writer.fileno(), warn_on_full_buffer=False)
    previous = {number: signal.signal(number, _leave_it_to_the_watcher) for number in signals}
    try:
        yield stop
    finally:
        for number, handler in previous.items():
            signal.signal(number, handler)
        signal.set_wakeup_fd(previous_fd)
        writer.close()
        watcher.join()
        reader.close()


def _leave_it_to_the_watcher(_number: int, _frame: object) -> None:
    """Needed: without a Python handler the system's own would end the program."""


def _watch(reader: socket.socket, stop: threading.Event) -> None:
    requests = 0
    while True:
        received = b""
        with suppress(OSError):
            received = reader.recv(64)
        if not received:
            return
        requests += len(received)
        stop.set()
        if requests >= _PATIENCE:
            os._exit(130)
