"""Thrust to weight, the rail and the Mach number, by worked examples."""

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest

from station.advice import FlightFacts
from station.advice.mach import mach_advice
from station.advice.rail import rail_advice
from station.advice.thrust import thrust_advice
from station.coasting import Coasting
from station.flown_curve import FlownCurve
from station.plan import FlightPlan

Facts = Callable[..., FlightFacts]
Curves = Callable[..., FlownCurve]


# -- thrust ----------------------------------------------------------------------------------------------------


def test_thrust_to_weight_of_the_reference_flight(make_facts: Facts, make_coasting: Callable[..., Coasting]) -> None:
    """200 N on 2 kg is 200 / (2 g) = 10.197; it reaches 164.6211 m/s in 2 s (Fehskens and Malewicki's closed form)."""
    plan = FlightPlan(rocket_mass_kg=2.0, propellant_mass_kg=0.0, mean_thrust_n=200.0)
    found = thrust_advice(make_facts(plan=plan, coasting=make_coasting()))
    assert found is not None
    assert found.sigma is not None
    assert found.value == pytest.approx(10.197, rel=0.015)
    assert abs(found.value - 10.197) < 2.0 * found.sigma
    assert not found.change
    assert "above the 5:1 to aim for" in found.headline
    assert "The plan's thrust and mass make 10.2, which fits." in found.reasoning
    assert found.source is not None
    assert "common practice, no source" in found.source


def test_propellant_that_burns_counts_with_half_its_mass(
    make_facts: Facts, make_coasting: Callable[..., Coasting]
) -> None:
    whole = thrust_advice(make_facts(plan=FlightPlan(rocket_mass_kg=2.0, propellant_mass_kg=0.0)))
    burnt = thrust_advice(make_facts(plan=FlightPlan(rocket_mass_kg=2.0, propellant_mass_kg=0.4)))
    assert whole is not None
    assert burnt is not None
    assert whole.value is not None
    assert burnt.value == pytest.approx(0.9 * whole.value)


@pytest.mark.parametrize(
    ("burnout_mps", "says"),
    # (v/t + g)/g with little drag: 30 m/s in 2 s is 2.5, 60 is 4.1 (the marks: common practice, no source).
    [(30.0, "below the floor of 3:1"), (60.0, "less than the 5:1 to aim for")],
)
def test_too_little_thrust_calls_for_a_change(
    make_facts: Facts, make_coasting: Callable[..., Coasting], burnout_mps: float, says: str
) -> None:
    found = thrust_advice(make_facts(burnout_mps=burnout_mps, coasting=make_coasting(1e-5)))
    assert found is not None
    assert found.change
    assert says in found.headline
    assert "a stronger motor" in found.headline


def test_a_thrust_unlike_the_plans_is_said(make_facts: Facts, make_coasting: Callable[..., Coasting]) -> None:
    plan = FlightPlan(rocket_mass_kg=2.0, propellant_mass_kg=0.0, total_impulse_ns=1000.0, burn_time_s=2.0)
    found = thrust_advice(make_facts(plan=plan, coasting=make_coasting()))
    assert found is not None
    assert any("the flight showed 60% less" in sentence for sentence in found.reasoning)


def test_without_a_burn_there_is_no_thrust_to_tell(make_facts: Facts) -> None:
    assert thrust_advice(make_facts(events={})) is None


# -- rail ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gain", "length_m"), [(60.0, 1.8), (100.0, 2.4), (30.0, 1.2)])
@pytest.mark.parametrize("period_s", [0.01, 0.05])
def test_at_a_steady_gain_the_rail_ends_at_the_root_of_two_a_l(
    make_facts: Facts, make_curve: Curves, gain: float, length_m: float, period_s: float
) -> None:
    """v^2 = 2 a L: Galilei's law."""
    facts = make_facts(plan=FlightPlan(rail_length_m=length_m), curve=make_curve(gain, period_s=period_s))
    found = rail_advice(facts)
    assert found is not None
    assert found.sigma is not None
    assert abs((found.value or 0.0) - sqrt(2.0 * gain * length_m)) < 2.0 * found.sigma
    assert found.sigma < 0.2 * sqrt(2.0 * gain * length_m)
    assert "by the accelerometer" in found.reasoning[0]


def test_without_an_accelerometer_it_is_a_rough_guide(make_facts: Facts, make_curve: Curves) -> None:
    facts = make_facts(plan=FlightPlan(rail_length_m=1.8), curve=make_curve(82.3, force=False))
    found = rail_advice(facts)
    assert found is not None
    assert found.sigma is not None
    assert abs((found.value or 0.0) - sqrt(2.0 * 82.3 * 1.8)) < 2.0 * found.sigma
    assert "a rough guide" in found.reasoning[0]


def test_a_gap_on_the_rail_is_not_guessed_over(make_facts: Facts, make_curve: Curves) -> None:
    curve = make_curve(82.3)
    heard = curve.rows((curve.t_s < -0.02) | (curve.t_s > 0.19))
    found = rail_advice(make_facts(plan=FlightPlan(rail_length_m=1.8), curve=heard))
    assert found is not None
    assert "a rough guide" in found.reasoning[0]


def test_a_slow_end_of_the_rail_calls_for_a_change(make_facts: Facts, make_curve: Curves) -> None:
    """15 m/s (50 ft/s): common practice, no source."""
    slow = rail_advice(make_facts(plan=FlightPlan(rail_length_m=1.0), curve=make_curve(40.0)))
    windy = rail_advice(make_facts(plan=FlightPlan(rail_length_m=2.0, wind_mps=6.0), curve=make_curve(80.0)))
    assert slow is not None
    assert windy is not None
    assert slow.change
    assert "a longer rail or a stronger motor" in slow.headline
    assert windy.change
    assert "too slow for a wind of 6.0 m/s: less wind, a longer rail or a stronger motor" in windy.headline
    assert "is the aim" not in windy.headline
    assert "such a rocket turns into the wind" in windy.reasoning[-1]


def test_without_the_rails_length_there_is_no_advice(make_facts: Facts, make_curve: Curves) -> None:
    assert rail_advice(make_facts(curve=make_curve(80.0))) is None


# -- Mach ------------------------------------------------------------------------------------------------------


def test_the_highest_mach_number_is_speed_over_the_speed_of_sound(make_facts: Facts, make_curve: Curves) -> None:
    """340.294 m/s at 15 degC (ISO 2533): 170.147 m/s is Mach 0.5."""
    found = mach_advice(make_facts(curve=make_curve(85.0), max_speed_mps=170.147))
    assert found is not None
    assert found.value == pytest.approx(0.5, rel=1e-6)
    assert not found.change
    assert found.caution is None
    assert "slow enough for the pressure to be trusted" in found.headline


def test_past_mach_0_75_it_says_when_the_pressure_could_not_be_trusted(make_facts: Facts, make_curve: Curves) -> None:
    # 200 m/s^2 for 2 s: Mach 0.75 = 255.2 m/s is passed at 1.276 s, and on the way down, from 400 m/s at 9.80665 m/s^2,
    # 14.8 s later, after the samples' end; so it is held until the top of this climb.
    curve = make_curve(200.0)
    found = mach_advice(make_facts(curve=curve, max_speed_mps=400.0))
    assert found is not None
    assert found.value == pytest.approx(400.0 / 340.294, rel=1e-6)
    assert "from 1.3 s to" in found.headline
    assert found.caution is not None
    assert "by its maker's instructions" in found.caution


def test_near_the_speed_of_sound_pressure_alone_says_little(make_facts: Facts, make_curve: Curves) -> None:
    with_force = mach_advice(make_facts(curve=make_curve(150.0), max_speed_mps=300.0))
    without = mach_advice(make_facts(curve=make_curve(150.0, force=False), max_speed_mps=300.0))
    assert with_force is not None
    assert without is not None
    assert (without.sigma or 0.0) > 5.0 * (with_force.sigma or 0.0)
    assert "a rough guide" in without.reasoning[0]


def test_without_a_climb_there_is_no_mach_number(make_facts: Facts, make_curve: Curves) -> None:
    curve = make_curve(85.0)
    assert mach_advice(make_facts()) is None
    assert mach_advice(make_facts(curve=curve.rows(np.zeros(len(curve.t_s), dtype=np.bool_)))) is None
