"""The climb as it is told after landing and, before that, live, against the truth of virtual flights."""

from collections.abc import Callable
from typing import Any

import pytest

from station.flight_state import EventName
from station.virtual.random_flights import random_flight

Judge = Callable[..., Any]


def test_a_burnout_called_too_soon_does_not_spoil_the_climb(judged: Judge) -> None:
    """A silence hid the liftoff: the speed's first guess was too high, and putting it right looked like a coast."""
    flight, pipeline, report = judged(random_flight(93, "drogue-early"))
    truth = flight.truth
    assert truth.burnout_t_s is not None
    burnout = pipeline.tracker.event(EventName.BURNOUT)
    assert burnout is not None
    assert burnout.called_t_ms >= truth.t_ms_of(truth.burnout_t_s)
    assert pipeline.tracker.fastest_mps == pytest.approx(truth.max_velocity_mps, rel=0.08)
    assert report.summary.max_speed_mps == pytest.approx(truth.max_velocity_mps, rel=0.03)


@pytest.mark.parametrize("fault", ["lifted-then-flown"])
def test_an_accelerometer_whose_rest_was_disturbed_on_the_way_to_the_pad_is_used(fault: str, judged: Judge) -> None:
    flight, pipeline, _ = judged(random_flight(145, fault))
    assert pipeline.tracker.fastest_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.03)


@pytest.mark.parametrize(("seed", "fault"), [(202, "restart"), (245, "link-lost"), (299, "main-stays-in")])
def test_burnout_is_called_though_lost_lines_hid_nearly_all_of_the_push(seed: int, fault: str, judged: Judge) -> None:
    flight, pipeline, _ = judged(random_flight(seed, fault))
    truth, burnout = flight.truth, pipeline.tracker.event(EventName.BURNOUT)
    assert truth.burnout_t_s is not None
    assert burnout is not None
    assert (burnout.called_t_ms - truth.t_ms_of(truth.burnout_t_s)) / 1000.0 < 0.3


def test_a_hidden_liftoff_leaves_the_top_speed_to_the_coast(judged: Judge) -> None:
    flight, _, report = judged(random_flight(60073, "drogue-late"))
    assert report.summary.max_speed_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.02)


def test_a_silence_after_burnout_makes_no_top_speed_of_its_own(judged: Judge) -> None:
    """Seven seconds of a coast that nobody heard were carried back at the first deceleration seen: 650 m/s for 69."""
    flight, _, report = judged(random_flight(60182, "link-lost"))
    assert report.summary.max_speed_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.2)
