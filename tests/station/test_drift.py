"""The wedge down the wind, against closed forms and against virtual flights in their own wind."""

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from scipy.integrate import quad

from station.drift import AirTime, Main, fall, growth, planned_main, sinking_mps, still_to_fall, wedge_between
from station.flight_state import Estimate
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.virtual import SCENARIOS, VirtualFlight, fly
from station.whereabouts import DriftWedge


def the_worked_descent() -> AirTime:
    """850 m at 20 m/s, then 150 m at 5.5 m/s."""
    return fall(1000.0, 150.0, 20.0).plus(fall(150.0, 0.0, 5.5))


def test_the_worked_example_of_a_drift_in_a_steady_wind() -> None:
    """850/20 + 150/5.5 = 69.77 s; 348.9 m in 5 m/s, 623.8 m in 20 mph (closed form: distance = wind x time)."""
    seconds = the_worked_descent().seconds
    assert seconds == pytest.approx(69.77, abs=0.005)
    assert 5.0 * seconds == pytest.approx(348.9, abs=0.05)
    assert 20.0 * 0.44704 * seconds == pytest.approx(623.8, abs=0.05)


def test_the_wedge_goes_from_a_steady_wind_less_the_lean_to_a_growing_wind() -> None:
    """Lean: 1000 m up at 10 degrees into the wind is 176.3 m, at 5 degrees with it 87.5 m."""
    time = the_worked_descent()
    found = wedge_between(time, time, 1000.0, 5.0, 270.0, heard_down=True)
    assert found.least_m == pytest.approx(348.9 - 176.3, abs=0.1)
    by_height = quad(growth, 150.0, 1000.0)[0] / 20.0 + quad(growth, 0.0, 150.0, points=[2.0])[0] / 5.5
    assert found.most_m == pytest.approx(5.0 * by_height + 87.5, abs=0.1)
    assert (found.from_deg, found.to_deg) == (60.0, 120.0)
    assert found.time_s == pytest.approx(69.77, abs=0.005)


@pytest.mark.parametrize(("height_m", "times"), [(0.0, 1.0), (2.0, 1.0), (20.0, 10 ** (1 / 7)), (256.0, 2.0)])
def test_the_wind_grows_with_height_by_the_one_seventh_power(height_m: float, times: float) -> None:
    """128 = 2^7 times the height is twice the wind."""
    assert growth(height_m) == pytest.approx(times)


@pytest.mark.parametrize(("high", "low"), [(400.0, 0.0), (1.5, 0.0), (300.0, 120.0), (10.0, 1.0)])
def test_the_closed_form_of_the_growing_wind_is_its_integral(high: float, low: float) -> None:
    assert fall(high, low, 4.0).windy_s == pytest.approx(quad(growth, low, high, points=[2.0])[0] / 4.0, rel=1e-6)


def test_under_the_ground_there_is_nothing_to_fall() -> None:
    assert fall(-3.0, 0.0, 5.0) == AirTime()


def test_a_main_that_is_still_to_open_makes_the_longest_fall_longer() -> None:
    shortest, longest = still_to_fall(300.0, 20.0, Main(120.0, 5.0))
    assert shortest.seconds == pytest.approx(15.0)
    assert longest.seconds == pytest.approx(180.0 / 20.0 + 120.0 / 5.0)
    below, slowed = still_to_fall(60.0, 20.0, Main(120.0, 5.0))
    assert (below.seconds, slowed.seconds) == pytest.approx((3.0, 12.0))


@pytest.mark.parametrize("main", [None, Main(120.0, 5.0)])
def test_a_rocket_that_hangs_already_falls_on_as_it_does(main: Main | None) -> None:
    shortest, longest = still_to_fall(300.0, 5.4, main)
    assert shortest == longest
    assert shortest.seconds == pytest.approx(300.0 / 5.4)


def test_the_main_of_the_plan() -> None:
    assert planned_main(None, FlightPlan(main_rate_mps=6.0)) is None
    assert planned_main(150.0, FlightPlan(main_rate_mps=6.0)) == Main(150.0, 6.0)
    assert planned_main(150.0, None) == Main(150.0, 5.5)


def test_a_plan_with_a_speed_and_no_direction_gives_a_distance_all_round() -> None:
    found = wedge_between(AirTime(60.0, 120.0), AirTime(60.0, 120.0), 0.0, 5.0, None, heard_down=True)
    assert (found.least_m, found.most_m, found.from_deg, found.to_deg) == (300.0, 600.0, None, None)


def test_the_wedge_may_lie_across_north() -> None:
    found = wedge_between(AirTime(60.0, 120.0), AirTime(60.0, 120.0), 0.0, 5.0, 170.0, heard_down=True)
    assert (found.from_deg, found.to_deg) == (320.0, 20.0)


def line(*points: tuple[float, float]) -> list[Estimate]:
    return [Estimate(1000.0 * t, h, 0.0, 0.0, 0.1, 0.1, 0.1) for t, h in points]


@pytest.mark.parametrize(
    ("track", "rate_mps"),
    [
        (line((0, 100), (1, 90), (2, 80)), 10.0),
        (line((0, 900), (1, 800), (2, 700), (10, 100), (11, 95), (12, 90)), 5.0),  # only the last seconds count
        (line((0, 100), (1, 100.5)), None),
        (line((1, 100)), None),
    ],
)
def test_the_rate_is_that_of_the_last_seconds(track: Sequence[Estimate], rate_mps: float | None) -> None:
    assert sinking_mps(track, 0.0) == rate_mps


# -- whole flights -------------------------------------------------------------------------------------------


@cache
def flown(name: str, seed: int) -> VirtualFlight:
    return fly(SCENARIOS[name], seed)


def wedge_of(flight: VirtualFlight, plan: FlightPlan | None, *, until_s: float = np.inf) -> DriftWedge | None:
    pipeline = Pipeline(plan=plan)
    for line, arrival_us in flight.heard():
        if arrival_us / 1e6 < until_s:
            pipeline.take_line(line, arrival_us)
    return pipeline.snapshot(over=True).whereabouts.drift


def its_wind(flight: VirtualFlight) -> FlightPlan:
    """A plan that says the mean wind at the ground and its direction, as somebody at the pad would measure it."""
    return FlightPlan(wind_mps=flight.setup.day.ground_wind_mps, wind_from_deg=flight.setup.place.wind_from_deg)


FLIGHTS = [
    (name, seed) for name in ("nominal-dual", "main-at-apogee", "late-ejection", "main-silent") for seed in (1, 2, 3)
]
FLIGHTS += [("past-mach-1", 2), ("behind-the-trees", 1), ("drogue-late", 2)]


@pytest.mark.parametrize(("name", "seed"), FLIGHTS)
def test_a_virtual_rocket_lies_in_the_wedge_of_its_own_wind(name: str, seed: int) -> None:
    flight = flown(name, seed)
    found = wedge_of(flight, its_wind(flight))
    assert found is not None
    assert flight.truth.landing is not None
    range_m, bearing_deg = flight.truth.landing
    assert found.least_m <= range_m <= found.most_m
    assert found.from_deg is not None
    assert (bearing_deg - found.from_deg) % 360.0 <= 60.0
    assert found.heard_down == (name != "behind-the-trees")


def test_the_time_in_the_air_is_that_of_the_true_flight() -> None:
    flight = flown("nominal-dual", 1)
    found = wedge_of(flight, its_wind(flight))
    assert found is not None
    assert flight.truth.touchdown_t_s is not None
    assert flight.truth.apogee_t_s is not None
    assert found.time_s == pytest.approx(flight.truth.touchdown_t_s - flight.truth.apogee_t_s, abs=0.5)


def test_what_was_not_heard_is_reckoned_from_the_last_rate_with_and_without_the_main() -> None:
    flight = flown("nominal-dual", 1)
    truth = flight.truth
    assert truth.main.fired_t_s is not None
    assert truth.touchdown_t_s is not None
    assert truth.apogee_t_s is not None
    cut = wedge_of(flight, its_wind(flight), until_s=truth.main.fired_t_s - 2.0)
    whole = wedge_of(flight, its_wind(flight))
    assert cut is not None
    assert whole is not None
    assert not cut.heard_down
    assert cut.least_m <= whole.least_m
    assert cut.most_m == pytest.approx(whole.most_m, rel=0.1)


@pytest.mark.parametrize("plan", [None, FlightPlan(), FlightPlan(wind_from_deg=90.0)])
def test_without_a_wind_there_is_no_wedge(plan: FlightPlan | None) -> None:
    assert wedge_of(flown("nominal-dual", 1), plan) is None


def test_before_the_apogee_there_is_no_wedge() -> None:
    flight = flown("nominal-dual", 1)
    assert wedge_of(flight, its_wind(flight), until_s=flight.truth.apogee_t_s or 0.0) is None


def test_with_fixes_there_is_a_place_and_no_wedge() -> None:
    flight = flown("satellite-fixes", 1)
    assert wedge_of(flight, its_wind(flight)) is None
