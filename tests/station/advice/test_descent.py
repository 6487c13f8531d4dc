"""Descent rates, canopy sizes, landing energy, the main's height and drift, by worked examples."""

from collections.abc import Callable
from math import pi, sqrt

import pytest

from station.advice import FlightFacts
from station.advice.descent_rates import area_ratio, canopy_diameter_m, rate_advice
from station.advice.drift import drift_advice
from station.advice.held_rates import fall_s
from station.advice.landing import landing_advice
from station.advice.main_height import main_height_advice
from station.flight_state import Deployment, Verdict
from station.plan import FlightPlan
from station.records import Role
from station.stretch import Stretch
from station.whereabouts import FixQuality, Place, PlaceKind, Whereabouts

Facts = Callable[..., FlightFacts]
Made = Callable[..., Deployment]
Held = Callable[..., Stretch]
G = 9.80665


# -- sizes -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rate", "diameter_m"), [(4.5, 1.1586), (5.0, 1.0427), (6.0, 0.8689), (6.5, 0.8021)])
def test_the_canopy_for_2_kg(rate: float, diameter_m: float) -> None:
    """D = sqrt(8 m g / (pi rho Cd v^2)) with Cd 1.5 at sea level (as widely printed); figures worked out by hand."""
    assert canopy_diameter_m(2.0, 1.225, rate, 1.5) == pytest.approx(diameter_m, abs=1e-4)


def test_for_half_the_speed_it_takes_four_times_the_area() -> None:
    assert area_ratio(10.0, 5.0) == pytest.approx(4.0)
    assert area_ratio(6.0, 6.0) == pytest.approx(1.0)


def test_what_the_drogue_carries_is_taken_off() -> None:
    """Drag areas add up: at v all of it carries m g, so 1/v^2 is the sum of the shares' 1/v^2."""
    main, drogue, wanted = 0.6, 0.06, 0.9
    now, alone = 1.0 / sqrt(main + drogue), 1.0 / sqrt(drogue)
    then = 1.0 / sqrt(wanted + drogue)
    assert area_ratio(now, then, alone) == pytest.approx(wanted / main)
    assert area_ratio(now, 2.0 * alone, alone) is None


def test_the_fall_in_the_standard_atmosphere() -> None:
    """2 kg under 0.30 m with Cd 1.5: 17.378 m/s at 0 m; 3000 m to 200 m take 149.06 s (quasi-steady integral)."""
    assert sqrt(2.0 * 2.0 * G / (1.225 * 1.5 * pi * 0.30**2 / 4.0)) == pytest.approx(17.378, abs=1e-3)
    assert fall_s(3000.0, 200.0, 17.378, 288.15) == pytest.approx(149.06, abs=0.05)


# -- rates -----------------------------------------------------------------------------------------------------


def under(facts: FlightFacts, role: Role = Role.MAIN) -> str:
    found = rate_advice(facts, role)
    assert found is not None
    return " ".join((found.headline, *found.reasoning))


def test_as_planned_it_calls_for_no_change(make_facts: Facts, make_deployment: Made, make_stretch: Held) -> None:
    facts = make_facts(
        plan=FlightPlan(main_rate_mps=5.5), deployments=(make_deployment(),), stretches=(make_stretch(5.8),)
    )
    found = rate_advice(facts, Role.MAIN)
    assert found is not None
    assert not found.change
    assert found.value == 5.8
    assert "as planned (5.5 m/s)" in found.headline


def test_too_fast_it_tells_the_size_that_would_do(make_facts: Facts, make_deployment: Made, make_stretch: Held) -> None:
    """2 kg under 0.90 m with Cd 1.5 fall at 5.7928 m/s at sea level; 4.5 m/s want 1.1586 m, as above."""
    plan = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1, main_rate_mps=4.5)
    made = {"deployments": (make_deployment(),), "stretches": (make_stretch(5.7928),), "by_motor": True}
    said = under(make_facts(plan=plan, **made))
    assert "faster than planned (4.5 m/s)" in said
    assert f"{(5.7928 / 4.5) ** 2:.2f} times the canopy's area, that is {5.7928 / 4.5:.2f} times its diameter" in said
    assert "1159 mm (46 in)" in said
    # Cd A = 1.5 pi 0.9^2/4 = 0.9543.
    assert "drag area (coefficient times area) of 0.954 m²" in said
    known = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1, main_rate_mps=4.5, main_diameter_m=0.90)
    said = under(make_facts(plan=known, **made))
    assert "1159 mm (46 in) in place of 900 mm" in said
    assert "a coefficient of 1.50 on the canopy's 900 mm" in said


def test_a_tangled_parachute_is_no_matter_of_size(make_facts: Facts, make_deployment: Made, make_stretch: Held) -> None:
    tangled = make_deployment(Role.DROGUE, verdict=Verdict.TOO_FAST)
    facts = make_facts(plan=FlightPlan(drogue_rate_mps=18.0), deployments=(tangled,), stretches=(make_stretch(34.0),))
    said = under(facts, Role.DROGUE)
    assert "not fully open or too small: look at that before choosing another size" in said
    assert "times its diameter" not in said


def test_without_a_plan_the_usual_rates_stand_in(make_facts: Facts, make_deployment: Made, make_stretch: Held) -> None:
    """Drogue 15 to 30 m/s, main 3.5 to 7 m/s: common practice, no source."""
    fast = make_facts(deployments=(make_deployment(),), stretches=(make_stretch(9.0),))
    found = rate_advice(fast, Role.MAIN)
    assert found is not None
    assert found.change
    assert "faster than the usual 3.5 to 7 m/s" in found.headline
    assert found.source is not None
    assert "common practice, no source" in found.source


@pytest.mark.parametrize("verdict", [Verdict.NO_EFFECT, Verdict.NOT_FIRED, Verdict.NOT_OBSERVED])
def test_a_parachute_that_did_not_hold_has_no_rate(
    make_facts: Facts, make_deployment: Made, make_stretch: Held, verdict: Verdict
) -> None:
    facts = make_facts(deployments=(make_deployment(verdict=verdict),), stretches=(make_stretch(20.0),))
    assert rate_advice(facts, Role.MAIN) is None
    assert rate_advice(facts, Role.DROGUE) is None


# -- landing ---------------------------------------------------------------------------------------------------


def test_landing_energy_of_2_kg(make_facts: Facts, make_stretch: Held) -> None:
    """2 kg at 5.7928 m/s: 33.56 J, that is 24.75 ft lbf of 1.3558179483314 J."""
    plan = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1)
    found = landing_advice(make_facts(plan=plan, stretches=(make_stretch(5.7928),)))
    assert found is not None
    assert found.value == pytest.approx(33.56, abs=0.01)
    assert "(25 ft lbf)" in found.headline
    assert not found.change


def test_a_hard_landing_calls_for_a_change(make_facts: Facts, make_stretch: Held) -> None:
    """75 ft lbf = 101.7 J: a figure for students' launches, from memory."""
    plan = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1)
    found = landing_advice(make_facts(plan=plan, stretches=(make_stretch(18.0),)))
    assert found is not None
    assert found.change
    assert found.value == pytest.approx(0.5 * 2.0 * 18.0**2)
    assert found.caution is not None


def test_without_mass_or_ground_there_is_no_energy(make_facts: Facts, make_stretch: Held) -> None:
    plan = FlightPlan(rocket_mass_kg=2.1, propellant_mass_kg=0.1)
    assert landing_advice(make_facts(stretches=(make_stretch(9.9),))) is None
    hard = landing_advice(make_facts(stretches=(make_stretch(18.0),)))
    assert hard is not None
    assert hard.change
    assert hard.headline.startswith("Landing: hard, at 18.0")
    assert "the airframe, the electronics and the motor mount want a look" in hard.reasoning[0]
    assert landing_advice(make_facts(plan=plan, stretches=(make_stretch(5.0),), touchdown_s=None)) is None
    assert landing_advice(make_facts(plan=plan)) is None


# -- the main's height -----------------------------------------------------------------------------------------


def low_main(make: Made, fired_m: float, opened_m: float, opened_s: float) -> Deployment:
    return make(
        opened_s=opened_s, velocity_mps=None, fired_t_ms=50_000.0 + 1000.0 * (opened_s - 0.8), fired_altitude_m=fired_m,
        fired_velocity_mps=-18.0, opened_altitude_m=opened_m,
    )  # fmt: skip


def test_a_main_with_time_left_is_well_set(make_facts: Facts, make_deployment: Made) -> None:
    facts = make_facts(deployments=(make_deployment(Role.DROGUE), low_main(make_deployment, 152.0, 138.0, 55.0)))
    found = main_height_advice(facts)
    assert found is not None
    assert not found.change
    assert found.value == pytest.approx(25.0)
    assert "It was fired at 152 m and fell 14 m ± 8 m before it held" in found.reasoning[0]


def test_a_main_that_holds_low_is_to_be_set_higher(make_facts: Facts, make_deployment: Made) -> None:
    facts = make_facts(deployments=(make_deployment(Role.DROGUE), low_main(make_deployment, 60.0, 35.0, 74.0)))
    found = main_height_advice(facts)
    assert found is not None
    assert found.change
    assert found.headline.endswith("set it higher.")


def test_a_main_fired_elsewhere_than_planned_is_said(make_facts: Facts, make_deployment: Made) -> None:
    facts = make_facts(
        plan=FlightPlan(main_height_m=120.0),
        deployments=(make_deployment(Role.DROGUE), low_main(make_deployment, 200.0, 185.0, 50.0)),
    )
    found = main_height_advice(facts)
    assert found is not None
    assert found.change
    assert found.reasoning[-1] == "The plan says 120 m: check the altimeter's setting."


def test_one_parachute_has_no_main_height(make_facts: Facts, make_deployment: Made) -> None:
    assert main_height_advice(make_facts(by_motor=True, deployments=(make_deployment(),))) is None


# -- drift -----------------------------------------------------------------------------------------------------


def test_drift_by_wind_and_time(make_facts: Facts) -> None:
    """850 m at 20 m/s and 150 m at 5.5 m/s take 69.77 s; at 5 m/s of wind that is 348.9 m."""
    seconds = 850.0 / 20.0 + 150.0 / 5.5
    assert seconds == pytest.approx(69.77, abs=0.01)
    found = drift_advice(make_facts(plan=FlightPlan(wind_mps=5.0), touchdown_s=13.0072 + seconds))
    assert found is not None
    assert found.value == pytest.approx(348.9, abs=0.1)
    assert not found.change
    assert "by the plan's wind" in found.headline


def test_beyond_the_field_it_calls_for_a_change(make_facts: Facts) -> None:
    found = drift_advice(make_facts(plan=FlightPlan(wind_mps=8.0, field_size_m=600.0)))
    assert found is not None
    assert found.change
    assert "a faster drogue, a lower main or less wind" in found.headline


def test_satellite_fixes_outrank_the_wind(make_facts: Facts) -> None:
    place = Place(
        PlaceKind.LANDED, 130_000.0, 1.0, 37.5, -41.2, 3.5, 9, FixQuality.GOOD, 10, 0.0, 412.0, 53.0, 5.0, 1.0, None
    )  # fmt: skip
    found = drift_advice(make_facts(plan=FlightPlan(wind_mps=5.0), whereabouts=Whereabouts(place=place)))
    assert found is not None
    assert (found.value, found.sigma) == (412.0, 5.0)
    assert "by satellite" in found.headline


def test_a_main_out_at_the_top_tells_what_it_cost(make_facts: Facts, make_deployment: Made, make_stretch: Held) -> None:
    """From 890 m to 150 m at 5 m/s instead of 20: 148 s less 37 s at one density, 3 % less in thinner air."""
    early = make_deployment(verdict=Verdict.EARLY)
    facts = make_facts(
        plan=FlightPlan(wind_mps=4.0, drogue_rate_mps=20.0),
        deployments=(make_deployment(Role.DROGUE, opened_s=None, verdict=Verdict.NOT_OBSERVED), early),
        stretches=(make_stretch(5.0),),
        main_set_m=150.0,
        touchdown_s=190.0,
    )
    found = drift_advice(facts)
    assert found is not None
    assert found.change
    assert "the main was out from the top" in found.headline
    saved_s = fall_s(890.0, 150.0, 5.0, 288.15) - fall_s(890.0, 150.0, 20.0, 288.15)
    assert saved_s == pytest.approx(0.97 * 111.0, rel=0.01)
    assert f"about {saved_s:.0f} s sooner, {4.0 * saved_s:.0f} m of drift in the plan's wind" in found.reasoning[-1]


def test_without_wind_or_fixes_nothing_is_said_of_drift(make_facts: Facts) -> None:
    assert drift_advice(make_facts()) is None
