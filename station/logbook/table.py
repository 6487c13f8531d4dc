"""The logbook as text for a terminal. Pure."""

import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from station.flight_state import Verdict
from station.logbook.choosing import VERDICT_WORDS
from station.logbook.entry import LogbookEntry
from station.logbook.totals import Best, Totals
from station.renditions.units import Units

_GAP = "  "
_UNKNOWN = "–"
_SIGNS = {Verdict.CONFIRMED: "", Verdict.NOT_OBSERVED: "? "}


@dataclass(frozen=True, slots=True)
class _Column:
    """`least` is how narrow it may become in a narrow terminal; figures are set to the right."""

    title: str
    cell: Callable[[LogbookEntry, Units], str]
    least: int
    right: bool = False


def logbook_table(entries: Sequence[LogbookEntry], units: Units, width: int | None) -> str:
    """A row a flight. `width` None: as wide as need be; in a narrow one texts are cut, and remarks stand below."""
    columns = list(_COLUMNS)
    if width is not None:
        columns = [column for column in columns if column is not _FILE]
        if width < _ROOM_FOR_REMARKS:
            columns = [column for column in columns if column is not _REMARKS]
    cells = [[_one_line(column.cell(entry, units)) for column in columns] for entry in entries]
    widths = _widths(columns, cells, width)
    lines = [_row([column.title for column in columns], columns, widths)]
    for entry, texts in zip(entries, cells, strict=True):
        lines.append(_row(texts, columns, widths))
        if _REMARKS not in columns and entry.remarks:
            lines.append(_cut(f"    {_one_line(entry.remarks)}", width))
    return "\n".join(lines)


def totals_table(title: str, found: Sequence[Totals], unknown: str, units: Units, width: int | None) -> str:
    """A row a group: flights, in how many all parachutes held the fall, impulse and time together, the best of each."""
    titles = [
        title,
        "flights",
        "all held the fall",
        "impulse",
        "in the air",
        "highest",
        "fastest",
        "longest",
        "softest landing",
    ]
    rows = [titles, *(_totals_row(group, unknown, units) for group in found)]
    widths = [max(shown_width(row[k]) for row in rows) for k in range(len(rows[0]))]
    lines = [
        _GAP.join(_padded(text, w, right=k > 0) for k, (text, w) in enumerate(zip(row, widths, strict=True)))
        for row in rows
    ]
    return "\n".join(_cut(line.rstrip(), width) for line in lines)


def _totals_row(group: Totals, unknown: str, units: Units) -> list[str]:
    return [
        _one_line(unknown if group.name is None else group.name),
        str(group.flights),
        str(group.confirmed),
        f"{group.total_impulse_ns:,.0f} N s" if group.total_impulse_ns else _UNKNOWN,
        duration(group.flight_time_s) if group.flight_time_s else _UNKNOWN,
        _best(group.highest, units.height),
        _best(group.fastest, units.speed),
        _best(group.longest, duration),
        _best(group.softest, units.speed),
    ]


def duration(seconds: float) -> str:
    """A time in the air: "47 s", "3 min 20 s", "1 h 4 min"."""
    whole = round(seconds)
    if whole < 100:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def verdict_words(verdict: Verdict | None) -> str:
    """One parachute in a column: a sign before what is not as it should be."""
    if verdict is None:
        return _UNKNOWN
    return _SIGNS.get(verdict, "! ") + VERDICT_WORDS[verdict]


def shown_width(text: str) -> int:
    """How many columns of a terminal a text takes: East Asian wide characters two, combining ones none (UAX #11)."""
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1 for char in text
    )


def _date(entry: LogbookEntry, _units: Units) -> str:
    return entry.day() or _UNKNOWN


def _rocket(entry: LogbookEntry, _units: Units) -> str:
    name = entry.rocket or _UNKNOWN
    return name if entry.row.has_liftoff else f"{name} (no liftoff)"


def _motor(entry: LogbookEntry, _units: Units) -> str:
    return entry.motor or _UNKNOWN


def _figure(value: Callable[[LogbookEntry], float | None], how: Callable[[Units, float], str]) -> Callable[..., str]:
    def cell(entry: LogbookEntry, units: Units) -> str:
        found = value(entry)
        return _UNKNOWN if found is None else how(units, found)

    return cell


_REMARKS = _Column("remarks", lambda e, _: e.remarks, 12)
_FILE = _Column("file", lambda e, _: e.row.file, 12)
_COLUMNS = (
    _Column("date", _date, 10),
    _Column("rocket", _rocket, 6),
    _Column("motor", _motor, 5),
    _Column("apogee", _figure(lambda e: e.row.apogee_m, Units.height), 6, right=True),
    _Column("speed", _figure(lambda e: e.row.max_speed_mps, Units.speed), 5, right=True),
    _Column("drogue", lambda e, _: verdict_words(e.row.drogue), 9),
    _Column("main", lambda e, _: verdict_words(e.row.main), 9),
    _Column("landing", _figure(lambda e: e.row.landing_rate_mps, Units.speed), 7, right=True),
    _REMARKS,
    _FILE,
)
_ROOM_FOR_REMARKS = 110


def _widths(columns: Sequence[_Column], cells: Sequence[Sequence[str]], width: int | None) -> list[int]:
    """As wide as the widest cell; if that is too wide, the widest text columns give way first."""
    widths = [
        max([shown_width(column.title), *(shown_width(row[k]) for row in cells)]) for k, column in enumerate(columns)
    ]
    if width is None:
        return widths
    while sum(widths) + len(_GAP) * (len(widths) - 1) > width:
        slack = [w - column.least if not column.right else 0 for w, column in zip(widths, columns, strict=True)]
        if max(slack) <= 0:
            break
        widths[slack.index(max(slack))] -= 1
    return widths


def _row(texts: Sequence[str], columns: Sequence[_Column], widths: Sequence[int]) -> str:
    parts = [
        _padded(_cut(text, w), w, right=column.right) for text, column, w in zip(texts, columns, widths, strict=True)
    ]
    return _GAP.join(parts).rstrip()


def _padded(text: str, width: int, *, right: bool) -> str:
    blanks = " " * (width - shown_width(text))
    return blanks + text if right else text + blanks


def _cut(text: str, width: int | None) -> str:
    if width is None or shown_width(text) <= width:
        return text
    while text and shown_width(text) > width - 1:
        text = text[:-1]
    return f"{text}…"


def _one_line(text: str) -> str:
    """Without line breaks, and without characters that would steer the terminal."""
    return "".join(char if char.isprintable() else " " for char in " / ".join(text.splitlines()))


def _best(best: Best | None, how: Callable[[float], str]) -> str:
    return _UNKNOWN if best is None else how(best.value)
