"""Sends the lines of a virtual altimeter at their times, through something that takes bytes.

The clock and the waiting are passed in: at pace 1 a line leaves when the receiver would have given it out,
at pace 10 in a tenth of the time, at pace 0 as fast as they are taken.
"""

from collections.abc import Callable, Iterable
from typing import Protocol

from station.virtual import SentLine


class Outlet(Protocol):
    """Where the bytes go."""

    def send(self, data: bytes, patience_s: float) -> bool:
        """Take all of `data`, or nothing and answer False if nobody took it within `patience_s`."""

    def finish(self, patience_s: float, wait_s: Callable[[float], bool]) -> None:
        """Let the reader take what is still on its way: for `patience_s`, or until `wait_s` says stop."""

    def close(self) -> None:
        """End it."""


# A receiver does not wait for a program that is slow to read: what does not fit its buffer is gone.
# One second: common practice, no source (a USB serial driver holds some kilobytes, about as long).
LATEST_S = 1.0
_LOOK_UP_S = 0.2


def transmit(
    lines: Iterable[SentLine],
    outlet: Outlet,
    pace: float,
    now_s: Callable[[], float],
    wait_s: Callable[[float], bool],
) -> bool:
    """Send every line; True when all were given to `outlet`, False when asked to stop before.

    `now_s` is a monotonic clock; `wait_s` waits so many seconds and answers True if the sending must stop.
    With a pace, a line that nobody takes within `LATEST_S` of its time is lost, as it would be on the air.
    """
    started_s = now_s()
    for line in lines:
        if pace == 0.0:
            while not (stopped := wait_s(0.0)) and not outlet.send(line.data, _LOOK_UP_S):
                pass
            if stopped:
                return False
            continue
        due_s = started_s + line.t_s / pace
        if wait_s(max(0.0, due_s - now_s())):
            return False
        outlet.send(line.data, max(0.0, due_s + LATEST_S - now_s()))
    return True
