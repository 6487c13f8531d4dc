"""Rates and moments of opening as the whole curve tells them, against the truth of virtual flights."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from station.flight_state import EventName, Verdict
from station.records import Role
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import fly_setup

Judge = Callable[..., Any]


@pytest.mark.parametrize("seed", [7, 28, 280])
def test_the_drogues_rate_ends_where_a_tangled_main_slows_the_fall_unnoticed(seed: int, judged: Judge) -> None:
    flight, pipeline, report = judged(random_flight(seed, "tangled-main"))
    by_role = {d.role: d for d in report.deployments}
    drogue, main = by_role[Role.DROGUE], by_role[Role.MAIN]
    assert drogue.rate_after_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.02)
    assert main.rate_before_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.1)
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.03)
    assert main.verdict is Verdict.TOO_FAST
    # As it happened it was one fall.
    assert len([s for s in pipeline.tracker.stretches() if s.opened_ms is not None]) == 1


@pytest.mark.parametrize(("seed", "fault"), [(130, "drogue-stays-in"), (338, "drogue-silent")])
def test_a_main_that_opened_seconds_before_the_ground_is_known_by_its_last_metres(
    seed: int, fault: str, judged: Judge
) -> None:
    flight, _, report = judged(random_flight(seed, fault))
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.verdict is Verdict.CONFIRMED
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.05)


@pytest.mark.parametrize("seed", [99508, 99517])
def test_lying_high_up_on_a_hillside_is_no_part_of_the_mains_fall(seed: int, judged: Judge) -> None:
    """Until it is known to lie there, ten seconds go by; counted as fall, they made the main's rate unknown."""
    setup = random_setup(seed, None, apogee_m=(200.0, 1500.0))
    unit = replace(setup.altimeter, main_altitude_m=150.0)
    flight = fly_setup(replace(setup, altimeter=unit, landing_height_m=60.0, after_s=20.0), seed)
    _, _, report = judged(flight)
    main = next(d for d in report.deployments if d.role is Role.MAIN)
    assert main.verdict is Verdict.CONFIRMED
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.05)
    touchdown = next(event for event in report.events if event.name is EventName.TOUCHDOWN)
    assert touchdown.t_ms == pytest.approx(flight.truth.t_ms_of(flight.truth.touchdown_t_s or 0.0), abs=1000.0)


@pytest.mark.parametrize("seed", [50063, 60042])
def test_a_silence_right_after_the_mains_opening_does_not_move_it(seed: int, judged: Judge) -> None:
    flight, _, report = judged(random_flight(seed, "front-then-flown"))
    full_s = flight.truth.main.full_t_s
    assert full_s is not None
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.opened_t_ms == pytest.approx(flight.truth.t_ms_of(full_s), abs=300.0)
    assert main.rate_before_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.03)


def test_a_main_that_opens_out_of_a_dive_has_its_rate_from_after_the_braking(judged: Judge) -> None:
    """It was dated back by most of a second, as if it had opened slowly near the top: 8 m/s were told of 4.4."""
    flight, _, report = judged(random_flight(1169, "link-lost"))
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.02)


@pytest.mark.parametrize("seed", [600846, 600300])
def test_a_main_after_a_tangled_drogue_is_dated_by_the_fall_that_was_and_not_by_a_free_one(
    seed: int, judged: Judge
) -> None:
    assert abs(judged(random_flight(seed, "tangled-drogue")).late_s(EventName.MAIN)) < 0.25


@pytest.mark.parametrize("seed", [600624, 600267])
def test_a_drogue_whose_firing_was_never_reported_is_dated_by_its_charges_gas(seed: int, judged: Judge) -> None:
    assert abs(judged(random_flight(seed, "channels-unknown")).late_s(EventName.DROGUE)) < 0.4
