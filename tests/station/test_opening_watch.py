"""The live look at a motor's early ejection: once, the same however the lines come, and as the check says it."""

from station.flight_state import Snapshot, Verdict
from station.pipeline import Pipeline
from station.virtual import SCENARIOS, fly


def flown(name: str, *, asked_every: int | None = None) -> Snapshot:
    pipeline = Pipeline()
    for n, (line, arrival_us) in enumerate(fly(SCENARIOS[name], 3).heard()):
        pipeline.take_line(line, arrival_us)
        if asked_every is not None and n % asked_every == 0:
            pipeline.snapshot()
    return pipeline.snapshot()


def test_a_parachute_out_in_the_climb_is_early_on_the_page_too() -> None:
    (found,) = flown("early-ejection").deployments
    assert found.verdict is Verdict.EARLY
    assert "It began to hold in the climb already" in found.reasons[-1]
    assert found.opened_velocity_mps is not None
    truth = fly(SCENARIOS["early-ejection"], 3).truth.main
    assert truth.fired_velocity_mps is not None
    # Between the charge's firing and the canopy's hold, half a second later, it slows down.
    assert 0.6 * truth.fired_velocity_mps < found.opened_velocity_mps < 1.1 * truth.fired_velocity_mps


def test_it_does_not_depend_on_who_asks_when() -> None:
    assert flown("early-ejection", asked_every=200).deployments == flown("early-ejection").deployments


def test_in_time_and_late_are_left_as_they_were() -> None:
    for name in ("ejection-in-time", "late-ejection"):
        (found,) = flown(name).deployments
        assert found.verdict is Verdict.CONFIRMED
        assert found.opened_velocity_mps is None


def test_while_it_still_climbs_or_has_just_turned_nothing_is_said() -> None:
    pipeline = Pipeline()
    flight = fly(SCENARIOS["early-ejection"], 3)
    assert flight.truth.apogee_t_s is not None
    for line, arrival_us in flight.heard():
        if arrival_us > 1e6 * (flight.truth.apogee_t_s + 2.0):
            break
        pipeline.take_line(line, arrival_us)
    (found,) = pipeline.snapshot().deployments
    assert found.verdict in (None, Verdict.CONFIRMED)
    assert found.opened_velocity_mps is None
