"""Which column of a simulation's table is the time, which the altitude, which the upward speed. Pure.

Told by the user ("time=1,altitude=Height[ft]"), or guessed from the headers: by their words, and the unit in brackets
behind them. When two columns fit a word equally well nothing is guessed; the user is asked, with the columns named.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from station.errors import ColumnsUnclearError, PredictionError
from station.quantity import DURATION, LENGTH, SPEED, Dimension, quoted

MOST_NAMED = 12
_IN_A_PLAN = "(in a plan: columns in [prediction])"
_NAMED = re.compile(r"(?:^|,)\s*(time|altitude|speed)\s*=", re.IGNORECASE)
_WITH_UNIT = re.compile(r"(?P<name>.*?)\s*[(\[{]\s*(?P<unit>[^()\[\]{}]*?)\s*[)\]}]\s*")
_SPELLINGS = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "millisecond": "ms", "milliseconds": "ms",
    "meter": "m", "meters": "m", "metre": "m", "metres": "m", "kilometers": "km", "kilometres": "km",
    "foot": "ft", "feet": "ft", "inch": "in", "inches": "in", "mile": "mi", "miles": "mi",
    "mps": "m/s", "m/sec": "m/s", "m s-1": "m/s", "m s^-1": "m/s", "m·s⁻¹": "m/s", "meters/second": "m/s",
    "metres/second": "m/s", "fps": "ft/s", "ft/sec": "ft/s", "feet/second": "ft/s", "ft s-1": "ft/s",
    "kph": "km/h", "kmh": "km/h", "km/hr": "km/h", "mi/h": "mph", "knots": "kn", "kt": "kn",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Kind:
    """One quantity: the words that tell it, the best first, and words that tell another one."""

    dimension: Dimension
    tiers: tuple[re.Pattern[str], ...]
    never: re.Pattern[str]


_KINDS: Mapping[str, _Kind] = {
    "time": _Kind(
        DURATION,
        (
            re.compile(r"(?:(?:flight|simulation|sim|elapsed) )?time|t"),
            re.compile(r"time .*(?:liftoff|launch|ignition|start)"),
            re.compile(r".*\btime\b.*"),
        ),
        re.compile(r"\bstep\b|\bto\b|\buntil\b|\bcomput|\bcpu\b|\bleft\b"),
    ),
    "altitude": _Kind(
        LENGTH,
        (
            re.compile(r"(?:altitude|height|alt|h|z)"),
            re.compile(r"(?:altitude|height|alt) .*(?:agl|ground|pad|launch|relative)"),
            re.compile(r".*\b(?:altitude|height|alt)\b.*"),
        ),
        re.compile(r"\bsea\b|\bmsl\b|\basl\b|\brate\b|\bacceleration\b|\bvelocity\b|\bspeed\b"),
    ),
    "speed": _Kind(
        SPEED,
        (
            re.compile(r"(?:vertical (?:velocity|speed)|(?:velocity|speed) (?:vertical|up|z)|v ?z|climb rate)"),
            re.compile(r".*\bvertical (?:velocity|speed)\b.*"),
            re.compile(r"(?:velocity|speed|v)"),
            re.compile(r"(?:total|air) ?(?:velocity|speed)"),
        ),
        re.compile(r"\bwind\b|\bsound\b|\blateral\b|\bhorizontal\b|\bangular\b"),
    ),
}


@dataclass(frozen=True, slots=True)
class Column:
    """Where a quantity stands (index from 0) and how its cells become SI: multiplied with `factor`."""

    index: int
    header: str
    factor: float


def columns_named(text: str) -> dict[str, str]:
    """What the user says: "time=1,altitude=Height[ft],speed=3" -> {"time": "1", ...}. Raises PredictionError."""
    found = list(_NAMED.finditer(text))
    if not found or text[: found[0].start()].strip():
        raise PredictionError(
            f"--columns: {quoted(text)} names no column: write for example --columns "
            '"time=1,altitude=Height[ft]", with a column\'s number or header'
        )
    ends = [match.start() for match in found[1:]] + [len(text)]
    return {match[1].lower(): text[match.end() : end].strip() for match, end in zip(found, ends, strict=True)}


def find_columns(
    headers: Sequence[str], named: Mapping[str, str], units_below: Sequence[str] | None, where: str
) -> dict[str, Column]:
    """The columns of time, altitude and, if there is one, upward speed.

    `named` are those that the user told; `units_below` the cells of a row of units under the headers, if there is one;
    `where` begins each message. Raises PredictionError.
    """
    found = {}
    for quantity, kind in _KINDS.items():
        chosen = named.get(quantity)
        index = (
            _guessed(headers, quantity, kind, where) if chosen is None else _chosen(headers, chosen, quantity, where)
        )
        if index is not None:
            found[quantity] = _column(headers, index, quantity, kind, chosen, units_below, where)
    return found


def unit_of(header: str) -> str | None:
    """The unit that stands in brackets behind a header, as it is written there."""
    return _split(header)[1]


def _guessed(headers: Sequence[str], quantity: str, kind: _Kind, where: str) -> int | None:
    names = [_plain(_split(header)[0]) for header in headers]
    fitting = [(index, name) for index, name in enumerate(names) if not kind.never.search(name)]
    for tier in kind.tiers:
        matches = [index for index, name in fitting if tier.fullmatch(name)]
        if len(matches) == 1:
            return matches[0]
        if len(matches) > 1:
            raise _which(headers, matches, quantity, f"{len(matches)} columns may be", where)
    if quantity == "speed":
        return None
    raise _which(headers, range(len(headers)), quantity, "cannot tell which column is", where)


def _chosen(headers: Sequence[str], chosen: str, quantity: str, where: str) -> int:
    name, _ = _split(chosen)
    if re.fullmatch(r"\d+", name, re.ASCII) and 1 <= int(name) <= len(headers):
        return int(name) - 1
    for wanted, spell in ((chosen, str), (name, lambda header: _split(header)[0])):
        matches = [index for index, header in enumerate(headers) if _plain(spell(header)) == _plain(wanted)]
        if len(matches) == 1:
            return matches[0]
    raise _which(headers, range(len(headers)), quantity, f"no column {quoted(chosen)} for", where)


def _column(
    headers: Sequence[str],
    index: int,
    quantity: str,
    kind: _Kind,
    chosen: str | None,
    units_below: Sequence[str] | None,
    where: str,
) -> Column:
    header = headers[index].strip()
    unit = (_split(chosen)[1] if chosen else None) or _split(header)[1]
    if not unit and units_below is not None and index < len(units_below):
        unit = units_below[index].strip("()[]{} ")
    known = ", ".join(kind.dimension.units)
    if not unit:
        raise _unit(
            f"{where}: column {index + 1} {quoted(header)} has no unit: write it behind the header in brackets, or say "
            f'--columns "{quantity}={index + 1}[{kind.dimension.si_unit}]" {_IN_A_PLAN}; units are {known}',
            index,
            header,
            quantity,
            kind,
        )
    spelt = _SPELLINGS.get(unit.lower(), unit.lower())
    if spelt not in kind.dimension.units:
        raise _unit(
            f"{where}: column {index + 1} {quoted(header)}: {quoted(unit)} is not a unit of {quantity} known here: "
            f'use one of {known}, or say --columns "{quantity}=..." for another column {_IN_A_PLAN}',
            index,
            header,
            quantity,
            kind,
        )
    return Column(index, header, kind.dimension.units[spelt][0])


def _unit(message: str, index: int, header: str, quantity: str, kind: _Kind) -> ColumnsUnclearError:
    return ColumnsUnclearError(
        message,
        quantity=quantity,
        asks=f"In what unit is column {index + 1} {quoted(header)}, the {quantity}?",
        choices=tuple((unit, f"{index + 1}[{unit}]") for unit in kind.dimension.units),
    )


def _which(headers: Sequence[str], indices: Sequence[int], quantity: str, what: str, where: str) -> ColumnsUnclearError:
    shown = [f"{index + 1} {quoted(headers[index].strip())}" for index in list(indices)[:MOST_NAMED]]
    more = f" and {len(indices) - MOST_NAMED} more" if len(indices) > MOST_NAMED else ""
    return ColumnsUnclearError(
        f"{where}: {what} the {quantity}: there are {', '.join(shown)}{more}: say which, for example "
        f'--columns "{quantity}={indices[0] + 1}" {_IN_A_PLAN}',
        quantity=quantity,
        asks=f"Which column is the {quantity}?",
        choices=tuple((f"column {index + 1}: {headers[index].strip()}", str(index + 1)) for index in indices),
    )


def _split(header: str) -> tuple[str, str | None]:
    """A header and the unit in brackets at its end, if there is one."""
    match = _WITH_UNIT.fullmatch(header.strip())
    return (header.strip(), None) if match is None else (match["name"], match["unit"])


def _plain(name: str) -> str:
    """For comparing: small letters, one blank for whatever separates words."""
    return " ".join(re.sub(r"[\W_]+", " ", name.lower()).split())
