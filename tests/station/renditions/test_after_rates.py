"""Rates before and after each parachute, against what the virtual rockets of the samples truly did (expected.json)."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from station.check_report import rate_under
from station.records import Role
from station.renditions.after_rates import Rate, in_short, rates_of
from station.whole_flight import WholeFlight

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"
TRUTH = {name: each["truth"] for name, each in json.loads((SAMPLES / "expected.json").read_text("utf-8")).items()}


def rates(flight: WholeFlight, role: Role) -> tuple[Rate | None, Rate | None]:
    (deployment,) = (d for d in flight.report.deployments if d.role is role)
    return rates_of(flight, deployment)


def within(found: Rate | None, truth_mps: float) -> bool:
    """Within twice its deviation; true rates are means over heights where the fall is up to 2 % faster."""
    assert found is not None
    return abs(found.mps - truth_mps) <= 2.0 * found.sigma_mps + 0.02 * truth_mps


@pytest.mark.parametrize("name", ["nominal-dual.flight", "drogue-late.flight", "restart-in-flight.flight"])
def test_both_rates_of_a_good_descent_hold_the_truth(flight_of: Callable[..., WholeFlight], name: str) -> None:
    flight, truth = flight_of(name), TRUTH[name]
    assert within(rates(flight, Role.DROGUE)[1], truth["drogue_rate_mps"])
    before, after = rates(flight, Role.MAIN)
    assert within(before, truth["drogue_rate_mps"])
    assert within(after, truth["main_rate_mps"])


def test_a_parachute_thrown_out_late_is_met_by_a_fast_fall(flight_of: Callable[..., WholeFlight]) -> None:
    """Free fall from the top: less than g t, more than three quarters of it with this rocket's drag."""
    name = "late-ejection.flight"
    before, after = rates(flight_of(name), Role.MAIN)
    late_s = TRUTH[name]["main_took_hold_t_s"] - TRUTH[name]["apogee_t_s"]
    assert before is not None
    assert 0.75 * 9.81 * (late_s - 0.7) < before.mps + 2.0 * before.sigma_mps
    assert before.mps - 2.0 * before.sigma_mps < 9.81 * late_s
    assert within(after, TRUTH[name]["main_rate_mps"])


def test_a_parachute_that_did_not_hold_has_the_rate_that_the_verdict_goes_by(
    flight_of: Callable[..., WholeFlight],
) -> None:
    flight = flight_of("tangled-drogue.flight")
    (drogue,) = (d for d in flight.report.deployments if d.role is Role.DROGUE)
    _, after = rates_of(flight, drogue)
    assert after is not None
    assert after.mps == drogue.rate_after_mps
    assert 0.0 < after.sigma_mps < 3.0


@pytest.mark.parametrize("name", ["tangled-drogue.flight", "nominal-dual.flight", "main-silent.flight"])
def test_one_fall_has_one_rate_wherever_it_is_told(flight_of: Callable[..., WholeFlight], name: str) -> None:
    """What the drogue came down at is what was before the main, and what went on where no main came."""
    flight = flight_of(name)
    _, under_drogue = rates(flight, Role.DROGUE)
    before, after = rates(flight, Role.MAIN)
    assert under_drogue is not None
    went_on = after if name == "main-silent.flight" else before
    assert went_on is not None
    assert went_on.mps == under_drogue.mps
    assert rate_under(flight.report, Role.DROGUE) == under_drogue.mps


def test_a_rate_is_told_as_sure_as_it_is() -> None:
    assert in_short(Rate(18.6, 0.35, 0.0, 1.0, at_pad=True)) == "18.6 ± 0.7 m/s"
    assert in_short(Rate(10.0, 5.3, 0.0, 1.0, at_pad=False)) == "less than 21 m/s"


def test_where_nothing_was_seen_there_is_no_rate(cut_off: WholeFlight) -> None:
    assert rates(cut_off, Role.MAIN) == (None, None)
