"""The link's last minute, second by second on the recorder's clock: lines believed and lines not. Pure."""

from collections import deque

from station.flight_state import LinkSecond

KEPT_S = 60


class LinkMinute:
    """Holds the seconds in which something was heard, of the last `KEPT_S` before the newest line."""

    __slots__ = ("_rejected", "_seconds")

    def __init__(self) -> None:
        self._seconds: deque[LinkSecond] = deque()
        self._rejected = 0

    def take(self, arrival_us: int, *, believed: bool, lost: int) -> None:
        """Count a line at its second, with the `lost` ones that it showed to be missing.

        A rejected line is missing from the altimeter's count too, and counts once.
        """
        if believed:
            bad = max(0, lost - self._rejected)
            self._rejected = 0
        else:
            bad = 1
            self._rejected += 1
        self._add(LinkSecond(arrival_us // 1_000_000, int(believed), bad))

    def _add(self, more: LinkSecond) -> None:
        seconds = self._seconds
        if seconds and more.at_s <= seconds[-1].at_s:
            newest = seconds.pop()
            seconds.append(LinkSecond(newest.at_s, newest.good + more.good, newest.bad + more.bad))
            return
        seconds.append(more)
        while seconds[0].at_s <= more.at_s - KEPT_S:
            seconds.popleft()

    @property
    def seconds(self) -> tuple[LinkSecond, ...]:
        """The seconds with a line, in order."""
        return tuple(self._seconds)
