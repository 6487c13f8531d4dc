"""A silence of the radio over the liftoff: the report's top speed stays one that the readings bear out."""

import pytest

from station.after_landing import judge_pipeline
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight
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
    assert report.summary.max_speed_mps == pytest.approx(flight.truth.max_velocity_mps, rel=0.1)
