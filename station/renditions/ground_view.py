"""A plan of the ground as SVG text: north up, rings around the pad, the way over the ground, where it lies. Pure.

No map: there is no internet on the field. Everything is in metres north and east of the pad.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from station.renditions.axis import ticks
from station.renditions.plot import drawing, text
from station.renditions.units import FEET_PER_M, whole
from station.whereabouts import DriftWedge, Onward, Place, PlaceKind, Whereabouts

WIDTH, HEIGHT = 400.0, 320.0
ROOM = 40.0
LEAST_SPAN_M = 40.0
_SPOT = 5.0
_STEPS = 24


@dataclass(frozen=True, slots=True)
class _Frame:
    """How metres become pixels; the point `middle` (north, east) is in the middle."""

    scale: float
    middle: tuple[float, float]

    def at(self, north: float, east: float) -> tuple[float, float]:
        return (
            WIDTH / 2.0 + (east - self.middle[1]) * self.scale,
            HEIGHT / 2.0 - (north - self.middle[0]) * self.scale,
        )


def ground_view(found: Whereabouts, says: str) -> str | None:
    """The SVG element; None where there is nothing to draw, `says` for who cannot see it."""
    place, wedge = found.place, found.drift
    if place is None:
        return None if wedge is None else _drawn(_around(_corners(wedge)), says, _wedge_parts(wedge), pad=True)
    if place.range_m is None and not found.points:
        return None
    rocket = _spot(place, found.points)
    outline = [*found.points, *_box(rocket, 2.0 * place.sigma_m)]
    onward = place.onward
    drifted = None
    if onward is not None and onward.range_m is not None and onward.bearing_deg is not None:
        drifted = away(onward.range_m, onward.bearing_deg)
        outline += _box(drifted, 2.0 * onward.sigma_m)
    frame = _around(outline)
    parts = []
    pad = place.range_m is not None
    if pad:
        parts.append(_path("walk", [frame.at(0.0, 0.0), frame.at(*rocket)]))
    if len(found.points) > 1:
        parts.append(_path("way", [frame.at(*point) for point in found.points]))
    if drifted is not None and onward is not None:
        parts.append(_path("onward", [frame.at(*rocket), frame.at(*drifted)]))
        parts += _marked(frame, drifted, onward, "onward", "reckoned")
    name = "rocket" if place.kind is PlaceKind.LANDED else "last seen"
    parts += _marked(frame, rocket, place, "rocket", name)
    return _drawn(frame, says, parts, pad=pad)


def away(range_m: float, bearing_deg: float) -> tuple[float, float]:
    """(North, east) of the pad, m."""
    return range_m * cos(radians(bearing_deg)), range_m * sin(radians(bearing_deg))


def _spot(place: Place, points: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    if place.range_m is None or place.bearing_deg is None:
        return points[-1]
    return away(place.range_m, place.bearing_deg)


def _box(point: tuple[float, float], radius_m: float) -> list[tuple[float, float]]:
    north, east = point
    return [(north - radius_m, east - radius_m), (north + radius_m, east + radius_m)]


def _around(points: Iterable[tuple[float, float]]) -> _Frame:
    norths, easts = zip((0.0, 0.0), *points, strict=True)
    tall, wide = max(norths) - min(norths), max(easts) - min(easts)
    scale = min((WIDTH - 2.0 * ROOM) / max(wide, LEAST_SPAN_M), (HEIGHT - 2.0 * ROOM) / max(tall, LEAST_SPAN_M))
    return _Frame(scale, ((max(norths) + min(norths)) / 2.0, (max(easts) + min(easts)) / 2.0))


def _drawn(frame: _Frame, says: str, parts: Iterable[str], *, pad: bool) -> str:
    x, y = frame.at(0.0, 0.0)
    shapes = [*(_rings(frame) if pad else ()), *parts]
    if pad:
        shapes.append(f'<path class="pad" d="M{x - 6:.1f} {y + 5:.1f}L{x:.1f} {y - 7:.1f}L{x + 6:.1f} {y + 5:.1f}Z"/>')
        shapes.append(text(x, y + 20.0, "pad", "spot-name", "middle"))
    shapes.append('<path class="north" d="M18 34V12M11 20L18 10L25 20"/>')
    shapes.append(text(18.0, 50.0, "N", "spot-name", "middle"))
    return drawing(WIDTH, HEIGHT, says, shapes, "ground")


def _rings(frame: _Frame) -> Iterator[str]:
    x, y = frame.at(0.0, 0.0)
    corners = ((0.0, 0.0), (WIDTH, 0.0), (0.0, HEIGHT), (WIDTH, HEIGHT))
    farthest = max(hypot(cx - x, cy - y) for cx, cy in corners) / frame.scale
    for radius in ticks(0.0, farthest, 4)[1:]:
        size = radius * frame.scale
        yield f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}"/>'
        label = f"{whole(radius)} m, {whole(radius * FEET_PER_M)} ft"
        tops = (y - size - 3.0, y + size + 13.0)
        top = next((top for top in tops if 12.0 < top < HEIGHT - 4.0), None)
        if top is not None:
            yield text(min(max(x, 90.0), WIDTH - 60.0), top, label, "ring-name", "middle")


def _marked(frame: _Frame, point: tuple[float, float], place: Place | Onward, kind: str, name: str) -> Iterator[str]:
    x, y = frame.at(*point)
    radius = max(_SPOT + 3.0, 2.0 * place.sigma_m * frame.scale)
    yield f'<circle class="{kind}-error" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
    yield f'<circle class="{kind}-spot" cx="{x:.1f}" cy="{y:.1f}" r="{_SPOT:g}"/>'
    right = x < 0.5 * WIDTH
    yield text(x + (radius + 5.0) * (1.0 if right else -1.0), y + 5.0, name, "spot-name", "start" if right else "end")


def _bearings(wedge: DriftWedge) -> list[float]:
    """Clockwise from one edge to the other; all around where the direction is not known."""
    if wedge.from_deg is None or wedge.to_deg is None:
        return [360.0 * n / _STEPS for n in range(_STEPS + 1)]
    turn = (wedge.to_deg - wedge.from_deg) % 360.0
    return [wedge.from_deg + turn * n / _STEPS for n in range(_STEPS + 1)]


def _corners(wedge: DriftWedge) -> list[tuple[float, float]]:
    return [away(m, bearing) for bearing in _bearings(wedge) for m in (wedge.least_m, wedge.most_m)]


def _wedge_parts(wedge: DriftWedge) -> Iterator[str]:
    frame, bearings = _around(_corners(wedge)), _bearings(wedge)
    outer = [frame.at(*away(wedge.most_m, bearing)) for bearing in bearings]
    inner = [frame.at(*away(wedge.least_m, bearing)) for bearing in bearings]
    yield _path("wedge", [*outer, *reversed(inner)])
    x, y = outer[len(outer) // 2]
    inner_x, inner_y = inner[len(inner) // 2]
    yield text((x + inner_x) / 2.0, (y + inner_y) / 2.0 + 4.0, "look here first", "spot-name", "middle")


def _path(kind: str, points: Iterable[tuple[float, float]]) -> str:
    return f'<path class="{kind}" d="M{"L".join(f"{x:.1f} {y:.1f}" for x, y in points)}"/>'
