"""An accelerometer that has stopped measuring says the same to the last digit, while a rocket pushes or brakes.

What it feels then changes all the time: thrust, mass and drag do. A quiet sensor with coarse steps may say one thing
for a while too, most of all near the top, where it feels nothing: so the heights are asked before it is believed.
Common practice, no source.
"""

from typing import Final

# A specific force of so much (m/s^2) is felt under thrust, or in the drag of a fast coast.
FELT_MPS2: Final = 5.0
STUCK_MS: Final = 1000.0
STUCK_READINGS: Final = 12
# It is looked at again after so long.
AGAIN_MS: Final = 500.0


class StuckForce:
    """Fed with each specific force (m/s^2) of the climb."""

    __slots__ = ("_due_ms", "_force_mps2", "_readings", "_since_ms")

    def __init__(self) -> None:
        self._force_mps2 = 0.0
        self._since_ms = self._due_ms = 0.0
        self._readings = 0

    def since(self, t_ms: float, force_mps2: float) -> float | None:
        """Since when (ms) it seems to have been stuck, each half second anew; None while it does not."""
        if force_mps2 != self._force_mps2:
            self._force_mps2 = force_mps2
            self._since_ms = t_ms
            self._due_ms = t_ms + STUCK_MS
            self._readings = 1
            return None
        self._readings += 1
        if self._readings < STUCK_READINGS or t_ms < self._due_ms or abs(force_mps2) < FELT_MPS2:
            return None
        self._due_ms = t_ms + AGAIN_MS
        return self._since_ms
