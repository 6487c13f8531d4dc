"""What is said of a flight after it: no more than the evidence, in sentences that a newcomer reads."""

from collections.abc import Callable

import pytest

from station.flight_state import Verdict
from station.renditions.units import FEET, METRES
from station.renditions.words import (
    ANSWERS,
    VERDICTS,
    answer,
    clock,
    figures,
    steps,
    story,
    summary_sentence,
    verdict,
)
from station.whole_flight import WholeFlight

Flights = Callable[..., WholeFlight]


def said(flight: WholeFlight) -> list[str]:
    return [sentence for _, sentence in story(flight, METRES)]


@pytest.mark.parametrize(
    ("t_s", "shown"),
    [(0.0, "T+00:00.0"), (-0.04, "T+00:00.0"), (-5.0, "T−00:05.0"), (12.34, "T+00:12.3"), (600.0, "T+10:00.0")],
)
def test_the_flight_clock_counts_from_liftoff(t_s: float, shown: str) -> None:
    assert clock(t_s) == shown


def test_the_story_tells_what_happened_in_order(nominal: WholeFlight) -> None:
    """The times and heights are those of the true flight in replay_samples/expected.json, rounded."""
    told = story(nominal, METRES)
    assert [round(t_s) for t_s, _ in told] == [0, 2, 9, 10, 28, 48]
    assert said(nominal)[0] == "Liftoff."
    assert said(nominal)[2] in ("Apogee: 425 m, the highest point.", "Apogee: 426 m, the highest point.")
    assert said(nominal)[-1] == "Touchdown."
    assert story(nominal, FEET)[2][1] in (
        "Apogee: 1,396 ft, the highest point.",
        "Apogee: 1,398 ft, the highest point.",
    )


def test_a_record_that_ends_in_the_air_says_so_and_no_landing(cut_off: WholeFlight) -> None:
    assert said(cut_off)[-1].endswith("up: the landing was not observed.")
    assert not any("Touchdown" in sentence for sentence in said(cut_off))
    assert "in the air" not in summary_sentence(cut_off)


@pytest.mark.parametrize(
    ("name", "drogue", "main"),
    [
        ("nominal-dual.flight", "Held the fall", "Held the fall"),
        ("main-silent.flight", "Held the fall", "Not fired"),
        ("main-stays-in.flight", "Held the fall", "No effect seen"),
        ("tangled-main.flight", "Held the fall", "Too fast"),
        ("main-at-apogee.flight", "Not observed", "Out too early"),
        ("behind-the-trees.flight", "Held the fall", "Not observed"),
    ],
)
def test_each_parachute_is_told_by_its_verdict(flight_of: Flights, name: str, drogue: str, main: str) -> None:
    """What must be said stands in replay_samples/README.md."""
    flight = flight_of(name)
    assert [verdict(d)[1] for d in flight.report.deployments] == [drogue, main]
    assert f"Drogue: {drogue.lower()}. Main: {main.lower()}." in summary_sentence(flight)


def test_only_a_flight_with_every_parachute_confirmed_is_called_good(flight_of: Flights) -> None:
    assert answer(flight_of("nominal-dual.flight").report) == ("good", "Both parachutes held the fall")
    assert answer(flight_of("late-ejection.flight").report) == (
        "bad",
        "The parachute held the fall, but late and fast",
    )
    assert answer(flight_of("drogue-late.flight").report) == (
        "bad",
        "Both parachutes held the fall, but the drogue late and fast",
    )
    assert answer(flight_of("main-silent.flight").report)[0] == "bad"
    assert answer(flight_of("behind-the-trees.flight").report)[0] == "unknown"
    assert [kind for kind, _ in ANSWERS.values()].count("good") == 1
    assert [v for v, (kind, _) in VERDICTS.items() if kind == "good"] == [Verdict.CONFIRMED]


def test_a_charge_that_is_not_known_to_have_fired_is_told_as_maybe_live(flight_of: Flights) -> None:
    flight = flight_of("main-silent.flight")
    charge, fired, held = steps(flight, flight.report.deployments[1], METRES)
    assert (charge.kind, charge.text) == ("bad", "not reported fired, may still be live")
    assert fired.text == "no report of it"
    assert held.text.startswith("no, down at")


def test_a_motor_s_parachute_has_no_charge_of_the_altimeter(flight_of: Flights) -> None:
    flight = flight_of("late-ejection.flight")
    charge, fired, held = steps(flight, flight.report.deployments[0], METRES)
    assert charge.text == "no channel: not reported"
    assert fired.text == "not observed"
    assert held.kind == "good"


def test_what_is_not_known_is_no_figure(cut_off: WholeFlight) -> None:
    assert "In the air" not in [what for what, _ in figures(cut_off.report, METRES)]


def test_the_summary_is_in_both_systems_of_units(nominal: WholeFlight) -> None:
    sentence = summary_sentence(nominal)
    assert "m (1,39" in sentence
    assert "mph) on the way up and was 48 s in the air." in sentence
