"""The curves of the page after landing: the whole flight, and the evidence around each parachute. Pure."""

from collections.abc import Sequence
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from station.atmosphere import pad_density_ratio
from station.columns import Array
from station.flight_state import Deployment, EventName
from station.renditions.after_rates import Rate, in_short, rates_of
from station.renditions.course import gaps, shown_until_s
from station.renditions.plot import BOLD_CHARACTER, LABEL_ROW, Mark, Panel, boxed, drawing, row_count, text
from station.renditions.words import event_name, role_name
from station.whole_flight import WholeFlight

MOST_POINTS = 500
BEFORE_S, AFTER_S = 3.0, 9.0
LEAST_CLIMB_M = 5.0
# So much of the speed's panel, of its height above nothing, is left for a rocket that still climbs.
CLIMB_SHARE = 0.3
# The names of the rates stand above them and below the axis's name.
ROOM_FOR_NAMES = 1.4
# Slower than this before an opening is no rate of descent to draw.
LEAST_RATE_MPS = 3.0
LEFT, RIGHT = 46.0, 50.0
EVIDENCE_WIDTH = 430.0
_PANEL, _BETWEEN, _BELOW = 104.0, 32.0, 22.0


def flight_curve(flight: WholeFlight, width: float, height: float, kind: str) -> str:
    """Height over the whole flight with its events, and the simulation beside it."""
    until_s = max(1.0, shown_until_s(flight))
    prediction = flight.report.next_time.prediction
    top = float(flight.curve.altitude_m.max())
    if prediction is not None:
        top = max(top, prediction.apogee_m)
        if prediction.touchdown_s is not None:
            until_s = max(until_s, prediction.touchdown_s)
    marks = [*_events(flight), *_fired(flight)]
    frame = Panel(LEFT, width - RIGHT, 0.0, 1.0, 0.0, until_s, 0.0, max(LEAST_CLIMB_M, 1.04 * top))
    names = LABEL_ROW * row_count(marks, frame)
    panel = _placed(frame, names + 24.0, height - _BELOW)
    # Lines first, names last: no line goes through a name.
    parts = [panel.mark_lines(marks, 0.0), panel.axis("Height", "m"), panel.seconds(8 if width > 500.0 else 5)]
    names_of_lines: list[str] = []
    if prediction is not None:
        shown = prediction.t_s >= 0.0
        parts.append(panel.line(prediction.t_s[shown].tolist(), prediction.altitude_m[shown].tolist(), "predicted"))
        x, y = panel.x(prediction.apogee_s), panel.y(prediction.apogee_m)
        names_of_lines.append(text(x + 8.0, max(y + 4.0, panel.top + 10.0), "predicted", "predicted-name"))
    parts += [panel.line(t, h, "height") for t, h in _pieces(flight, 0.0, until_s, flight.curve.altitude_m)]
    parts += names_of_lines
    parts.append(panel.mark_names(marks, 0.0))
    says = "Height over the flight: " + ", ".join(f"{m.text} at {m.t_s:.1f} s" for m in sorted(marks, key=_when)) + "."
    return drawing(width, height, says, parts, kind)


def evidence_curve(flight: WholeFlight, d: Deployment) -> str:
    """Height and speed of descent around one parachute: what was reported, from when it held the fall, the rates."""
    from_s, to_s = window_of(flight, d)
    curve = flight.curve
    seen = (curve.t_s >= from_s) & (curve.t_s <= to_s)
    heights = curve.altitude_m[seen] if seen.any() else np.array([0.0])
    speeds = -curve.velocity_mps[seen] if seen.any() else np.array([0.0])
    before, after = rates_of(flight, d)
    marks = _marks_of(flight, d, from_s, to_s)
    low, high = float(heights.min()), float(heights.max())
    room = max(LEAST_CLIMB_M, 0.08 * (high - low))
    frame = Panel(LEFT, EVIDENCE_WIDTH - RIGHT, 0.0, 1.0, from_s, to_s, max(0.0, low - room), high + room)
    names = LABEL_ROW * row_count(marks, frame) + 22.0
    upper = _placed(frame, names, names + _PANEL)
    fastest = max(6.0, ROOM_FOR_NAMES * float(speeds.max()))
    lower_top = upper.bottom + _BETWEEN
    lower = Panel(
        upper.left,
        upper.right,
        lower_top,
        lower_top + _PANEL,
        from_s,
        to_s,
        max(min(0.0, float(speeds.min())), -CLIMB_SHARE * fastest),
        fastest,
    )
    # Lines first, names last: no line goes through a name.
    parts = [upper.mark_lines(marks, 0.0, lower.bottom)]
    parts += [upper.axis("Height", "m", 3), lower.axis("Coming down at", "m/s", 4), lower.seconds()]
    parts += [_dots(flight, upper)]
    parts += [upper.line(t, h, "height") for t, h in _pieces(flight, from_s, to_s, curve.altitude_m)]
    parts += _speed(flight, lower)
    named = ((before, "before"), (after, "after" if d.opened_t_ms else "rate"))
    rates = [(rate, name) for rate, name in named if rate is not None and rate.mps > LEAST_RATE_MPS]
    parts += [_rate(flight, lower, rate, name) for rate, name in rates]
    parts += _rate_names(flight, lower, rates)
    parts.append(upper.mark_names(marks, 0.0))
    says = f"Height and speed of descent around the {d.role.value}: " + (
        ", ".join(f"{mark.text} at {mark.t_s:.1f} s" for mark in sorted(marks, key=_when)) or "no moment is marked"
    )
    return drawing(EVIDENCE_WIDTH, lower.bottom + _BELOW, says + ".", parts, "evidence")


def window_of(flight: WholeFlight, d: Deployment) -> tuple[float, float]:
    """From when to when (s from liftoff) the evidence for one parachute is drawn.

    Around its firing and opening; the whole descent where neither was seen.
    """
    at = {event.name: flight.seconds(event) for event in flight.report.events}
    end_s = max(1.0, shown_until_s(flight))
    moments = [(t - flight.liftoff_ms) / 1000.0 for t in (d.fired_t_ms, d.opened_t_ms) if t is not None]
    if not moments:
        return max(0.0, at.get(EventName.APOGEE, 0.0) - BEFORE_S), end_s
    apogee_s = at.get(EventName.APOGEE)
    # The highest point belongs to what opens there.
    if apogee_s is not None and min(moments) - 2.0 * BEFORE_S < apogee_s < max(moments) + AFTER_S:
        moments.append(apogee_s)
    return max(0.0, min(moments) - BEFORE_S), min(end_s, max(moments) + AFTER_S)


def _placed(frame: Panel, top: float, bottom: float) -> Panel:
    return Panel(frame.left, frame.right, top, bottom, frame.from_s, frame.to_s, frame.low, frame.high)


def _when(mark: Mark) -> float:
    return mark.t_s


def _events(flight: WholeFlight) -> list[Mark]:
    """The flight's events, but for liftoff, where the curve begins."""
    names = {EventName.DROGUE: "drogue holds the fall", EventName.MAIN: "main holds the fall"}
    if len(flight.report.deployments) == 1:
        names = dict.fromkeys(names, "parachute holds the fall")
    names[EventName.APOGEE] = "highest point"
    return [
        Mark(flight.seconds(event), names.get(event.name, event_name(event).lower()), event.name.value)
        for event in flight.report.events
        if event.name is not EventName.LIFTOFF
    ]


def _fired(flight: WholeFlight) -> list[Mark]:
    return [
        Mark(
            (d.fired_t_ms - flight.liftoff_ms) / 1000.0,
            f"{role_name(d.role).lower()} reported fired",
            "fired",
        )
        for d in flight.report.deployments
        if d.fired_t_ms is not None
    ]


def _marks_of(flight: WholeFlight, d: Deployment, from_s: float, to_s: float) -> list[Mark]:
    marks = []
    if d.fired_t_ms is not None:
        marks.append(Mark((d.fired_t_ms - flight.liftoff_ms) / 1000.0, "reported fired", "fired"))
    if d.opened_t_ms is not None:
        marks.append(Mark((d.opened_t_ms - flight.liftoff_ms) / 1000.0, "holds the fall", "opened"))
    own = {EventName.DROGUE.value: EventName.DROGUE, EventName.MAIN.value: EventName.MAIN}.get(d.role.value)
    names = {
        EventName.APOGEE: "highest point",
        EventName.TOUCHDOWN: "touchdown",
        EventName.DROGUE: "drogue holds the fall",
        EventName.MAIN: "main holds the fall",
    }
    around = [
        Mark(flight.seconds(event), names[event.name])
        for event in flight.report.events
        if event.name in names and event.name is not own and from_s <= flight.seconds(event) <= to_s
    ]
    return [*marks, *around]


def _pieces(flight: WholeFlight, from_s: float, to_s: float, values: Array) -> list[tuple[list[float], list[float]]]:
    """The stretches of the curve between gaps, thinned."""
    curve = flight.curve
    inside = (curve.t_s >= from_s) & (curve.t_s <= to_s)
    pieces = []
    holes = [start for start, _ in gaps(flight)]
    part_of = np.searchsorted(holes, curve.t_s, side="left") if holes else np.zeros(len(curve.t_s), dtype=np.intp)
    step = max(1, int(inside.sum()) // MOST_POINTS)
    for part in np.unique(part_of[inside]).tolist():
        rows = _thinned(inside & (part_of == part) & np.isfinite(values), step)
        pieces.append((curve.t_s[rows].tolist(), values[rows].tolist()))
    return pieces


def _thinned(rows: NDArray[np.bool_], step: int) -> NDArray[np.intp]:
    found = np.flatnonzero(rows)
    return np.unique(np.concatenate([found[::step], found[-1:]]))


def _dots(flight: WholeFlight, panel: Panel) -> str:
    """The samples as they were heard."""
    heard = [
        (t_s, s.altitude_m)
        for s in flight.samples
        if panel.from_s <= (t_s := (s.t_ms - flight.liftoff_ms) / 1000.0) <= panel.to_s
        and panel.low <= s.altitude_m <= panel.high
    ]
    some = heard[:: max(1, len(heard) // 200)]
    path = "".join(f"M{panel.x(t):.1f} {panel.y(h):.1f}h0" for t, h in some)
    return f'<path class="samples" d="{path}"/>'


def _speed(flight: WholeFlight, panel: Panel) -> list[str]:
    curve = flight.curve
    speed = np.where(-curve.velocity_mps < panel.low, np.nan, -curve.velocity_mps)
    sigma = 2.0 * curve.velocity_sigma_mps
    lows = _pieces(flight, panel.from_s, panel.to_s, speed - sigma)
    highs = _pieces(flight, panel.from_s, panel.to_s, speed + sigma)
    bands = [panel.band(t, low, high, "speed-error") for (t, low), (_, high) in zip(lows, highs, strict=True)]
    return [*bands, *(panel.line(t, v, "speed") for t, v in _pieces(flight, panel.from_s, panel.to_s, speed))]


def _rate(flight: WholeFlight, panel: Panel, rate: Rate, name: str) -> str:
    """The rate where it was seen, with twice its deviation on both sides, at the air density of each height."""
    t, thin = _seen(flight, panel, rate)
    if not t:
        return ""
    low = [(rate.mps - 2.0 * rate.sigma_mps) * k for k in thin]
    high = [(rate.mps + 2.0 * rate.sigma_mps) * k for k in thin]
    return panel.band(t, low, high, f"rate-error {name}") + panel.line(t, [rate.mps * k for k in thin], f"rate {name}")


def _rate_names(flight: WholeFlight, panel: Panel, rates: Sequence[tuple[Rate, str]]) -> list[str]:
    """Each rate's figure above its band, as sure as the table beside says it; below where that is taken."""
    names: list[str] = []
    taken: list[tuple[float, float]] = []
    for rate, name in rates:
        t, thin = _seen(flight, panel, rate)
        if not t:
            continue
        said = f"{name}: {in_short(rate)}"
        half = 0.5 * (BOLD_CHARACTER * len(said))
        x = min(max(panel.x((t[0] + t[-1]) / 2.0), panel.left + half), panel.right - half)
        y = max(panel.y((rate.mps + 2.0 * rate.sigma_mps) * max(thin)) - 6.0, panel.top + 12.0)
        if any(abs(x - other_x) < 2.0 * half and abs(y - other_y) < LABEL_ROW for other_x, other_y in taken):
            y = panel.y((rate.mps - 2.0 * rate.sigma_mps) * min(thin)) + LABEL_ROW
        taken.append((x, y))
        names.append(boxed(x, y, half, said, "rate-name"))
    return names


def _seen(flight: WholeFlight, panel: Panel, rate: Rate) -> tuple[list[float], list[float]]:
    """Moments (s) of the panel at which a rate was seen, and by how much it is faster there than at the pad."""
    start_s, end_s = max(panel.from_s, rate.from_s), min(panel.to_s, rate.to_s)
    if end_s <= start_s:
        return [], []
    t = np.linspace(start_s, end_s, 12)
    heights = np.interp(t, flight.curve.t_s, flight.curve.altitude_m)
    return t.tolist(), [1.0 / sqrt(pad_density_ratio(float(h))) if rate.at_pad else 1.0 for h in heights]
