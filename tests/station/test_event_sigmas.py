"""Two standard deviations of an event cover the truth about as often as they say."""

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from station.after_landing import judge_pipeline
from station.event_sigmas import widened_events, widened_stretches
from station.flight_state import Basis, Event, EventName
from station.pipeline import Pipeline
from station.stretch import Stretch
from station.virtual.random_flights import random_flight
from station.virtual.truth import Truth


def event(name: EventName, sigma_s: float) -> Event:
    return Event(name, 1000.0, 0.0, 0.0, sigma_s, Basis.ESTIMATED, 1200.0)


HELD = Stretch(0.0, 9e3, 1e3, 0.1, 300.0, 12.0, 18.0, 0.1, 6.0, 2e3, 18.0)
FREE = replace(HELD, opened_ms=None, opened_sigma_s=0.0, rate_mps=None)


@pytest.mark.parametrize("by_force", [True, False])
def test_a_sigma_only_grows_and_a_large_one_hardly(by_force: bool) -> None:
    for name in (EventName.LIFTOFF, EventName.BURNOUT, EventName.APOGEE, EventName.TOUCHDOWN):
        (small,) = widened_events([event(name, 0.001)], by_force=by_force)
        (odd,) = widened_events([event(name, 0.001)], by_force=by_force, at_odds=True)
        assert odd.sigma_s > max(0.25, small.sigma_s)
        (large,) = widened_events([event(name, 2.0)], by_force=by_force)
        assert small.sigma_s > 0.01
        assert large.sigma_s == pytest.approx(2.0, rel=0.01)
        assert replace(small, sigma_s=0.001) == event(name, 0.001)


def test_a_parachute_near_apogee_is_the_least_sure() -> None:
    free, drogue, main = widened_stretches([FREE, HELD, replace(HELD, opened_sigma_s=0.05)])
    assert free == FREE
    assert drogue.opened_sigma_s > 2.0 * main.opened_sigma_s
    _, dive = widened_stretches([FREE, replace(HELD, speed_at_opening_mps=60.0)])
    assert dive.opened_sigma_s < 0.5 * drogue.opened_sigma_s


def judged(seed: int) -> list[tuple[str, float]]:
    """(Event, error over sigma) after landing, of a flight drawn by chance, where its truth is known."""
    flight = random_flight(seed)
    truth: Truth = flight.truth
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    heard = [sent.t_s for sent in flight.lines if sent.data.startswith(b"@SMP,")]
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    slow = (truth.max_mach or 0.0) < 0.78
    moments = {
        "liftoff": truth.liftoff_t_s,
        "burnout": truth.burnout_t_s if slow or flight.setup.accelerometer else None,
        "apogee": truth.apogee_t_s,
        # The fits look for the canopy that is full; near apogee its drag grows for a second or two after that.
        "drogue": truth.drogue.full_t_s,
        "main": truth.main.full_t_s,
        "touchdown": truth.touchdown_t_s,
    }
    found = []
    for called in judge_pipeline(pipeline, file="x").events:
        at_s = moments[called.name.value]
        if at_s is None or len([t for t in heard if abs(t - at_s) < 1.0]) < 0.6 * 2.0 / flight.setup.altimeter.period_s:
            continue
        found.append((called.name.value, abs(called.t_ms - truth.t_ms_of(at_s)) / 1000.0 / called.sigma_s))
    return found


def test_on_flights_drawn_by_chance_the_sigmas_are_honest() -> None:
    by_name = defaultdict(list)
    for seed in range(900, 950):
        for name, z in judged(seed):
            by_name[name].append(z)
    assert set(by_name) == {name.value for name in EventName}
    for name, z in by_name.items():
        assert len(z) > 25, name
        # 90 to 99 of 100 are wanted; of so few flights chance takes or gives some.
        assert float(np.mean(np.array(z) < 2.0)) >= 0.82, name
        assert float(np.mean(np.array(z) < 0.15)) < 0.5, name
