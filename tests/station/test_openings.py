"""When the first parachute took hold, how far from the top and how fast: what is added to a verdict."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from station.coast_fit import CoastFit
from station.coasting import Coasting
from station.flight_state import Basis, Deployment, Event, EventName, Verdict
from station.openings import FILLS_FOR_S, FILLS_SIGMA_S, with_openings
from station.records import Role
from station.top_opening import TopOpening

# A throw without drag: 50 m/s at 2 s, the top 50/g = 5.0986 s later.
TOP_S = 2.0 + 50.0 / 9.80665
COASTING = Coasting(
    CoastFit(2.0, 80.0, 50.0, 0.0, np.eye(3) * 1e-9, 0.3), 2.0, TOP_S, 50.0, 0.0, 1e-5, TOP_S, 0.04, 207.5
)


def event(name: EventName, t_s: float) -> Event:
    return Event(name, 1000.0 * t_s, 0.0, 0.0, 0.03, Basis.ESTIMATED, 1000.0 * t_s)


def deployment(role: Role, opened_s: float | None, verdict: Verdict = Verdict.CONFIRMED) -> Deployment:
    opened_ms = None if opened_s is None else 1000.0 * opened_s
    return Deployment(
        role, None, None, None, None, None, opened_ms, 200.0, None, 6.0, verdict, ("It held.",), opened_sigma_s=0.1
    )


def told(*deployments: Deployment, opening: TopOpening | None = None, **given: Any) -> tuple[Deployment, ...]:
    facts: dict[str, Any] = {
        "by_motor": True,
        "liftoff": event(EventName.LIFTOFF, 0.0),
        "apogee": event(EventName.APOGEE, TOP_S),
        "coasting": COASTING,
        "opening": opening,
    }
    return with_openings(deployments, **(facts | given))


def test_after_the_top_it_falls_with_g() -> None:
    (found,) = told(deployment(Role.MAIN, TOP_S + 3.0))
    assert found.verdict is Verdict.CONFIRMED
    # v = g t, 9.80665 * 3 = 29.4 m/s, less what was left of the filling.
    assert found.opened_velocity_mps == pytest.approx(-9.80665 * (3.0 - FILLS_FOR_S), abs=0.01)
    assert found.opened_velocity_sigma_mps == pytest.approx(9.80665 * np.hypot(0.1, FILLS_SIGMA_S), rel=0.3)
    assert found.reasons[0] == "It held."
    assert found.reasons[1].startswith("It began to hold 2.8 s after the highest point, falling at 28 m/s ± ")


@pytest.mark.parametrize(
    ("after_s", "says"),
    [
        (0.2, "It began to hold at the highest point, at less than "),
        (-0.3, "It began to hold at the highest point, at less than "),
        (-0.9, "It began to hold 1.1 s before the highest point, going up at 10 m/s ± "),
    ],
)
def test_near_the_top_in_plain_words(after_s: float, says: str) -> None:
    (found,) = told(deployment(Role.MAIN, TOP_S + after_s))
    assert found.reasons[1].startswith(says)
    assert found.verdict is Verdict.CONFIRMED


IN_THE_CLIMB = TopOpening(4.0, 0.2, 150.0, 30.4, 2.0, 4.6, 0.1, 158.0)


@pytest.mark.parametrize(
    ("before", "after"), [(Verdict.CONFIRMED, Verdict.EARLY), (Verdict.TOO_FAST, Verdict.TOO_FAST)]
)
def test_one_that_was_out_in_the_climb_is_early_whenever_the_descent_showed_it(before: Verdict, after: Verdict) -> None:
    (found,) = told(deployment(Role.MAIN, 7.5, before), opening=IN_THE_CLIMB, apogee=event(EventName.APOGEE, 4.6))
    assert found.verdict is after
    assert (found.opened_t_ms, found.opened_altitude_m, found.opened_velocity_mps) == (4000.0, 150.0, 30.4)
    assert found.reasons[1] == (
        "It began to hold in the climb already, 3.1 s before the top that it was on its way to, going up at 30 m/s "
        "± 4 m/s."
    )


def test_of_two_parachutes_only_the_first_to_open_met_the_rocket_in_one_piece() -> None:
    drogue, main = told(deployment(Role.DROGUE, TOP_S + 1.0), deployment(Role.MAIN, TOP_S + 30.0), by_motor=False)
    assert drogue.opened_velocity_mps == pytest.approx(-9.80665 * (1.0 - FILLS_FOR_S), abs=0.1)
    assert drogue.reasons == ("It held.",)
    assert main.opened_velocity_mps is None


def test_without_an_opening_or_a_coast_nothing_is_added() -> None:
    unseen = deployment(Role.MAIN, None, Verdict.NOT_OBSERVED)
    assert told(unseen) == (unseen,)
    seen = deployment(Role.MAIN, 9.0)
    assert told(seen, coasting=None) == (seen,)
    assert told(seen, apogee=None) == (seen,)


def test_after_another_charge_has_fired_the_coast_says_nothing_of_the_speed() -> None:
    drogue = replace(deployment(Role.DROGUE, None, Verdict.EARLY), fired_t_ms=1000.0 * (TOP_S - 2.0))
    main = deployment(Role.MAIN, TOP_S + 30.0)
    _, found = told(drogue, main, by_motor=False)
    assert found.opened_velocity_mps is None
    stayed_in = replace(drogue, verdict=Verdict.NO_EFFECT)
    assert told(stayed_in, main, by_motor=False)[1].opened_velocity_mps is None
    unfired = replace(drogue, verdict=Verdict.NOT_FIRED, fired_t_ms=None)
    assert told(unfired, main, by_motor=False)[1].opened_velocity_mps == pytest.approx(-9.80665 * 30.0, rel=0.01)


def test_under_a_held_rate_the_coast_says_nothing_of_the_speed() -> None:
    main = replace(deployment(Role.MAIN, TOP_S + 30.0), rate_before_mps=20.0)
    assert told(main, by_motor=False)[0].opened_velocity_mps is None
