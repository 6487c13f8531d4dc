"""Pieces of a plot against time as SVG text, coloured by the page's style sheet through their classes. Pure.

Heights and speeds stand in metres on the left and in feet on the right, so that no reader has to choose.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from station.renditions.axis import ticks
from station.renditions.units import FEET_PER_M

CHARACTER = 7.0
"""About how wide a character of a label is, px: enough to keep labels apart, whatever font draws them."""
BOLD_CHARACTER = 7.6
LABEL_ROW = 16.0
_BELOW = 20.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment (s from liftoff) with what it is; `kind` is the style's class."""

    t_s: float
    text: str
    kind: str = "event"


@dataclass(frozen=True, slots=True)
class Panel:
    """A rectangle of a drawing, px, with what its edges stand for: s from liftoff, and m or m/s."""

    left: float
    right: float
    top: float
    bottom: float
    from_s: float
    to_s: float
    low: float
    high: float

    def x(self, t_s: float) -> float:
        """Where a moment is."""
        return self.left + (self.right - self.left) * (t_s - self.from_s) / (self.to_s - self.from_s)

    def y(self, value: float) -> float:
        """Where a value is, at most at the edge."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * share

    def line(self, t_s: Sequence[float], values: Sequence[float], kind: str) -> str:
        """A line through points."""
        points = " ".join(f"{self.x(t):.1f},{self.y(v):.1f}" for t, v in zip(t_s, values, strict=True))
        return f'<polyline class="{kind}" points="{points}"/>'

    def band(self, t_s: Sequence[float], low: Sequence[float], high: Sequence[float], kind: str) -> str:
        """What lies between two lines."""
        there = [f"{self.x(t):.1f},{self.y(v):.1f}" for t, v in zip(t_s, low, strict=True)]
        back = [f"{self.x(t):.1f},{self.y(v):.1f}" for t, v in zip(t_s, high, strict=True)]
        return f'<polygon class="{kind}" points="{" ".join([*there, *reversed(back)])}"/>'

    def axis(self, title: str, unit: str, about: int = 4) -> str:
        """Grid and figures: in `unit`, "m" or "m/s", on the left, in feet on the right, with the axis's name above."""
        parts = [
            text(2.0, self.top - 6.0, f"{title}, {unit}", "axis-name"),
            text(self.right + 4.0, self.top - 6.0, unit.replace("m", "ft", 1), "axis-name"),
        ]
        for value in ticks(self.low, self.high, about):
            y = self.y(value)
            parts.append(f'<path class="{"zero" if value == 0.0 else "grid"}" d="M{self.left} {y:.1f}H{self.right}"/>')
            parts.append(text(self.left - 5.0, y + 4.0, _figure(value), "tick", "end"))
        for value in ticks(self.low * FEET_PER_M, self.high * FEET_PER_M, about):
            y = self.y(value / FEET_PER_M)
            parts.append(f'<path class="tick-mark" d="M{self.right} {y:.1f}h4"/>')
            parts.append(text(self.right + 6.0, y + 4.0, _figure(value), "tick"))
        return "".join(parts)

    def seconds(self, about: int = 6) -> str:
        """Figures below, in seconds from liftoff."""
        parts = []
        for value in ticks(self.from_s, self.to_s, about):
            x = self.x(value)
            unit = " s" if self.right - x > 2.0 * CHARACTER else ""
            parts.append(f'<path class="tick-mark" d="M{x:.1f} {self.bottom}v4"/>')
            parts.append(text(x, self.bottom + _BELOW - 3.0, f"{value:g}{unit}", "tick", "middle"))
        return "".join(parts)

    def mark_lines(self, marks: Iterable[Mark], names_top: float, bottom: float | None = None) -> str:
        """Lines from each mark's name, in its row from `names_top` on, down through the panel (to `bottom`)."""
        return "".join(
            f'<path class="mark {mark.kind}" d="M{self.x(mark.t_s):.1f} {names_top + LABEL_ROW * (row + 1) - 11.0:.1f}'
            f'V{bottom or self.bottom}"/>'
            for mark, row, _ in rows_of(marks, self)
        )

    def mark_names(self, marks: Iterable[Mark], names_top: float) -> str:
        """The names of the marks beside their lines, each in its row."""
        parts = []
        for mark, row, before in rows_of(marks, self):
            x, y = self.x(mark.t_s), names_top + LABEL_ROW * (row + 1)
            at, anchor = (x - 4.0, "end") if before else (x + 4.0, "start")
            parts.append(text(at, y, mark.text, f"mark-name {mark.kind}", anchor))
        return "".join(parts)


def rows_of(marks: Iterable[Mark], panel: Panel) -> list[tuple[Mark, int, bool]]:
    """Each mark with the row where its name meets no other, and whether the name stands before its line.

    No mark's line goes through another's name, as long as there is a row for it.
    """
    taken: list[tuple[float, float, int]] = []
    lines: list[tuple[float, int]] = []
    placed = []
    for mark in sorted(marks, key=lambda mark: mark.t_s):
        x, long = panel.x(mark.t_s), CHARACTER * len(mark.text) + 8.0
        before = x + long > panel.right + 40.0 and x - long >= 0.0
        start, end = (x - long, x) if before else (x, x + long)
        row = 0
        while row <= len(lines) and (
            any(row == r and start < b and a < end for a, b, r in taken)
            or any(r > row and a < x < b for a, b, r in taken)
            or any(r < row and start < at < end for at, r in lines)
        ):
            row += 1
        taken.append((start, end, row))
        lines.append((x, row))
        placed.append((mark, row, before))
    return placed


def row_count(marks: Iterable[Mark], panel: Panel) -> int:
    """How many rows the names of these marks take."""
    return max((row for _, row, _ in rows_of(marks, panel)), default=-1) + 1


def text(x: float, y: float, said: str, kind: str, anchor: str = "start") -> str:
    """One line of text, escaped; `y` is its baseline."""
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(said)}</text>'


def boxed(x: float, y: float, half_width: float, said: str, kind: str) -> str:
    """A line of text in the middle of a piece of blank paper, for where lines would go through it."""
    paper = (
        f'<rect class="paper" x="{x - half_width:.1f}" y="{y - 12.0:.1f}" width="{2.0 * half_width:.1f}" height="15"/>'
    )
    return paper + text(x, y, said, kind, "middle")


def drawing(width: float, height: float, says: str, parts: Iterable[str], kind: str) -> str:
    """The SVG element; `says` is for who cannot see it."""
    return (
        f'<svg class="{kind}" viewBox="0 0 {width:g} {height:.0f}" role="img" aria-label="{escape(says)}">'
        f"{''.join(parts)}</svg>"
    )


def _figure(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 10.0 or value == round(value) else f"{value:g}"
