"""What the page needs of a replay to offer its controls; `station/replay.py` has an object of this shape."""

from collections.abc import Sequence
from typing import Protocol, runtime_checkable

from station.flight_log import FlightFile
from station.flight_state import EventName

SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
"""The speeds that the page offers, as multiples of the flight's own pace."""


@runtime_checkable
class Playback(Protocol):
    """A saved flight that can be played. Positions are microseconds from its first line."""

    @property
    def saved(self) -> FlightFile:
        """What is played."""

    @property
    def position_us(self) -> int:
        """Where the replay stands."""

    @property
    def duration_us(self) -> int:
        """How long the whole record is."""

    @property
    def playing(self) -> bool:
        """Whether time runs."""

    @property
    def speed(self) -> float:
        """Multiple of the flight's own pace."""

    @property
    def events(self) -> Sequence[tuple[EventName, int]]:
        """Every event of the whole record and its position; empty until `find_events` is done."""

    def find_events(self) -> None:
        """Look for the events of the whole record; may take a while."""

    def play(self) -> None:
        """Let time run."""

    def pause(self) -> None:
        """Hold time."""

    def set_speed(self, speed: float) -> None:
        """Change the pace."""

    def seek(self, position_us: int) -> None:
        """Go to a position, forward or back."""
