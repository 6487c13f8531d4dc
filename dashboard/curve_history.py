"""The curve kept for viewers who come late: old points thinned, the newest at full rate, size bounded. Pure.

Thinning keeps, of each bucket of equal time, the points with the least and the greatest altitude, velocity
and acceleration, so that no peak is lost (min/max decimation, common practice, no source).
"""

from collections.abc import Sequence

Row = Sequence[float]
"""t_ms, altitude, velocity, acceleration, then their standard deviations."""

EXTREMES_OF = (1, 2, 3)


class CurveHistory:
    """Holds at most about twice `most_old` thinned rows, and one to two times `recent` rows at full rate."""

    def __init__(self, *, recent: int = 1500, most_old: int = 2400) -> None:
        self._recent_wanted = recent
        self._most_old = most_old
        self._old: list[Row] = []
        self._recent: list[Row] = []
        self.count = 0

    def append(self, rows: Sequence[Row]) -> None:
        """Add points in the order they were made."""
        self._recent.extend(rows)
        self.count += len(rows)
        if len(self._recent) < 2 * self._recent_wanted:
            return
        cut = len(self._recent) - self._recent_wanted
        self._old.extend(self._recent[:cut])
        del self._recent[:cut]
        if len(self._old) > 2 * self._most_old:
            self._old = thin(self._old, self._most_old)

    def since(self, start: int) -> tuple[int, list[Row]]:
        """Rows from index `start` on if all are still held: (start, rows). Else (0, the thinned whole)."""
        first_held = self.count - len(self._recent)
        if 0 < start <= self.count and start >= first_held:
            return start, self._recent[start - first_held :]
        return 0, [*thin(self._old, self._most_old), *self._recent]


def thin(rows: Sequence[Row], most: int) -> list[Row]:
    """At most `most` of the rows, in their order, with every bucket's extremes of the three quantities."""
    buckets = most // (2 * len(EXTREMES_OF))
    if len(rows) <= most or buckets < 1:
        return list(rows)
    first_ms = rows[0][0]
    span_ms = max(row[0] for row in rows) - first_ms
    members: list[list[int]] = [[] for _ in range(buckets)]
    for index, row in enumerate(rows):
        bucket = int((row[0] - first_ms) / span_ms * buckets) if span_ms > 0 else 0
        members[min(max(bucket, 0), buckets - 1)].append(index)
    kept: set[int] = set()
    for indices in members:
        for column in EXTREMES_OF:
            if indices:
                values = [rows[index][column] for index in indices]
                kept.add(indices[values.index(min(values))])
                kept.add(indices[values.index(max(values))])
    return [rows[index] for index in sorted(kept)]
