"""A simulated flight, to be laid beside the real one: its course from liftoff, and the figures read off it. Pure.

`station/prediction_text.py` reads one from the text of a CSV, `station/prediction_file.py` from disk.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.columns import Array

MOST_POINTS = 600
# Higher than this the simulated rocket has left the pad, and lower it is back on the ground.
OFF_THE_PAD_M = 0.5
LEAST_CLIMB_M = 5.0
# How far the speeds of a file may be from the slope of its altitudes: a foot taken for a metre is further off.
SPEEDS_AGREE = 1.6
# No hobby rocket gains or loses height faster (a plan's speed ends at 2,000 m/s), nor comes so far below its pad.
FASTEST_CHANGE_MPS = 3000.0
SHORTEST_STEP_S = 0.02
DEEPEST_M = -1000.0


class CourseError(ValueError):
    """A course that cannot be a flight; its message says what would be right, `row` (from 0) where, if at one row."""

    def __init__(self, message: str, row: int | None = None) -> None:
        super().__init__(message)
        self.row = row


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """A simulated flight. Times s from liftoff, heights m above the pad, speeds m/s, + up.

    `t_s`, `altitude_m` and `velocity_mps` (n,) are the course, thinned to be drawn; the figures come from all of it.
    `touchdown_s` is None if the simulation ends in the air. `columns` tells what was taken for what.
    """

    file: str
    columns: str
    t_s: Array
    altitude_m: Array
    velocity_mps: Array
    apogee_m: float
    apogee_s: float
    max_speed_mps: float
    max_speed_s: float
    touchdown_s: float | None


def prediction_of(t_s: Array, altitude_m: Array, velocity_mps: Array | None, *, file: str, columns: str) -> Prediction:
    """The prediction of a simulated course, its rows (n,) in order of time, n at least 2.

    The height of the first row is the pad's. Without speeds they are the slope of the heights. Raises CourseError.
    """
    _refuse_wild_heights(t_s, altitude_m)
    height = altitude_m - altitude_m[0]
    if float(height.max()) < LEAST_CLIMB_M:
        raise CourseError(f"it never climbs {LEAST_CLIMB_M:g} m above its first row: is that column the altitude?")
    top = int(height.argmax())
    if top == len(height) - 1:
        raise CourseError("it still climbs in its last row: save the simulation up to the ground")
    new = np.concatenate([[True], np.diff(t_s) > 0.0])
    slope = np.interp(t_s, t_s[new], np.gradient(height[new], t_s[new]))
    speed = slope if velocity_mps is None else velocity_mps
    _refuse_other_speeds(float(speed.max()), float(slope.max()))
    start_s = _liftoff_s(t_s, height)
    fastest = int(speed[: top + 1].argmax())
    last_step_m = float(height[-2] - height[-1])
    landed = np.flatnonzero(height[top:] <= max(OFF_THE_PAD_M, last_step_m))
    keep = _to_be_drawn(t_s, (top, fastest))
    return Prediction(
        file=file,
        columns=columns,
        t_s=t_s[keep] - start_s,
        altitude_m=height[keep],
        velocity_mps=speed[keep],
        apogee_m=float(height[top]),
        apogee_s=float(t_s[top]) - start_s,
        max_speed_mps=float(speed[fastest]),
        max_speed_s=float(t_s[fastest]) - start_s,
        touchdown_s=float(t_s[top + landed[0]]) - start_s if landed.size else None,
    )


def _refuse_wild_heights(t_s: Array, altitude_m: Array) -> None:
    """A row that a program filled in for want of a figure, or a slip of a digit, would be compared as a flight."""
    steps_s = np.maximum(np.diff(t_s), SHORTEST_STEP_S)
    jumps = np.flatnonzero(np.abs(np.diff(altitude_m)) > FASTEST_CHANGE_MPS * steps_s)
    if jumps.size:
        row = int(jumps[0]) + 1
        raise CourseError(
            f"the altitude jumps from {altitude_m[row - 1]:.0f} m to {altitude_m[row]:.0f} m within "
            f"{t_s[row] - t_s[row - 1]:.2g} s, which no rocket does: leave such rows out, or look into the simulation",
            row,
        )
    low = np.flatnonzero(altitude_m - altitude_m[0] < DEEPEST_M)
    if low.size:
        row = int(low[0])
        raise CourseError(
            f"the altitude is {altitude_m[row]:.0f} m, far below the pad's {altitude_m[0]:.0f} m: leave such rows out, "
            "or look into the simulation",
            row,
        )


def _refuse_other_speeds(by_column_mps: float, by_slope_mps: float) -> None:
    if not 1.0 / SPEEDS_AGREE < by_column_mps / max(by_slope_mps, 1e-9) < SPEEDS_AGREE:
        raise CourseError(
            f"its highest speed is {by_column_mps:.0f} m/s by the speeds, but {by_slope_mps:.0f} m/s by the altitudes "
            "and times: is a unit wrong, or another speed meant?"
        )


def _liftoff_s(t_s: Array, height_m: Array) -> float:
    """The last moment on the pad."""
    off = int(np.argmax(height_m > OFF_THE_PAD_M))
    at_rest = np.flatnonzero(height_m[:off] <= 0.02 * OFF_THE_PAD_M)
    return float(t_s[at_rest[-1]]) if at_rest.size else float(t_s[0])


def _to_be_drawn(t_s: Array, marked: tuple[int, ...]) -> NDArray[np.intp]:
    """Indices of the rows to draw: evenly spread over the time, the first, the last and the marked ones among them."""
    if len(t_s) <= MOST_POINTS:
        return np.arange(len(t_s))
    even = np.searchsorted(t_s, np.linspace(float(t_s[0]), float(t_s[-1]), MOST_POINTS))
    return np.unique(np.concatenate([[0], np.minimum(even, len(t_s) - 1), marked, [len(t_s) - 1]]))
