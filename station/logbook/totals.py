"""Flights added up, by rocket and by impulse class, and the best of each. Pure."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from station.flight_state import FlightVerdict
from station.logbook.entry import LogbookEntry


@dataclass(frozen=True, slots=True)
class Best:
    """The best value of some flights, SI, and the log of the flight that it is from."""

    value: float
    file: str


@dataclass(frozen=True, slots=True)
class Totals:
    """Some flights together. `name` None: what they would be grouped by is not known.

    `confirmed` counts those of which every planned parachute was confirmed. Impulse and time in the air are of the
    flights where they are known.
    """

    name: str | None
    flights: int
    confirmed: int
    total_impulse_ns: float
    flight_time_s: float
    highest: Best | None
    fastest: Best | None
    longest: Best | None
    softest: Best | None


def totals(name: str | None, entries: Iterable[LogbookEntry]) -> Totals:
    """Add up; a log without a liftoff is no flight."""
    flown = [entry for entry in entries if entry.row.has_liftoff]
    return Totals(
        name,
        flights=len(flown),
        confirmed=sum(entry.row.verdict is FlightVerdict.BOTH_CONFIRMED for entry in flown),
        total_impulse_ns=sum(entry.total_impulse_ns or 0.0 for entry in flown),
        flight_time_s=sum(entry.row.flight_time_s or 0.0 for entry in flown),
        highest=_best(flown, lambda entry: entry.row.apogee_m, max),
        fastest=_best(flown, lambda entry: entry.row.max_speed_mps, max),
        longest=_best(flown, lambda entry: entry.row.flight_time_s, max),
        softest=_best(flown, lambda entry: entry.row.landing_rate_mps, min),
    )


def by_rocket(entries: Iterable[LogbookEntry]) -> list[Totals]:
    """Each rocket's totals by name; the one without a name last."""
    return _grouped(entries, lambda entry: entry.rocket)


def by_impulse_class(entries: Iterable[LogbookEntry]) -> list[Totals]:
    """Each impulse class's totals by letter; motors of unknown class last."""
    return _grouped(entries, lambda entry: entry.letter)


def _grouped(entries: Iterable[LogbookEntry], key: Callable[[LogbookEntry], str | None]) -> list[Totals]:
    groups: dict[str | None, list[LogbookEntry]] = defaultdict(list)
    for entry in entries:
        if entry.row.has_liftoff:
            groups[key(entry)].append(entry)
    names = sorted(groups, key=lambda name: (name is None, (name or "").casefold()))
    return [totals(name, groups[name]) for name in names]


def _best(
    entries: Iterable[LogbookEntry],
    value: Callable[[LogbookEntry], float | None],
    choose: Callable[[Iterable[tuple[float, str]]], tuple[float, str]],
) -> Best | None:
    known = [(found, entry.row.file) for entry in entries if (found := value(entry)) is not None]
    return Best(*choose(known)) if known else None
