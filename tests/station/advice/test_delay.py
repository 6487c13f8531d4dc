"""The delay of the motor's ejection charge, by worked examples.

The reference flight burns for 2 s and coasts for t = sqrt(m/(k g)) atan(v sqrt(k/(m g))) = 11.0072 s (as widely
printed, and by scipy's ODE solver): the best delay is the time of the coast.
"""

from collections.abc import Callable
from math import atan, sqrt

import pytest

from station.advice import FlightFacts, Topic
from station.advice.delay import delay_advice
from station.coasting import Coasting
from station.flight_state import Deployment, Verdict
from station.plan import FlightPlan
from station.records import Role
from station.stretch import Stretch

K_OVER_M = 0.001623565 / 2.0
COAST_S = 11.0072

Facts = Callable[..., FlightFacts]
Made = Callable[..., Deployment]


def by_motor(make_facts: Facts, deployment: Deployment | None, plan: FlightPlan, **given: object) -> FlightFacts:
    return make_facts(plan=plan, by_motor=True, deployments=(deployment,) if deployment else (), **given)


def test_by_hand() -> None:
    g = 9.80665
    assert atan(164.6211 * sqrt(K_OVER_M / g)) / sqrt(K_OVER_M * g) == pytest.approx(COAST_S, abs=1e-3)


def test_wanted_is_the_time_from_burnout_to_the_top(make_facts: Facts, make_deployment: Made) -> None:
    found = delay_advice(by_motor(make_facts, make_deployment(), FlightPlan()))
    assert found is not None
    assert (found.topic, found.unit) == (Topic.DELAY, "s")
    assert found.value == pytest.approx(COAST_S, abs=1e-3)
    # Both moments are known to 0.03 s.
    assert found.sigma == pytest.approx(0.03 * sqrt(2.0), rel=1e-6)
    assert not found.change
    assert found.headline == "Delay: right as flown; 11.01 s ± 0.08 s was wanted."


def test_a_late_one_is_to_be_drilled_by_what_the_stock_delay_has_too_much(
    make_facts: Facts, make_deployment: Made
) -> None:
    late = make_deployment(opened_s=17.5, velocity_mps=-38.0)
    found = delay_advice(by_motor(make_facts, late, FlightPlan(stock_delay_s=16.0, flown_delay_s=15.0)))
    assert found is not None
    assert found.change
    # 16 - 11.0072 = 4.9928.
    assert found.headline == "Delay: drill 5.0 s off the stock delay of 16 s, to 11 s; 11.01 s ± 0.08 s was wanted."
    said = " ".join(found.reasoning)
    # 17.5 - 13.0072 = 4.4928; 17.5 - 2 - 0.6 = 14.9.
    assert "The parachute began to hold 4.5 s ± 0.4 s after it, falling at 38 m/s ± 2 m/s." in said
    assert "the delay burnt for about 14.9 s" in said
    assert "The plan says 15 s, which fits." in said
    assert "From about 20 m/s on an opening parachute may tear its lines" in said
    assert found.caution is not None
    assert found.caution.startswith("The motor maker's instructions rule")
    assert "Never try to make one longer" in found.caution
    assert found.source is not None
    assert "common practice, no source" in found.source


def test_a_parachute_kept_shut_until_low_says_nothing_of_the_delay(
    make_facts: Facts, make_deployment: Made, make_stretch: Callable[..., Stretch]
) -> None:
    """The charge fired at the top and a bundle slowed the fall; a release let the canopy open far below."""
    bundle, canopy = make_stretch(25.0, opened_s=14.0), make_stretch(8.0, opened_s=40.0)
    released = make_deployment(opened_s=40.0, velocity_mps=-25.0)
    facts = by_motor(make_facts, released, FlightPlan(flown_delay_s=11.0), stretches=(bundle, canopy))
    found = delay_advice(facts)
    assert found is not None
    assert not found.change
    assert "when the motor's charge fired is not known" in " ".join(found.reasoning)
    assert "burnt for" not in " ".join(found.reasoning)
    assert "right as flown" not in found.headline
    # And the rate is that of what held in the end.
    assert facts.hold(Role.MAIN) == canopy


def test_an_early_one_counts_from_the_top_that_was_ahead(
    make_facts: Facts, make_deployment: Made, make_coasting: Callable[..., Coasting]
) -> None:
    early = make_deployment(opened_s=9.0, velocity_mps=36.0, verdict=Verdict.EARLY)
    facts = by_motor(make_facts, early, FlightPlan(), out_in_the_climb=True, coasting=make_coasting(top_s=13.2))
    found = delay_advice(facts)
    assert found is not None
    assert found.change
    assert found.value == pytest.approx(11.2)
    assert found.headline == "Delay: fly one of 11 s; 11.2 s ± 0.1 s was wanted."
    assert "The highest point would have come 11.2 s" in found.reasoning[0]
    assert "began to hold 4.2 s ± 0.4 s before it, going up at 36 m/s ± 2 m/s" in found.reasoning[1]


def test_nothing_is_ever_to_be_added_to_a_delay(make_facts: Facts, make_deployment: Made) -> None:
    early = make_deployment(opened_s=10.0, velocity_mps=25.0)
    found = delay_advice(by_motor(make_facts, early, FlightPlan(stock_delay_s=8.0)))
    assert found is not None
    assert found.change
    assert found.headline.endswith("use a motor with a longer delay than 8 s.")
    assert "drilling only makes a delay shorter" in found.reasoning[-1]
    assert not any("drill" in sentence and "off" in sentence for sentence in (found.headline, *found.reasoning))


def test_a_stock_delay_that_is_right_is_left_alone(make_facts: Facts, make_deployment: Made) -> None:
    found = delay_advice(by_motor(make_facts, make_deployment(), FlightPlan(stock_delay_s=11.3)))
    assert found is not None
    assert not found.change
    assert "the stock delay of 11.3 s is right, drill nothing off" in found.headline


@pytest.mark.parametrize(("flown_s", "fits"), [(12.0, True), (10.0, True), (6.0, False), (20.0, False)])
def test_a_delay_far_from_the_plans_is_asked_about(
    make_facts: Facts, make_deployment: Made, flown_s: float, fits: bool
) -> None:
    """1.5 s or 20 %, whichever is more: from memory, no source."""
    found = delay_advice(by_motor(make_facts, make_deployment(), FlightPlan(flown_delay_s=flown_s)))
    assert found is not None
    assert ("which fits" in " ".join(found.reasoning)) is fits
    assert ("Was another motor or delay flown?" in " ".join(found.reasoning)) is not fits


def test_a_parachute_that_was_not_seen_to_open_leaves_the_wanted_delay(make_facts: Facts) -> None:
    found = delay_advice(by_motor(make_facts, None, FlightPlan(stock_delay_s=14.0)))
    assert found is not None
    assert found.value == pytest.approx(COAST_S, abs=1e-3)
    assert "When the parachute came out was not observed." in found.reasoning


def test_with_an_altimeter_that_fires_the_motors_charge_is_a_back_up(make_facts: Facts, make_deployment: Made) -> None:
    plan = FlightPlan(flown_delay_s=13.0)
    found = delay_advice(make_facts(plan=plan, deployments=(make_deployment(),)))
    assert found is not None
    assert not found.change
    assert "back-up" in found.headline
    assert found.caution is None


def test_without_a_charge_in_the_motor_nothing_is_said_of_a_delay(make_facts: Facts, make_deployment: Made) -> None:
    assert delay_advice(make_facts(deployments=(make_deployment(),))) is None


@pytest.mark.parametrize(
    ("top_s", "whole_s", "goes_off"),
    [
        (9.8, "8 s", "0.2 s after the top, falling at about 2 m/s"),  # 7.8 s wanted; 9.80665 * 0.2
        (9.7, "7.5 s", "0.2 s before the top, rising at about 2 m/s"),
        (9.5, "7.5 s", "at the top"),
        (9.75, "7.5 s", "0.2 s before the top, rising at about 2 m/s"),  # as near to 8 s: the shorter one
    ],
)
def test_a_delay_is_one_that_can_be_bought_with_what_that_means(
    make_facts: Facts,
    make_deployment: Made,
    make_coasting: Callable[..., Coasting],
    top_s: float,
    whole_s: str,
    goes_off: str,
) -> None:
    early = make_deployment(opened_s=6.0, velocity_mps=30.0, verdict=Verdict.EARLY)
    coasting = make_coasting(top_s=top_s)
    found = delay_advice(by_motor(make_facts, early, FlightPlan(), out_in_the_climb=True, coasting=coasting))
    assert found is not None
    assert found.headline.startswith(f"Delay: fly one of {whole_s}; ")
    assert found.reasoning[-1].startswith("Delays are sold and drilled in whole or half seconds")
    assert f"{whole_s} is the nearest, and goes off {goes_off}. In doubt take the shorter one" in found.reasoning[-1]


def test_without_burnout_or_top_there_is_no_advice(make_facts: Facts) -> None:
    assert delay_advice(make_facts(events={})) is None
    assert delay_advice(make_facts(out_in_the_climb=True)) is None
