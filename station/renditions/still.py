"""A still of the flight for a message: its name, its figures, its parachutes, its curve. Pure: a `Drawing`.

1200 by 630 is the shape that messages show a picture in without cutting it (common practice, no source). The colours
are the live page's in daylight.
"""

from calendar import month_name
from datetime import datetime
from itertools import pairwise

import numpy as np

from station.check_report import reckoned
from station.flight_state import EventName
from station.renditions.axis import ticks
from station.renditions.course import gaps, shown_until_s
from station.renditions.drawing import Anchor, Area, Drawing, Line, Points, Text
from station.renditions.units import Units, fine, whole
from station.renditions.words import SIGNS, event_name, role_name, summary_sentence, verdict
from station.whole_flight import WholeFlight

WIDTH, HEIGHT = 1200, 630
PAPER, INK, SOFT, RULE, GRID = "#ffffff", "#000000", "#474747", "#8a8a8a", "#e2e2e2"
ALTITUDE, UNDER_CURVE = "#0072b2", "#d9eaf4"
KINDS = {"good": "#009e73", "bad": "#d55e00", "unknown": "#6d6d6d"}

LEFT, COLUMN = 48.0, 356.0
PLOT_LEFT, PLOT_RIGHT, PLOT_TOP, PLOT_BOTTOM = 510.0, 1160.0, 150.0, 560.0
LONGEST_NAME = 60
LABEL_SIZE = 20.0
LABEL_ROW = 25.0
# How wide a character is, of its size: enough to keep labels apart, whatever font draws them.
CHARACTER = 0.7


def still(flight: WholeFlight, units: Units, day: datetime | None = None) -> Drawing:
    """The picture; `day` is when it flew, in the time that the reader lives by."""
    shapes = [*_heading(flight, day), *_figures(flight, units), *_parachutes(flight), *_Plot(flight, units).shapes()]
    return Drawing(WIDTH, HEIGHT, PAPER, flight.name, summary_sentence(flight), tuple(shapes))


def date_words(day: datetime) -> str:
    """A day in words that no reader takes for another: "4 May 2031"."""
    return f"{day.day} {month_name[day.month]} {day.year}"


def _heading(flight: WholeFlight, day: datetime | None) -> list[Line | Area | Text]:
    name = flight.name if len(flight.name) <= LONGEST_NAME else f"{flight.name[: LONGEST_NAME - 3]}..."
    shapes: list[Line | Area | Text] = [Text(LEFT, 82, name, 54, INK, bold=True, most=WIDTH - 2 * LEFT)]
    if day is not None:
        shapes.append(Text(LEFT, 122, date_words(day), 26, SOFT))
    return shapes


def _figures(flight: WholeFlight, units: Units) -> list[Text]:
    s = flight.report.summary
    rows = []
    if s.apogee_m is not None:
        what = "Highest, reckoned" if reckoned(flight.report) else "Highest"
        rows.append((what, whole(s.apogee_m * units.height_factor), units.height_unit))
    if s.max_speed_mps is not None:
        rows.append(("Fastest on the way up", fine(s.max_speed_mps * units.speed_factor), units.speed_unit))
    rows.append(("In the air", f"{s.flight_time_s:.0f}", "s") if s.flight_time_s else ("Landing", "not observed", ""))
    shapes = []
    for row, (what, number, unit) in enumerate(rows):
        y = 232.0 + 104.0 * row
        shapes.append(Text(LEFT, y - 54, what, 21, SOFT))
        shapes.append(Text(LEFT, y, f"{number} {unit}".strip(), 52, INK, bold=True, most=COLUMN))
    return shapes


def _parachutes(flight: WholeFlight) -> list[Line | Area | Text]:
    deployments = flight.report.deployments
    shapes: list[Line | Area | Text] = []
    for row, deployment in enumerate(deployments):
        kind, words = verdict(deployment)
        y = 572.0 - 42.0 * (len(deployments) - 1 - row)
        shapes += _sign(kind, LEFT, y)
        text = f"{role_name(deployment.role)}: {words.lower()}"
        shapes.append(Text(LEFT + 38, y, text, 27, INK, bold=True, most=COLUMN - 38))
    return shapes


def _sign(kind: str, x: float, y: float) -> list[Line | Area | Text]:
    """The tick is drawn, for not every font has one."""
    colour = KINDS[kind]
    if kind == "good":
        return [Line(((x + 2, y - 10), (x + 10, y - 2), (x + 26, y - 20)), colour, 5.5)]
    return [Text(x + 14, y, SIGNS[kind], 32, colour, bold=True, anchor=Anchor.MIDDLE)]


class _Plot:
    """Height against time."""

    def __init__(self, flight: WholeFlight, units: Units) -> None:
        self.flight, self.units = flight, units
        self.end_s = max(1.0, shown_until_s(flight))
        self.top = max(1.0, float(flight.curve.altitude_m.max()) * units.height_factor)

    def _x(self, t_s: float) -> float:
        return PLOT_LEFT + (PLOT_RIGHT - PLOT_LEFT) * t_s / self.end_s

    def _y(self, metres: float) -> float:
        return PLOT_BOTTOM - (PLOT_BOTTOM - PLOT_TOP) * max(0.0, metres * self.units.height_factor) / self.top

    def shapes(self) -> list[Line | Area | Text]:
        """Back to front: grid, curve, events, labels."""
        pieces = [self._points(start, end) for start, end in self._heard()]
        return [
            *(Area((*piece, (piece[-1][0], PLOT_BOTTOM), (piece[0][0], PLOT_BOTTOM)), UNDER_CURVE) for piece in pieces),
            *self._grid(),
            *(Line((before[-1], after[0]), RULE, 2, dashed=True) for before, after in pairwise(pieces)),
            *(Line(piece, ALTITUDE, 4.5) for piece in pieces),
            *self._events(),
        ]

    def _heard(self) -> list[tuple[float, float]]:
        """The stretches of the flight between gaps, from liftoff on."""
        edges = [0.0]
        for start, end in gaps(self.flight):
            edges += [start, end]
        edges.append(self.end_s)
        pairs = zip(edges[::2], edges[1::2], strict=True)
        clipped = [(max(0.0, a), min(self.end_s, b)) for a, b in pairs]
        return [(a, b) for a, b in clipped if b > a]

    def _points(self, start_s: float, end_s: float) -> Points:
        curve = self.flight.curve
        end_s = min(end_s, float(curve.t_s[-1]))
        inside = (curve.t_s > start_s) & (curve.t_s < end_s)
        t = curve.t_s[inside]
        t = np.concatenate([[start_s], t[:: max(1, len(t) // 600)], [end_s]])
        h = np.interp(t, curve.t_s, curve.altitude_m)
        return tuple((round(self._x(x), 1), round(self._y(y), 1)) for x, y in zip(t.tolist(), h.tolist(), strict=True))

    def _grid(self) -> list[Line | Area | Text]:
        found: list[Line | Area | Text] = []
        for value in ticks(0.0, self.top, 5):
            y = self._y(value / self.units.height_factor)
            found.append(Line(((PLOT_LEFT, y), (PLOT_RIGHT, y)), INK if value == 0.0 else GRID, 1.5))
            found.append(Text(PLOT_LEFT - 10, y + 7, whole(value), 19, SOFT, anchor=Anchor.END))
        for value in ticks(0.0, self.end_s, 7):
            x = self._x(value)
            found.append(Line(((x, PLOT_BOTTOM), (x, PLOT_BOTTOM + 7)), INK, 1.5))
            found.append(Text(x, PLOT_BOTTOM + 29, f"{value:g} s", 19, SOFT, anchor=Anchor.MIDDLE))
        title = f"Altitude, {self.units.height_unit}"
        found.append(Text(PLOT_RIGHT, 122, title, 19, SOFT, anchor=Anchor.END))
        return found

    def _events(self) -> list[Line | Area | Text]:
        """A mark on the curve for each event, named where the curve leaves room so that no name covers another."""
        found: list[Line | Area | Text] = []
        labels: list[tuple[float, float, float]] = []
        for event in self.flight.report.events:
            x, y = self._x(self.flight.seconds(event)), self._y(event.altitude_m)
            if not PLOT_LEFT - 1 <= x <= PLOT_RIGHT + 1:
                continue
            found.append(_dot(x, y))
            if event.name in (EventName.LIFTOFF, EventName.TOUCHDOWN):
                continue
            width = CHARACTER * LABEL_SIZE * len(event_name(event))
            at_top = event.name is EventName.APOGEE
            left = min(max(x + 10 - width if at_top else x + 14, PLOT_LEFT), PLOT_RIGHT - width)
            label_y = self._free(
                labels, left, width, y - 16 if at_top else y + 6 if event.velocity_mps > 0.0 else y - 5
            )
            labels.append((left, left + width, label_y))
            found.append(Text(round(left, 1), label_y, event_name(event), LABEL_SIZE, INK, bold=True))
        return found

    @staticmethod
    def _free(labels: list[tuple[float, float, float]], left: float, width: float, y: float) -> float:
        """The nearest height at or above `y` where the label covers none of the others."""

        def covers(at: float) -> bool:
            return any(
                start < left + width and left < end and abs(at - other) < LABEL_ROW for start, end, other in labels
            )

        while covers(y):
            y -= LABEL_ROW
        return y


def _dot(x: float, y: float) -> Area:
    size = 8.0
    return Area(((x - size, y), (x, y - size), (x + size, y), (x, y + size)), INK)
