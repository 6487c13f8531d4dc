"""The link's last minute, second by second on the recorder's clock: lines believed and lines not. Pure."""

from collections import deque
from typing import Final

from station.flight_state import LinkSecond

KEPT_S: Final = 60
# Before the first line every arrival begins a second.
NEVER_US: Final = -(1 << 63)


class LinkMinute:
    """Holds the seconds in which something was heard, of the last `KEPT_S` before the newest line."""

    __slots__ = ("_at_s", "_bad", "_ends_us", "_good", "_rejected", "_seconds")

    def __init__(self) -> None:
        self._seconds: deque[LinkSecond] = deque()
        # The second that is being counted; a value is made of it when it is over, or asked for.
        self._at_s: int | None = None
        self._ends_us = NEVER_US
        self._good = self._bad = 0
        self._rejected = 0

    def take_believed(self, arrival_us: int, lost: int) -> None:
        """Count a line that is believed at its second, with the `lost` ones that it showed to be missing.

        A rejected line is missing from the altimeter's count too, and counts once.
        """
        if arrival_us >= self._ends_us:
            self._begin(arrival_us)
        self._good += 1
        if lost or self._rejected:
            if lost > self._rejected:
                self._bad += lost - self._rejected
            self._rejected = 0

    def take_rejected(self, arrival_us: int) -> None:
        """Count a line that is not believed at its second."""
        if arrival_us >= self._ends_us:
            self._begin(arrival_us)
        self._bad += 1
        self._rejected += 1

    def _begin(self, arrival_us: int) -> None:
        at_s = arrival_us // 1_000_000
        self._ends_us = 1_000_000 * (at_s + 1)
        seconds = self._seconds
        if self._at_s is not None:
            seconds.append(LinkSecond(self._at_s, self._good, self._bad))
        self._at_s = at_s
        self._good = self._bad = 0
        while seconds and seconds[0].at_s <= at_s - KEPT_S:
            seconds.popleft()

    @property
    def seconds(self) -> tuple[LinkSecond, ...]:
        """The seconds with a line, in order."""
        if self._at_s is None:
            return ()
        return (*self._seconds, LinkSecond(self._at_s, self._good, self._bad))
