"""Which flights are shown, and in what order. Pure."""

from collections.abc import Callable, Iterable
from enum import StrEnum

from station.flight_state import Verdict
from station.logbook.entry import LogbookEntry

VERDICT_WORDS = {
    Verdict.CONFIRMED: "held the fall",
    Verdict.TOO_FAST: "too fast",
    Verdict.NO_EFFECT: "no effect",
    Verdict.EARLY: "too early",
    Verdict.NOT_FIRED: "not fired",
    Verdict.NOT_OBSERVED: "not observed",
}
"""As short as a column wants them; in the words of the live page."""


class SortKey(StrEnum):
    """What flights can be sorted by."""

    DATE = "date"
    ROCKET = "rocket"
    MOTOR = "motor"
    CLASS = "class"
    APOGEE = "apogee"
    SPEED = "speed"
    DROGUE = "drogue"
    MAIN = "main"
    LANDING = "landing"
    TIME = "time"
    REMARKS = "remarks"


_ORDER = list(Verdict)


def _verdict_rank(verdict: Verdict | None) -> int | None:
    return None if verdict is None else _ORDER.index(verdict)


_KEYS: dict[SortKey, tuple[Callable[[LogbookEntry], float | str | None], bool]] = {
    # What to sort by, and whether the greatest comes first.
    SortKey.DATE: (lambda e: (e.day() or "") + (e.row.flown_at.isoformat() if e.row.flown_at else "") or None, True),
    SortKey.ROCKET: (lambda e: e.rocket.casefold() if e.rocket else None, False),
    SortKey.MOTOR: (lambda e: e.motor.casefold() if e.motor else None, False),
    SortKey.CLASS: (lambda e: e.letter, False),
    SortKey.APOGEE: (lambda e: e.row.apogee_m, True),
    SortKey.SPEED: (lambda e: e.row.max_speed_mps, True),
    SortKey.DROGUE: (lambda e: _verdict_rank(e.row.drogue), True),
    SortKey.MAIN: (lambda e: _verdict_rank(e.row.main), True),
    SortKey.LANDING: (lambda e: e.row.landing_rate_mps, True),
    SortKey.TIME: (lambda e: e.row.flight_time_s, True),
    SortKey.REMARKS: (lambda e: e.remarks.casefold() or None, False),
}


def sort_flights(entries: Iterable[LogbookEntry], by: SortKey, *, reverse: bool = False) -> list[LogbookEntry]:
    """By date the newest first, by a figure the greatest, by a word from A; what is not known comes last either way."""
    value, greatest_first = _KEYS[by]
    by_name = sorted(entries, key=lambda entry: entry.row.file)
    known = [entry for entry in by_name if value(entry) is not None]
    known.sort(key=value, reverse=greatest_first != reverse)  # type: ignore[arg-type]
    return known + [entry for entry in by_name if value(entry) is None]


def search_flights(entries: Iterable[LogbookEntry], wanted: str) -> list[LogbookEntry]:
    """Those in which every wanted word stands somewhere, in any case of letters."""
    words = wanted.casefold().split()
    return [entry for entry in entries if all(word in _searched(entry) for word in words)]


def _searched(entry: LogbookEntry) -> str:
    row = entry.row
    parts = [entry.day(), entry.rocket, entry.motor, row.unit_name, row.file, entry.remarks]
    parts += [f"drogue {VERDICT_WORDS[row.drogue]}"] if row.drogue else []
    parts += [f"main {VERDICT_WORDS[row.main]}"] if row.main else []
    parts += [] if row.has_liftoff else ["no liftoff"]
    return "\n".join(part.casefold() for part in parts if part)
