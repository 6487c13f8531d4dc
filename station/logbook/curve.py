"""A flight's curve as the logbook keeps it: a few hundred points from liftoff on. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.columns import Array, column
from station.flight_state import Estimate

MOST_POINTS = 400
BEFORE_LIFTOFF_S = 1.0
AFTER_TOUCHDOWN_S = 2.0
GAP_S = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class LogbookCurve:
    """All (n,): seconds from liftoff, metres above the pad, m/s (+ up). A point of NaN stands for a gap."""

    t_s: Array
    altitude_m: Array
    velocity_mps: Array

    def packed(self) -> bytes:
        """As 32-bit floats, little-endian, one column after the other."""
        return np.concatenate([self.t_s, self.altitude_m, self.velocity_mps]).astype("<f4").tobytes()


def unpacked(data: bytes) -> LogbookCurve:
    """What `packed` was made of. Raises ValueError for other bytes."""
    columns = np.frombuffer(data, "<f4").astype(np.float64).reshape(3, -1)
    return LogbookCurve(*columns)


def logbook_curve(track: Sequence[Estimate], liftoff_ms: float, touchdown_ms: float | None) -> LogbookCurve:
    """The live estimates from just before liftoff to just after touchdown, thinned; the highest point is kept."""
    t_s = (column([estimate.t_ms for estimate in track]) - liftoff_ms) / 1000.0
    end_s = np.inf if touchdown_ms is None else (touchdown_ms - liftoff_ms) / 1000.0 + AFTER_TOUCHDOWN_S
    kept_of = np.flatnonzero((t_s >= -BEFORE_LIFTOFF_S) & (t_s <= end_s)).tolist()
    if not kept_of:
        return LogbookCurve(*np.empty((3, 0)))
    flown = [track[row] for row in kept_of]
    t_s = t_s[kept_of]
    altitude_m = column([estimate.altitude_m for estimate in flown])
    velocity_mps = column([estimate.velocity_mps for estimate in flown])
    gaps = np.flatnonzero(np.diff(t_s) > GAP_S)
    always = np.concatenate([[0, len(flown) - 1, int(np.argmax(altitude_m))], gaps, gaps + 1])
    regular = np.arange(0, len(flown), max(1, -(-len(flown) // MOST_POINTS)))
    kept = np.unique(np.concatenate([regular, always]).astype(np.intp))
    breaks = np.searchsorted(kept, gaps + 1)

    def with_gaps(values: Array) -> Array:
        return np.insert(values[kept], breaks, np.nan)

    return LogbookCurve(np.insert(t_s[kept], breaks, t_s[gaps + 1]), with_gaps(altitude_m), with_gaps(velocity_mps))
