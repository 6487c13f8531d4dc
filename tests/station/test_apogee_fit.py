"""The top as the heights around it tell it, against the truth of virtual flights."""

from collections.abc import Callable
from typing import Any

from station.flight_state import EventName
from station.virtual.random_flights import random_flight

Judge = Callable[..., Any]


def test_the_top_of_a_climb_that_a_drogue_brakes_is_told_no_surer_than_it_is(judged: Judge) -> None:
    """2 sigma cover the truth on nearly all of a dozen flights, and half are within 0.06 s."""
    off = []
    for seed in range(71001, 71013):
        flight, _, report = judged(random_flight(seed, "drogue-early"))
        apogee_s = flight.truth.apogee_t_s
        apogee = next((e for e in report.events if e.name is EventName.APOGEE), None)
        if apogee is not None and apogee_s is not None:
            error_s = abs(apogee.t_ms - flight.truth.t_ms_of(apogee_s)) / 1000.0
            off.append((error_s, error_s / apogee.sigma_s))
    assert len(off) >= 10
    assert sum(sigmas < 2.0 for _, sigmas in off) >= len(off) - 1
    assert sorted(error_s for error_s, _ in off)[len(off) // 2] < 0.06


def test_a_charge_half_a_second_before_apogee_leaves_the_top_a_free_one(judged: Judge) -> None:
    assert abs(judged(random_flight(600268, "motor-ejection")).late_s(EventName.APOGEE)) < 0.06
