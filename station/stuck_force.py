"""An accelerometer that has stopped measuring says the same to the last digit, while a rocket pushes or brakes.

What it feels then changes all the time: thrust, mass and drag do. Near rest, and near the top, a quiet sensor with
coarse steps may well say one thing for a while. Common practice, no source.
"""

# Off zero by so much (m/s^2) the rocket is pushed by its motor or braked by the air.
FELT_MPS2 = 5.0
STUCK_MS = 1000.0
STUCK_READINGS = 12


class StuckForce:
    """Fed with each specific force (m/s^2) of the climb."""

    __slots__ = ("_force_mps2", "_readings", "_since_ms")

    def __init__(self) -> None:
        self._force_mps2 = 0.0
        self._since_ms = 0.0
        self._readings = 0

    def since(self, t_ms: float, force_mps2: float) -> float | None:
        """Since when (ms) it has been stuck; None as long as it is not, or not for sure."""
        if force_mps2 != self._force_mps2:
            self._force_mps2 = force_mps2
            self._since_ms = t_ms
            self._readings = 1
            return None
        self._readings += 1
        if self._readings < STUCK_READINGS or t_ms - self._since_ms < STUCK_MS:
            return None
        return self._since_ms if abs(force_mps2) > FELT_MPS2 else None
