"""Sample flights, judged and smoothed once for all tests."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from station.flight_log import read_flight_file
from station.plan import FlightPlan
from station.whole_flight import WholeFlight, whole_flight

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"


@cache
def _judged(name: str, rocket: str | None) -> WholeFlight:
    plan = None if rocket is None else FlightPlan(rocket_name=rocket)
    return whole_flight(read_flight_file(SAMPLES / name).lines, file=name, plan=plan)


@pytest.fixture(scope="session")
def flight_of() -> Callable[..., WholeFlight]:
    """The flight in a sample file; `rocket` is what its plan calls it."""

    def judged(name: str, rocket: str | None = None) -> WholeFlight:
        return _judged(name, rocket)

    return judged


@pytest.fixture
def nominal(flight_of: Callable[..., WholeFlight]) -> WholeFlight:
    """Both parachutes took hold."""
    return flight_of("nominal-dual.flight")


@pytest.fixture
def cut_off(flight_of: Callable[..., WholeFlight]) -> WholeFlight:
    """The link was lost under the drogue."""
    return flight_of("behind-the-trees.flight")
