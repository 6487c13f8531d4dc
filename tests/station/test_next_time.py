"""From the lines of a whole flight to what to change next time: for each kind of trouble the right advice."""

import json
import re
from functools import cache

import pytest

from station.advice import Advice, Topic
from station.after_landing import CheckReport, judge_lines
from station.check_report import report_json, report_text
from station.flight_state import EventName, Verdict
from station.next_time_text import HEADING
from station.plan import FlightPlan, Recovery
from station.prediction_text import parse_prediction
from station.virtual import SCENARIOS, fly
from station.virtual.virtual_flight import VirtualFlight

BY_MOTOR = {"early-ejection", "ejection-in-time", "late-ejection"}


@cache
def flown(name: str, seed: int = 2) -> VirtualFlight:
    return fly(SCENARIOS[name], seed)


def plan_of(name: str, seed: int = 2) -> FlightPlan:
    setup = flown(name, seed).setup
    assert setup.motor is not None
    motor, one = setup.motor, name in BY_MOTOR
    return FlightPlan(
        rocket_mass_kg=setup.rocket.dry_mass_kg + motor.case_mass_kg + motor.propellant_mass_kg,
        rocket_diameter_m=setup.rocket.diameter_m,
        rail_length_m=setup.rail_length_m,
        total_impulse_ns=motor.total_impulse_ns,
        burn_time_s=motor.burn_end_s,
        propellant_mass_kg=motor.propellant_mass_kg,
        stock_delay_s=14.0 if one else None,
        recovery=Recovery.MOTOR if one else Recovery.DUAL,
        drogue_rate_mps=None if one else 18.0,
        main_rate_mps=6.6 if one else 5.2,
        air_temperature_c=setup.day.pad_temperature_c,
        wind_mps=3.0,
    )


@cache
def report(name: str, seed: int = 2, *, with_plan: bool = True) -> CheckReport:
    lines = flown(name, seed).heard()
    return judge_lines(lines, file=f"{name}.flight", plan=plan_of(name, seed) if with_plan else None)


def advice(name: str, topic: Topic, seed: int = 2) -> list[Advice]:
    return [piece for piece in report(name, seed).next_time.advice if piece.topic is topic]


def changes(name: str, *, with_plan: bool = True) -> set[Topic]:
    return {piece.topic for piece in report(name, with_plan=with_plan).next_time.advice if piece.change}


# -- each kind of trouble ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2])
def test_a_late_ejection_wants_a_shorter_delay(seed: int) -> None:
    (delay,) = advice("late-ejection", Topic.DELAY, seed)
    truth = flown("late-ejection", seed).truth
    assert truth.apogee_t_s is not None
    assert truth.burnout_t_s is not None
    assert delay.change
    assert delay.value is not None
    assert delay.sigma is not None
    assert abs(delay.value - (truth.apogee_t_s - truth.burnout_t_s)) < 2.0 * delay.sigma
    assert re.match(
        r"Delay: drill 6\.[05] s off the stock delay of 14 s, to (7\.5|8) s; 7\.\d\d s ± 0\.0\d s was wanted\.",
        delay.headline,
    )
    said = " ".join(delay.reasoning)
    assert re.search(r"began to hold 4\.\d s ± 0\.\d s after it, falling at (3[5-9]|4[0-3]) m/s ± \d m/s", said)
    assert "may tear its lines" in said
    assert "The motor maker's instructions rule" in (delay.caution or "")


@pytest.mark.parametrize("seed", [1, 2])
def test_an_early_ejection_wants_a_longer_delay(seed: int) -> None:
    (delay,) = advice("early-ejection", Topic.DELAY, seed)
    # The same rocket and day, left to coast to its top.
    free = flown("late-ejection", seed).truth
    assert free.apogee_t_s is not None
    assert free.burnout_t_s is not None
    assert delay.change
    assert delay.value is not None
    assert delay.sigma is not None
    assert abs(delay.value - (free.apogee_t_s - free.burnout_t_s)) < 2.0 * delay.sigma
    assert "would have come" in delay.reasoning[0]
    assert re.search(r"before it, going up at (2[2-9]|3[0-3]) m/s", delay.reasoning[1])


@pytest.mark.parametrize("seed", [1, 2])
def test_an_ejection_in_time_wants_no_change(seed: int) -> None:
    (delay,) = advice("ejection-in-time", Topic.DELAY, seed)
    assert not delay.change
    assert delay.headline.startswith("Delay: right as flown; ")


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize(
    ("name", "verdict", "says"),
    [
        (
            "early-ejection",
            Verdict.EARLY,
            r"in the climb already, [23]\.\d s before the top that it was on its way to, g",
        ),
        (
            "ejection-in-time",
            Verdict.CONFIRMED,
            r"(0\.\d|1\.[0-3]) s after the highest point, (falling at|at less than) ",
        ),
        (
            "late-ejection",
            Verdict.CONFIRMED,
            r"4\.\d s after the highest point, falling at (3[5-9]|4[0-3]) m/s ± \d m/s",
        ),
    ],
)
def test_the_verdict_on_a_motors_ejection_says_when_and_how_fast(
    name: str, seed: int, verdict: Verdict, says: str
) -> None:
    (parachute,) = report(name, seed).deployments
    assert parachute.verdict is verdict
    assert re.search(f"It began to hold {says}", parachute.reasons[-1]), parachute.reasons
    assert parachute.reasons[0].endswith("m/s, as its parachute does."), parachute.reasons


@pytest.mark.parametrize("seed", [1, 2])
def test_the_top_that_a_parachute_cut_short_is_the_one_that_was_reached(seed: int) -> None:
    truth = flown("early-ejection", seed).truth
    (apogee,) = (event for event in report("early-ejection", seed).events if event.name is EventName.APOGEE)
    assert truth.apogee_t_s is not None
    assert (apogee.t_ms - truth.t_ms_of(truth.apogee_t_s)) / 1000.0 == pytest.approx(0.0, abs=0.2)
    assert apogee.altitude_m == pytest.approx(truth.apogee_m, abs=1.5)


def test_a_main_out_at_apogee_is_to_be_held_shut_and_drifts() -> None:
    (parachute,) = advice("main-at-apogee", Topic.PARACHUTES)
    assert "the main was out at the top, before its own charge" in parachute.headline
    assert "shear pins or a tighter fit" in " ".join(parachute.reasoning)
    (drift,) = advice("main-at-apogee", Topic.DRIFT)
    assert drift.change
    assert re.search(r"landed about [34]\d s sooner, 1\d\d m of drift", drift.reasoning[-1])


def test_both_fired_at_once_is_a_matter_of_settings() -> None:
    (parachute,) = advice("both-at-once", Topic.PARACHUTES)
    assert "was fired at the top, together with the drogue" in parachute.headline
    assert "settings and wiring" in parachute.reasoning[0]


def test_a_tangled_drogue_is_to_be_packed_otherwise_and_not_made_larger() -> None:
    (parachute,) = advice("tangled-drogue", Topic.PARACHUTES)
    assert "the drogue did not hold the fall enough: tangled" in parachute.headline
    assert "Pack it so" in " ".join(parachute.reasoning)
    said = " ".join(" ".join(piece.reasoning) for piece in advice("tangled-drogue", Topic.DROGUE_RATE))
    assert "times its diameter" not in said


@pytest.mark.parametrize("name", ["main-silent", "drogue-silent", "ballistic", "drogue-open"])
def test_a_live_charge_comes_first_with_its_caution_first(name: str) -> None:
    found = report(name).next_time.advice
    assert found[0].topic is Topic.CHARGES
    assert found[0].change
    caution = found[0].caution or ""
    assert "may still be live. Keep clear" in caution
    assert "range safety officer decides" in caution
    text = report_text(report(name))
    after = text[text.index(found[0].headline) :].splitlines()
    assert after[1].strip() == f"! {caution}"


def test_an_igniter_that_was_not_connected_is_a_matter_for_the_pad() -> None:
    (charge,) = advice("drogue-open", Topic.CHARGES)
    assert "says so on the pad already: do not fly" in charge.reasoning[0]


def test_a_main_that_stayed_in_is_to_be_tested_on_the_ground() -> None:
    (parachute,) = advice("main-stays-in", Topic.PARACHUTES)
    assert "the main did not hold the fall, though its charge was reported fired" in parachute.headline
    assert "Test on the ground, by the maker's instructions" in parachute.reasoning[-1]


def test_a_drogue_fired_late_is_a_matter_of_settings_and_vents() -> None:
    (parachute,) = advice("drogue-late", Topic.PARACHUTES)
    assert re.search(r"held the fall only 3\.\d s after the top, when falling at 3\d m/s", parachute.headline)
    (early,) = advice("drogue-early", Topic.PARACHUTES)
    assert "the drogue was out too early, while the rocket still climbed" in early.headline


def test_a_flight_as_planned_asks_for_no_change() -> None:
    assert changes("nominal-dual") == set()
    assert changes("ejection-in-time") == set()


def test_past_mach_1_it_is_said_when_the_pressure_could_not_be_trusted() -> None:
    (mach,) = advice("past-mach-1", Topic.MACH)
    truth = flown("past-mach-1").truth
    assert mach.value == pytest.approx(truth.max_mach, rel=0.05)
    assert re.search(r"from (0\.[7-9]|1\.[01]) s to [45]\.\d s the pressure could not be trusted", mach.headline)
    assert "ignore the pressure" in (mach.caution or "")


def test_every_figure_has_its_error_bar_and_the_truth_lies_within() -> None:
    found = {piece.topic: piece for piece in report("nominal-dual").next_time.advice}
    setup, truth = flown("nominal-dual").setup, flown("nominal-dual").truth
    assert setup.motor is not None
    assert truth.burnout_t_s is not None
    assert truth.liftoff_t_s is not None
    burn_s = truth.burnout_t_s - truth.liftoff_t_s
    weight_n = 9.80665 * (plan_of("nominal-dual").rocket_mass_kg or 0.0)
    expected = {
        Topic.THRUST: setup.motor.total_impulse_ns / burn_s / weight_n,
        Topic.DRAG: setup.rocket.drag_coefficient,
        Topic.MACH: truth.max_mach,
        Topic.MAIN_RATE: truth.main.rate_mps,
    }
    for topic, true in expected.items():
        piece = found[topic]
        assert piece.value is not None
        assert piece.sigma is not None
        assert true is not None
        assert abs(piece.value - true) < 2.0 * piece.sigma, topic
        assert piece.sigma < 0.1 * true, topic


# -- how it is told ----------------------------------------------------------------------------------------------


def test_nothing_flew_nothing_is_advised() -> None:
    found = judge_lines([], file="x")
    assert found.next_time.advice == ()
    assert HEADING not in report_text(found)
    assert report_json(found)["next_time"] == []
    assert report_json(found)["prediction"] is None


def test_changes_stand_first_and_alone_give_their_reasons() -> None:
    found = report("late-ejection").next_time.advice
    assert [piece.change for piece in found] == sorted((piece.change for piece in found), reverse=True)
    text = report_text(report("late-ejection"))
    part = text[text.index(HEADING) :].split("\n\n")[0].splitlines()
    assert part[1].startswith("  > Delay: drill")
    assert sum(line.startswith("  > ") for line in part) == sum(piece.change for piece in found)
    for piece in found:
        if not piece.change:
            assert all(sentence not in text for sentence in piece.reasoning)


def test_speeds_and_heights_are_told_in_feet_too() -> None:
    text = report_text(report("late-ejection"))
    assert re.search(r"falling at 3\d ± \d m/s \(1\d\d ± \d+ ft/s\)", text)


def test_without_a_plan_it_says_what_the_flight_alone_shows() -> None:
    topics = {piece.topic for piece in report("late-ejection", with_plan=False).next_time.advice}
    assert {Topic.DELAY, Topic.THRUST, Topic.MACH} <= topics
    assert not topics & {Topic.DRAG, Topic.RAIL, Topic.LANDING, Topic.PREDICTION}


@pytest.mark.parametrize("name", ["late-ejection", "main-silent", "main-at-apogee"])
def test_programs_get_every_piece(name: str) -> None:
    document = json.loads(json.dumps(report_json(report(name)), allow_nan=False))
    assert document["prediction"] is None
    assert [piece["topic"] for piece in document["next_time"]] == [
        piece.topic.value for piece in report(name).next_time.advice
    ]
    for piece in document["next_time"]:
        assert list(piece) == [
            "topic", "headline", "change", "reasoning", "value", "sigma", "unit", "caution", "source"
        ]  # fmt: skip
        assert (piece["value"] is None) is (piece["sigma"] is None)


def test_a_simulation_is_laid_beside_the_flight() -> None:
    rows = [f"{0.1 * n:.1f},{90.0 * 0.1 * n - 4.903325 * (0.1 * n) ** 2:.2f}" for n in range(184)]
    simulation = parse_prediction("Time (s),Altitude (m)\n" + "\n".join(rows), "simulation.csv")
    flight = flown("nominal-dual")
    found = judge_lines(flight.heard(), file="x", plan=plan_of("nominal-dual"), prediction=simulation)
    assert found.next_time.prediction is simulation
    by_name = {each.name: each for each in found.next_time.differences}
    # v^2/(2 g) of a throw at 90 m/s.
    assert by_name["apogee"].predicted == pytest.approx(90.0**2 / (2.0 * 9.80665), abs=0.1)
    assert by_name["apogee"].flown == pytest.approx(flight.truth.apogee_m, abs=1.0)
    text = report_text(found)
    assert "Prediction: apogee" in text
    assert "Time to apogee: 9.2" in text
    document = json.loads(json.dumps(report_json(found), allow_nan=False))
    assert document["prediction"]["file"] == "simulation.csv"
    assert document["prediction"]["columns"] == 'time from "Time (s)", altitude from "Altitude (m)"'
    assert [each["name"] for each in document["prediction"]["differences"]] == list(by_name)
