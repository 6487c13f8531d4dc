"""What tests of several parts of the station share."""

import gc
import sys
from collections.abc import Callable
from types import FunctionType, ModuleType
from typing import NamedTuple

import pytest

from station.after_landing import CheckReport, judge_pipeline
from station.flight_state import EventName
from station.pipeline import Pipeline
from station.virtual.virtual_flight import VirtualFlight


@pytest.fixture
def held_bytes() -> Callable[[object], int]:
    """The memory that an object holds: bytes of it and of all it leads to, but classes, functions and modules."""

    def held(thing: object) -> int:
        seen: set[int] = set()
        waiting, total = [thing], 0
        while waiting:
            one = waiting.pop()
            if id(one) not in seen and not isinstance(one, type | ModuleType | FunctionType):
                seen.add(id(one))
                total += sys.getsizeof(one)
                waiting.extend(gc.get_referents(one))
        return total

    return held


class JudgedFlight(NamedTuple):
    """A virtual flight, the pipeline that took all its lines, and what is said of it after landing."""

    flight: VirtualFlight
    pipeline: Pipeline
    report: CheckReport

    def late_s(self, name: EventName) -> float:
        """How much later than it happened an event is dated, s."""
        truth = self.flight.truth
        happened_s = {
            EventName.APOGEE: truth.apogee_t_s,
            EventName.DROGUE: truth.drogue.full_t_s,
            EventName.MAIN: truth.main.full_t_s,
        }[name]
        assert happened_s is not None
        return (next(e for e in self.report.events if e.name is name).t_ms - truth.t_ms_of(happened_s)) / 1000.0


@pytest.fixture
def judged() -> Callable[[VirtualFlight], JudgedFlight]:
    """Judge a virtual flight with the day's temperature given."""

    def judge(flight: VirtualFlight) -> JudgedFlight:
        pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
        for line, arrival_us in flight.heard():
            pipeline.take_line(line, arrival_us)
        return JudgedFlight(flight, pipeline, judge_pipeline(pipeline, file="virtual"))

    return judge
