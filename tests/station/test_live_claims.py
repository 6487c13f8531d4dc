"""In flight, moment by moment: nothing is said to have opened that never did."""

import pytest

from station.flight_state import Verdict
from station.pipeline import Pipeline
from station.records import Role
from station.virtual import SCENARIOS, fly
from station.wire import LineFramer


@pytest.mark.parametrize("seed", range(1, 5))
@pytest.mark.parametrize(
    ("scenario", "closed"),
    [
        ("main-silent", {Role.MAIN}),
        ("main-stays-in", {Role.MAIN}),
        ("drogue-silent", {Role.DROGUE}),
        ("drogue-stays-in", {Role.DROGUE}),
        ("ballistic", {Role.DROGUE, Role.MAIN}),
    ],
)
def test_a_parachute_that_stays_closed_is_never_said_to_hold(scenario: str, closed: set[Role], seed: int) -> None:
    pipeline, framer = Pipeline(), LineFramer()
    looked = 0
    for sent in fly(SCENARIOS[scenario], seed).lines:
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
        if pipeline.tracker.descent is None:
            continue
        looked += 1
        if looked % 4:
            continue
        for deployment in pipeline.snapshot().deployments:
            if deployment.role in closed:
                assert deployment.opened_t_ms is None
                assert deployment.verdict is not Verdict.CONFIRMED
    assert looked > 200
