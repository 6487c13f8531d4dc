"""One flight of the logbook: what was computed, with what the owner says of it. Pure."""

import re
from dataclasses import dataclass
from datetime import tzinfo

from station.logbook.note import OwnersNote
from station.logbook.row import LogbookRow
from station.motor_class import impulse_class

_DESIGNATION = re.compile(r"(?<![A-Za-z])([A-O])\d{1,4}(?![0-9])")
"""A motor's designation: the letter of its impulse class, then its mean thrust in N (common practice in the trade)."""


@dataclass(frozen=True, slots=True)
class LogbookEntry:
    """A flight as listed. The owner's word goes before the plan's, the plan's before the altimeter's.

    `note_problem` says why the owner's note could not be read.
    """

    row: LogbookRow
    note: OwnersNote
    note_problem: str | None = None

    @property
    def rocket(self) -> str | None:
        """What the rocket is called."""
        return self.note.rocket or self.row.plan_rocket or self.row.unit_name

    @property
    def motor(self) -> str | None:
        """What the motor is called."""
        return self.note.motor or self.row.plan_motor

    @property
    def total_impulse_ns(self) -> float | None:
        """By the plan, unless the owner says that another motor flew."""
        if self.note.motor and self.row.plan_motor is not None and self.note.motor != self.row.plan_motor:
            return None
        return self.row.total_impulse_ns

    @property
    def letter(self) -> str | None:
        """The motor's impulse class: by its total impulse, else by the letter in its designation."""
        if self.total_impulse_ns is not None:
            return impulse_class(self.total_impulse_ns)
        found = _DESIGNATION.search(self.motor or "")
        return found[1] if found else None

    @property
    def remarks(self) -> str:
        """What the owner remarked, perhaps in several lines."""
        return self.note.remarks or ""

    def day(self, zone: tzinfo | None = None) -> str | None:
        """The day of the flight, YYYY-MM-DD, in a time zone (None: this computer's)."""
        if self.note.day:
            return self.note.day
        return None if self.row.flown_at is None else self.row.flown_at.astimezone(zone).date().isoformat()
