"""An altimeter that sends lines more often than its pressure sensor measures tells each reading several times.

Taken as readings of their own, those would be steps: a rocket that stands still for some lines and then jumps. Told
apart from air that happens to be still by how long the same pressure is told: a slow sensor's readings last for two
lines or more nearly every time, those of any other are another on the next line, by noise or by motion.

Common practice, no source.
"""

from typing import Final

# So many readings that were told more than once make it a slow one, fewer than the second no longer; one that was told
# once undoes some, and no more are counted than the last.
SURE_READINGS: Final = 8
DOUBTFUL_READINGS: Final = 4
ONCE_UNDOES: Final = 4
MOST_READINGS: Final = 12
# What is told so often is no slow sensor, but still air in coarse steps.
MOST_LINES: Final = 10


class SlowSensor:
    """Says of each pressure in turn whether it is a reading of its own."""

    __slots__ = ("_begun", "_last_pa", "_lines", "_lost", "_readings", "is_slow")

    def __init__(self) -> None:
        self.is_slow = False
        self._last_pa = 0.0
        self._lost = 0
        self._lines = 1
        self._readings = 0
        # The line before the present reading's first was heard, so that it began where it seems to.
        self._begun = False

    def is_reading(self, pressure_pa: float, lost: int) -> bool:
        """Take the next line's pressure, Pa; `lost` lines were lost so far.

        False for a reading told before, or one that may have been told first on a line that was lost: nobody knows
        when it was taken.
        """
        heard_all = lost == self._lost
        self._lost = lost
        if pressure_pa == self._last_pa:
            if not heard_all:
                self._begun = False
            self._lines += 1
            if self._lines > MOST_LINES:
                self._readings = 0
                self.is_slow = False
            return not self.is_slow
        self._last_pa = pressure_pa
        if heard_all and self._begun:
            if self._lines > 1:
                if self._readings < MOST_READINGS:
                    self._readings += 1
                if self._readings >= SURE_READINGS:
                    self.is_slow = True
            elif self._readings > 0:
                self._readings = max(0, self._readings - ONCE_UNDOES)
                if self._readings < DOUBTFUL_READINGS:
                    self.is_slow = False
        self._begun = heard_all
        self._lines = 1
        return heard_all or not self.is_slow
