"""The flight beside its prediction: differences are flight less prediction."""

from collections.abc import Callable

import numpy as np
import pytest

from station.advice import FlightFacts
from station.advice.against_prediction import Difference, differences, prediction_advice
from station.plan import FlightPlan
from station.prediction import Prediction

Facts = Callable[..., FlightFacts]


def prediction(apogee_m: float = 950.0, touchdown_s: float | None = 95.0) -> Prediction:
    none = np.zeros(2)
    return Prediction("sim.csv", "as made", none, none, none, apogee_m, 13.4, 170.0, 2.1, touchdown_s)


def found_in(facts: FlightFacts) -> dict[str, Difference]:
    return {each.name: each for each in differences(facts, air_is_given=True)}


def test_a_simulations_curve_is_compared_in_height_speed_and_times(make_facts: Facts) -> None:
    """The reference flight: 896.91 m, 164.62 m/s at 2 s, top at 13.0072 s; touchdown at 80 s."""
    found = found_in(make_facts(prediction=prediction()))
    assert {name: round(each.difference, 2) for name, each in found.items()} == {
        "apogee": -53.09,
        "highest speed": -5.38,
        "time of highest speed": -0.1,
        "time to apogee": -0.39,
        "time to touchdown": -15.0,
    }
    assert found["apogee"].is_plain
    assert not found["time of highest speed"].is_plain


def test_the_plans_figures_stand_in_for_a_curve(make_facts: Facts) -> None:
    plan = FlightPlan(predicted_apogee_m=900.0, predicted_speed_mps=160.0, predicted_apogee_s=13.0)
    assert set(found_in(make_facts(plan=plan))) == {"apogee", "highest speed", "time to apogee"}
    both = found_in(make_facts(plan=plan, prediction=prediction(touchdown_s=None)))
    assert both["apogee"].predicted == 950.0
    assert "time to touchdown" not in both


def test_heights_by_the_altimeters_own_temperature_are_less_sure(make_facts: Facts) -> None:
    facts = make_facts(prediction=prediction())
    (given, *_), (own, *_) = (differences(facts, air_is_given=known) for known in (True, False))
    assert own.sigma > 2.0 * given.sigma


@pytest.mark.parametrize(
    ("apogee_m", "change", "says"),
    # A prediction off by 10 % is usual: common practice, no source.
    [
        (950.0, False, "apogee 53 m ± 8 m lower than predicted (-6%)."),
        (899.0, False, "apogee as predicted."),
        (780.0, True, "apogee 117 m ± 8 m higher than predicted (+15%)."),
        (1100.0, True, "apogee 203 m ± 8 m lower than predicted (-18%)."),
    ],
)
def test_the_headline_is_the_apogee(make_facts: Facts, apogee_m: float, change: bool, says: str) -> None:
    facts = make_facts(prediction=prediction(apogee_m))
    found = prediction_advice(facts, differences(facts, air_is_given=True))
    assert found is not None
    assert found.headline == f"Prediction: {says}"
    assert found.change is change


def test_every_difference_is_a_sentence_with_its_error_bar(make_facts: Facts) -> None:
    facts = make_facts(prediction=prediction())
    found = prediction_advice(facts, differences(facts, air_is_given=True))
    assert found is not None
    assert "Apogee: 897 m ± 8 m; predicted 950 m, a difference of -53 m." in found.reasoning
    assert "Time to apogee: 13.01 s ± 0.06 s; predicted 13.40 s, a difference of -0.39 s." in found.reasoning


def test_a_climb_cut_short_is_no_fair_comparison(make_facts: Facts) -> None:
    facts = make_facts(prediction=prediction(1100.0), out_in_the_climb=True)
    found = prediction_advice(facts, differences(facts, air_is_given=True))
    assert found is not None
    assert not found.change
    assert "which cost height" in found.reasoning[-1]


def test_without_a_prediction_nothing_is_said(make_facts: Facts) -> None:
    facts = make_facts()
    assert differences(facts, air_is_given=True) == ()
    assert prediction_advice(facts, ()) is None
