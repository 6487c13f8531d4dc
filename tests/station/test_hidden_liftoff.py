"""A silence of the radio over the liftoff: the report's top speed stays one that the readings bear out."""

import pytest

from station.after_landing import judge_pipeline
from station.flight_state import EventName
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight
from station.virtual.virtual_flight import VirtualFlight
from station.wire import LineFramer

# Ten readings a second with an accelerometer, over a second of silence from before the liftoff on.
SEED = 43055


def test_the_top_speed_after_a_liftoff_in_a_silence_is_not_made_up() -> None:
    flight = random_flight(SEED, "restart")
    pipeline, framer = Pipeline(), LineFramer()
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
    report = judge_pipeline(pipeline, file="virtual")
    # By the end of the burn the filter knew it to a third; before, 282 m/s was told without a word of that.
    assert report.summary.max_speed_mps is None
    assert flight.truth.max_velocity_mps == pytest.approx(255.7, abs=0.1)


def heard_but_for(seed: int, fault: str, from_s: float, until_s: float) -> tuple[VirtualFlight, Pipeline]:
    flight = random_flight(seed, fault)
    pipeline, framer = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c), LineFramer()
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            if not from_s <= sent.t_s < until_s:
                pipeline.take_line(line, round(sent.t_s * 1e6))
    return flight, pipeline


@pytest.mark.parametrize(
    ("seed", "fault", "from_s", "until_s"),
    [(5011, "motor-ejection", 18.6, 21.7), (5035, "motor-ejection", 12.1, 13.2), (5097, "drogue-late", 13.5, 16.5)],
)
def test_no_top_speed_is_told_that_nothing_showed(seed: int, fault: str, from_s: float, until_s: float) -> None:
    """Past the speed of sound in a silence: 700 to 970 m/s were told where it flew 354 to 425."""
    flight, pipeline = heard_but_for(seed, fault, from_s, until_s)
    report = judge_pipeline(pipeline, file="virtual")
    assert report.summary.max_speed_mps is None
    apogee = next(event for event in report.events if event.name is EventName.APOGEE)
    assert flight.truth.apogee_t_s is not None
    error_s = (apogee.t_ms - flight.truth.t_ms_of(flight.truth.apogee_t_s)) / 1000.0
    assert abs(error_s) < 3.0 * apogee.sigma_s


def test_whom_a_silence_hid_until_it_hung_under_its_drogue_is_not_warned_of() -> None:
    """It was taken to climb at 341 m/s, near the speed of sound, so that no height counted for eight seconds."""
    flight = random_flight(174, "link-lost")
    pipeline, framer = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c), LineFramer()
    apogee_s = flight.truth.apogee_t_s
    assert apogee_s is not None
    speeds = []
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            # All of the climb and the opening, from before the liftoff on, and again later.
            if not 21.5 <= sent.t_s < 51.15 and not 58.9 <= sent.t_s < 61.9:
                pipeline.take_line(line, round(sent.t_s * 1e6))
        if 52.0 < sent.t_s < 80.0 and pipeline.tracker.estimate is not None:
            speeds.append(pipeline.tracker.estimate.velocity_mps)
            assert not any(alert.code == "fast_descent" for alert in pipeline.snapshot().alerts)
    assert min(speeds) > -45.0
    assert max(speeds) < 0.0
