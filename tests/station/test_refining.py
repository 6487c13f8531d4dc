"""What the whole curve says that nothing could say as it happened, against the truth of virtual flights."""

from dataclasses import replace
from functools import cache

import pytest

from station.after_landing import CheckReport, judge_pipeline
from station.flight_state import EventName, Verdict
from station.pipeline import Pipeline
from station.records import Role
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup


@cache
def judged(seed: int, fault: str) -> tuple[VirtualFlight, Pipeline, CheckReport]:
    return judged_flight(random_flight(seed, fault))


def judged_flight(flight: VirtualFlight) -> tuple[VirtualFlight, Pipeline, CheckReport]:
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    return flight, pipeline, judge_pipeline(pipeline, file="virtual")


@pytest.mark.parametrize("seed", [7, 28, 280])
def test_the_drogues_rate_ends_where_a_tangled_main_slows_the_fall_unnoticed(seed: int) -> None:
    flight, pipeline, report = judged(seed, "tangled-main")
    by_role = {d.role: d for d in report.deployments}
    drogue, main = by_role[Role.DROGUE], by_role[Role.MAIN]
    assert drogue.rate_after_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.02)
    assert main.rate_before_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.1)
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.03)
    assert main.verdict is Verdict.TOO_FAST
    # As it happened it was one fall.
    assert len([s for s in pipeline.tracker.stretches() if s.opened_ms is not None]) == 1


@pytest.mark.parametrize(("seed", "fault"), [(130, "drogue-stays-in"), (338, "drogue-silent")])
def test_a_main_that_opened_seconds_before_the_ground_is_known_by_its_last_metres(seed: int, fault: str) -> None:
    flight, _, report = judged(seed, fault)
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.verdict is Verdict.CONFIRMED
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.05)


@pytest.mark.parametrize("seed", [99508, 99517])
def test_lying_high_up_on_a_hillside_is_no_part_of_the_mains_fall(seed: int) -> None:
    """Until it is known to lie there, ten seconds go by; counted as fall, they made the main's rate unknown."""
    setup = random_setup(seed, None, apogee_m=(200.0, 1500.0))
    unit = replace(setup.altimeter, main_altitude_m=150.0)
    flight = fly_setup(replace(setup, altimeter=unit, landing_height_m=60.0, after_s=20.0), seed)
    _, _, report = judged_flight(flight)
    main = next(d for d in report.deployments if d.role is Role.MAIN)
    assert main.verdict is Verdict.CONFIRMED
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.05)
    touchdown = next(event for event in report.events if event.name is EventName.TOUCHDOWN)
    assert touchdown.t_ms == pytest.approx(flight.truth.t_ms_of(flight.truth.touchdown_t_s or 0.0), abs=1000.0)


def test_a_burnout_called_too_soon_does_not_spoil_the_climb() -> None:
    """A silence hid the liftoff: the speed's first guess was too high, and putting it right looked like a coast."""
    flight, pipeline, report = judged(93, "drogue-early")
    truth = flight.truth
    assert truth.burnout_t_s is not None
    burnout = pipeline.tracker.event(EventName.BURNOUT)
    assert burnout is not None
    assert burnout.called_t_ms >= truth.t_ms_of(truth.burnout_t_s)
    assert pipeline.tracker.fastest_mps == pytest.approx(truth.max_velocity_mps, rel=0.08)
    assert report.summary.max_speed_mps == pytest.approx(truth.max_velocity_mps, rel=0.03)


@pytest.mark.parametrize("fault", ["lifted-then-flown"])
def test_an_accelerometer_whose_rest_was_disturbed_on_the_way_to_the_pad_is_used(fault: str) -> None:
    flight, pipeline, _ = judged(145, fault)
    assert pipeline.tracker.fastest_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.03)


@pytest.mark.parametrize(("seed", "fault"), [(202, "restart"), (245, "link-lost"), (299, "main-stays-in")])
def test_burnout_is_called_though_lost_lines_hid_nearly_all_of_the_push(seed: int, fault: str) -> None:
    flight, pipeline, _ = judged(seed, fault)
    truth, burnout = flight.truth, pipeline.tracker.event(EventName.BURNOUT)
    assert truth.burnout_t_s is not None
    assert burnout is not None
    assert (burnout.called_t_ms - truth.t_ms_of(truth.burnout_t_s)) / 1000.0 < 0.3


def test_the_top_of_a_climb_that_a_drogue_brakes_is_told_no_surer_than_it_is() -> None:
    """2 sigma cover the truth on nearly all of a dozen flights, and half are within 0.06 s."""
    off = []
    for seed in range(71001, 71013):
        flight, _, report = judged(seed, "drogue-early")
        apogee_s = flight.truth.apogee_t_s
        apogee = next((e for e in report.events if e.name is EventName.APOGEE), None)
        if apogee is not None and apogee_s is not None:
            error_s = abs(apogee.t_ms - flight.truth.t_ms_of(apogee_s)) / 1000.0
            off.append((error_s, error_s / apogee.sigma_s))
    assert len(off) >= 10
    assert sum(sigmas < 2.0 for _, sigmas in off) >= len(off) - 1
    assert sorted(error_s for error_s, _ in off)[len(off) // 2] < 0.06


@pytest.mark.parametrize("seed", [50063, 60042])
def test_a_silence_right_after_the_mains_opening_does_not_move_it(seed: int) -> None:
    flight, _, report = judged(seed, "front-then-flown")
    full_s = flight.truth.main.full_t_s
    assert full_s is not None
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.opened_t_ms == pytest.approx(flight.truth.t_ms_of(full_s), abs=300.0)
    assert main.rate_before_mps == pytest.approx(flight.truth.drogue.rate_mps, rel=0.03)


def test_a_hidden_liftoff_leaves_the_top_speed_to_the_coast() -> None:
    flight, _, report = judged(60073, "drogue-late")
    assert report.summary.max_speed_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.02)


def test_a_silence_after_burnout_makes_no_top_speed_of_its_own() -> None:
    """Seven seconds of a coast that nobody heard were carried back at the first deceleration seen: 650 m/s for 69."""
    flight, _, report = judged(60182, "link-lost")
    assert report.summary.max_speed_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.2)


def test_a_main_that_opens_out_of_a_dive_has_its_rate_from_after_the_braking() -> None:
    """It was dated back by most of a second, as if it had opened slowly near the top: 8 m/s were told of 4.4."""
    flight, _, report = judged(1169, "link-lost")
    (main,) = (d for d in report.deployments if d.role is Role.MAIN)
    assert main.rate_after_mps == pytest.approx(flight.truth.main.rate_mps, rel=0.02)


def late_s(seed: int, fault: str, name: EventName) -> float:
    """How much later than it happened an event is dated, s."""
    flight, _, report = judged(seed, fault)
    truth = flight.truth
    happened_s = {
        EventName.APOGEE: truth.apogee_t_s,
        EventName.DROGUE: truth.drogue.full_t_s,
        EventName.MAIN: truth.main.full_t_s,
    }[name]
    assert happened_s is not None
    return (next(e for e in report.events if e.name is name).t_ms - truth.t_ms_of(happened_s)) / 1000.0


@pytest.mark.parametrize("seed", [600846, 600300])
def test_a_main_after_a_tangled_drogue_is_dated_by_the_fall_that_was_and_not_by_a_free_one(seed: int) -> None:
    assert abs(late_s(seed, "tangled-drogue", EventName.MAIN)) < 0.25


@pytest.mark.parametrize("seed", [600624, 600267])
def test_a_drogue_whose_firing_was_never_reported_is_dated_by_its_charges_gas(seed: int) -> None:
    assert abs(late_s(seed, "channels-unknown", EventName.DROGUE)) < 0.4


def test_a_charge_half_a_second_before_apogee_leaves_the_top_a_free_one() -> None:
    assert abs(late_s(600268, "motor-ejection", EventName.APOGEE)) < 0.06
