"""The one path from received lines to what is known of the flight: live, replay and check all use it.

Pure: no clock, file, socket or thread. Feeding the same lines with the same arrival times gives the same
results to the last bit, whenever and however fast they are fed.
"""

from station.flight_state import Estimate, Snapshot


class Pipeline:
    """Lines in; estimates, events, link and channel status out."""

    def __init__(self, *, air_temperature_c: float | None = None) -> None:
        self.track: list[Estimate] = []
        raise NotImplementedError

    def take_line(self, line: bytes, arrival_us: int | None) -> Estimate | None:
        """Take one framed line (without its LF), and its arrival time on the recorder's clock if known.

        Returns the new estimate if the line was a sample that the filter used, else None. Never raises on
        bad input: what is not believed is counted.
        """
        raise NotImplementedError

    def snapshot(self) -> Snapshot:
        """Everything known after the last line."""
        raise NotImplementedError
