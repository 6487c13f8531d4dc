"""Captions to lie over the onboard camera's film: SRT and WebVTT, both plain text, here of ASCII alone. Pure.

SRT has no standard; what every player reads is followed: a number, `HH:MM:SS,mmm --> HH:MM:SS,mmm`, text, an empty
line. WebVTT: https://www.w3.org/TR/webvtt1/.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from station.flight_state import EventName
from station.renditions.course import gaps, point_at, shown_until_s, spans, words_at
from station.renditions.units import Units
from station.renditions.words import NOT_HEARD, clock, event_short
from station.whole_flight import WholeFlight

BEFORE_S = 5.0
# How long it is said that the record has ended.
ENDED_S = 5.0
EVENT_SHOWN_S = 3.0
# A cue shorter than this is not read, and some players drop it.
LEAST_CUE_S = 0.05
# A rocket that lies still has no up and down for its noise.
STILL_MPS = 0.5
# A cue begins at a whole millisecond, so up to half of one before what it tells of.
ROUNDING_S = 0.0005


@dataclass(frozen=True, slots=True)
class Cue:
    """One caption: from when to when in the film (s), and its lines."""

    start_s: float
    end_s: float
    lines: tuple[str, ...]


def flight_cues(flight: WholeFlight, film_liftoff_s: float, units: Units, every_s: float = 0.5) -> list[Cue]:
    """Captions from five seconds before liftoff until five after touchdown (or the record's end).

    `film_liftoff_s` is the film's time at liftoff; what would lie before the film's start is left out. `every_s` is how
    often the figures change. An event is named for three seconds, from a cue's start on, so that cues never overlap.
    """
    course, holes = spans(flight), gaps(flight)
    cues = []
    for start_s, end_s in _slices(flight, every_s):
        film_start_s, film_end_s = max(0.0, start_s + film_liftoff_s), end_s + film_liftoff_s
        if film_end_s - film_start_s < LEAST_CUE_S:
            continue
        point = point_at(flight, holes, start_s)
        figures = [_clock(start_s)]
        if start_s >= 0.0:
            figures += [NOT_HEARD] if point is None else [units.height(max(0.0, point.altitude_m))]
            if point is not None:
                figures.append(_speed(point.velocity_mps, units))
        words = [words_at(course, start_s + ROUNDING_S), *_events(flight, start_s, units)]
        cues.append(Cue(film_start_s, film_end_s, ("   ".join(figures), " - ".join(words))))
    return cues


def left_out_words(flight: WholeFlight, film_liftoff_s: float, every_s: float = 0.5) -> str | None:
    """How many captions `flight_cues` leaves out for the film's start, and of which flight time; None if it keeps all.

    A caption of which too little is left to be read counts too, one that is cut short does not.
    """
    out = [
        (start_s, end_s)
        for start_s, end_s in _slices(flight, every_s)
        if start_s < -film_liftoff_s and end_s < -film_liftoff_s + LEAST_CUE_S
    ]
    if not out:
        return None
    count = "1 caption that comes" if len(out) == 1 else f"{len(out)} captions that come"
    return f"left out: {count} before the film's start (flight time {_clock(out[0][0])} to {_clock(out[-1][1])})"


def srt(cues: Iterable[Cue]) -> str:
    """The cues as SubRip text."""
    blocks = [
        [str(number), f"{_time(cue.start_s, ',')} --> {_time(cue.end_s, ',')}", *cue.lines, ""]
        for number, cue in enumerate(cues, start=1)
    ]
    return "".join(line + "\n" for block in blocks for line in block)


def webvtt(cues: Iterable[Cue]) -> str:
    """The cues as WebVTT."""
    blocks = [
        ["WEBVTT", ""],
        *([f"{_time(cue.start_s, '.')} --> {_time(cue.end_s, '.')}", *map(_escaped, cue.lines), ""] for cue in cues),
    ]
    return "".join(line + "\n" for block in blocks for line in block)


def _clock(t_s: float) -> str:
    """Flight time in ASCII."""
    return clock(t_s).replace("−", "-")


def _slices(flight: WholeFlight, every_s: float) -> list[tuple[float, float]]:
    """The flight cut where the figures change and where something happens, so that an event is named on time."""
    last_s = shown_until_s(flight)
    if not any(event.name is EventName.TOUCHDOWN for event in flight.report.events):
        last_s += ENDED_S
    count = int((last_s + BEFORE_S) / every_s)
    edges = {round(-BEFORE_S + every_s * k, 3) for k in range(count + 1)} | {round(last_s, 3)}
    happened = {round(flight.seconds(event), 3) for event in flight.report.events}
    # The regular edge that an event comes close to gives way.
    edges = {edge for edge in edges if all(abs(edge - at_s) > 0.5 * every_s for at_s in happened)}
    return list(pairwise(sorted(edge for edge in edges | happened | {round(last_s, 3)} if edge <= last_s)))


def _events(flight: WholeFlight, t_s: float, units: Units) -> list[str]:
    return [
        event_short(event, units)
        for event in flight.report.events
        if round(flight.seconds(event), 3) <= t_s < flight.seconds(event) + EVENT_SHOWN_S
    ]


def _speed(velocity_mps: float, units: Units) -> str:
    if abs(velocity_mps) < STILL_MPS:
        return units.speed(0.0)
    return f"{units.speed(abs(velocity_mps))} {'up' if velocity_mps > 0 else 'down'}"


def _time(t_s: float, point: str) -> str:
    milliseconds = round(1000.0 * t_s)
    seconds, ms = divmod(milliseconds, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{point}{ms:03d}"


def _escaped(line: str) -> str:
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
