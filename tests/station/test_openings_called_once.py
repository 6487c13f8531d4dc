"""What the page says of an opening is said once: not taken back and said again, nor moved to another moment.

Seeded virtual flights on which it was: charges' blows on the pressure, gusts, silences of the radio.
"""

from itertools import pairwise

import pytest

from station.flight_state import EventName
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight
from station.wire import LineFramer

LOOKS_PER_S = 5
MOVES_S = 1.0


@pytest.mark.parametrize(
    ("seed", "fault"),
    [
        (16, "channels-unknown"),
        (21, "link-lost"),
        (24, "main-stays-in"),
        (32, "tangled-main"),
        (37, "front-then-flown"),
        (459, "front-then-flown"),
        (473, "drogue-stays-in"),
        (475, "main-at-apogee"),
        (623, "main-at-apogee"),
    ],
)
def test_an_opening_is_called_once_and_at_one_moment(seed, fault):
    flight = random_flight(seed, fault)
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    framer = LineFramer()
    next_look_s = 0.0
    shown: list[dict[EventName, float]] = [{}]
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
        if pipeline.tracker.events and sent.t_s >= next_look_s:
            next_look_s = sent.t_s + 1.0 / LOOKS_PER_S
            shown.append({event.name: event.t_ms for event in pipeline.snapshot().events})
    assert any(EventName.DROGUE in look or EventName.MAIN in look for look in shown)
    for name in (EventName.DROGUE, EventName.MAIN):
        calls = sum(name in now and name not in before for before, now in pairwise(shown))
        assert calls <= 1, name
        moments = [look[name] for look in shown if name in look]
        assert not moments or max(moments) - min(moments) <= 1000.0 * MOVES_S, name
