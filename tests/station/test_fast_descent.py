"""The warning of a fast descent, on falls that have a closed form."""

from collections.abc import Callable
from math import cosh, log, tanh

import pytest

from station.fast_descent import (
    BARE_MPS,
    MAIN_TAKES_S,
    ONE_PARACHUTE_TAKES_S,
    FastDescent,
    fast_descent,
)
from station.flight_state import Estimate
from station.records import Role
from station.stretch import Stretch

G = 9.80665
DUAL = (Role.DROGUE, Role.MAIN)
Fall = Callable[[float], tuple[float, float]]
"""(Height in m, speed in m/s, + down) at a time since apogee."""


def free_fall(top_m: float) -> Fall:
    """Vacuum: v = g t."""
    return lambda t: (top_m - 0.5 * G * t * t, G * t)


def drag_fall(top_m: float, terminal_mps: float) -> Fall:
    """Constant density: v = w tanh(g t/w), h = top - w^2/g ln cosh(g t/w)."""

    def at(t: float) -> tuple[float, float]:
        x = G * t / terminal_mps
        return top_m - terminal_mps**2 / G * log(cosh(x)), terminal_mps * tanh(x)

    return at


def steady(from_m: float, rate_mps: float) -> Fall:
    return lambda t: (from_m - rate_mps * t, rate_mps)


def track(fall: Fall, until_s: float, *, period_s: float = 0.05, sigma_mps: float = 0.3, gap=(0.0, 0.0)):
    """Estimates from apogee (t = 0) on, none inside the gap."""
    times = [n * period_s for n in range(1, round(until_s / period_s) + 1)]
    rows = [(t, *fall(t)) for t in times if not gap[0] < t < gap[1]]
    return [Estimate(1000.0 * t, h, -v, 0.0, 0.3, sigma_mps, 0.3) for t, h, v in rows]


def hold(rate_mps: float | None = None, *, opened: bool = True, steady_s: float = 5.0) -> Stretch:
    return Stretch(0.0, 1.0, 0.5 if opened else None, 0.1, 100.0, 10.0, rate_mps, 0.1, steady_s, 1.0, rate_mps)


NOTHING_HOLDS = hold(opened=False)


def judged(estimates, stretch=NOTHING_HOLDS, roles=DUAL, main_height_m=150.0, planned_main_mps=None):
    return fast_descent(
        estimates,
        stretch,
        apogee_t_ms=0.0,
        roles=roles,
        main_height_m=main_height_m,
        planned_main_mps=planned_main_mps,
    )


def first_warning_s(fall: Fall, until_s: float, **kind) -> float | None:
    whole = track(fall, until_s)
    return next((e.t_ms / 1000.0 for n, e in enumerate(whole, 1) if judged(whole[:n], **kind)), None)


def test_free_fall_is_warned_of_soon_after_it_passes_the_limit():
    passed_s = BARE_MPS / G
    warned_s = first_warning_s(free_fall(400.0), 6.0)
    assert passed_s < warned_s < passed_s + 0.8


def test_a_tumbling_airframe_just_over_the_limit_is_warned_of():
    assert judged(track(drag_fall(800.0, 38.0), 15.0)) is FastDescent.BARE


def test_a_fall_that_a_drogue_ends_in_two_seconds_is_not():
    """Free for 2 s and 0.6 s more until the lines are stretched."""
    assert first_warning_s(free_fall(400.0), 2.6) is None


@pytest.mark.parametrize("terminal_mps", [15.0, 26.0, 32.0])
def test_a_drogue_at_any_usual_rate_is_not(terminal_mps):
    assert first_warning_s(drag_fall(800.0, terminal_mps), 20.0, stretch=hold(terminal_mps)) is None


def test_thin_air_makes_a_drogue_faster_and_is_allowed_for():
    """28 m/s at the pad is 38.5 m/s where the air is 0.53 as dense, at 6500 m."""
    assert judged(track(steady(6600.0, 38.5), 3.0), main_height_m=150.0) is None
    assert judged(track(steady(400.0, 38.5), 3.0), main_height_m=150.0) is FastDescent.BARE


def test_one_wild_estimate_of_the_speed_is_no_evidence():
    estimates = track(free_fall(400.0), 1.5)
    now = estimates[-1]
    wild = Estimate(now.t_ms + 50.0, now.altitude_m - 2.0, -60.0, 0.0, 1.0, 4.0, 5.0)
    assert judged([*estimates, wild]) is None


def test_a_fall_through_a_gap_counts_as_a_fall():
    assert judged(track(free_fall(400.0), 5.05, gap=(2.0, 5.0))) is None  # 24 m/s on the mean since it was seen last
    assert judged(track(free_fall(600.0), 7.05, gap=(2.0, 7.0))) is FastDescent.BARE


def test_the_warning_goes_when_a_late_parachute_slows_the_fall():
    late = track(free_fall(400.0), 5.0)
    assert judged(late) is FastDescent.BARE
    top, t0 = late[-1].altitude_m, late[-1].t_ms
    slowed = [Estimate(t0 + 50.0 * n, top - 0.9 * n, -18.0, 0.0, 0.3, 0.3, 0.3) for n in range(1, 4)]
    assert judged([*late, *slowed]) is None


def test_the_warning_outlasts_a_doubtful_moment():
    fast = track(free_fall(800.0), 5.5)
    now = fast[-1]
    doubtful = Estimate(now.t_ms + 50.0, now.altitude_m - 2.5, now.velocity_mps, 0.0, 6.0, 9.0, 9.0)
    assert judged([*fast, doubtful]) is FastDescent.BARE


# -- the main ---------------------------------------------------------------------------------------------------


def under_drogue(seconds_past: float) -> list[Estimate]:
    """20 m/s, past the main's height (150 m) for so long."""
    return track(steady(350.0, 20.0), 10.0 + seconds_past)


def test_a_main_that_does_not_come_is_warned_of_within_a_second_and_a_half_of_its_time():
    drogue = hold(20.0)
    assert judged(under_drogue(MAIN_TAKES_S), drogue) is None
    assert judged(under_drogue(MAIN_TAKES_S + 1.0), drogue) is FastDescent.OVERDUE


def test_a_main_that_slows_the_fall_in_time_is_not():
    late = under_drogue(1.8)
    top, t0 = late[-1].altitude_m, late[-1].t_ms
    slow = [Estimate(t0 + 50.0 * n, top - 0.3 * n, -6.0, 0.0, 0.3, 0.3, 0.3) for n in range(1, 40)]
    for n in range(1, 40):
        assert judged([*late, *slow[:n]], hold(20.0)) is None


def test_above_the_mains_height_and_without_a_main_nothing_is_due():
    assert judged(under_drogue(-1.0), hold(20.0)) is None
    assert judged(under_drogue(4.0), hold(20.0), roles=(Role.DROGUE,)) is None


def test_where_the_mains_height_is_not_known_only_the_last_metres_tell():
    high, low = track(steady(350.0, 20.0), 15.0), track(steady(350.0, 20.0), 17.0)
    assert judged(high, hold(20.0), main_height_m=None) is None  # 50 m up
    assert judged(low, hold(20.0), main_height_m=None) is FastDescent.OVERDUE  # 10 m up


def test_the_moment_it_came_past_its_height_is_found_inside_a_gap():
    gap = track(steady(350.0, 20.0), 13.0, gap=(8.0, 12.0))
    assert judged(gap, hold(20.0)) is FastDescent.OVERDUE


def test_one_parachute_is_due_at_apogee():
    tangled = drag_fall(500.0, 20.0)
    alone = {"roles": (Role.MAIN,), "main_height_m": None}
    assert judged(track(tangled, ONE_PARACHUTE_TAKES_S), hold(20.0), **alone) is None
    assert judged(track(tangled, ONE_PARACHUTE_TAKES_S + 1.0), hold(20.0), **alone) is FastDescent.OVERDUE


@pytest.mark.parametrize("rate_mps", [4.0, 7.0, 10.0])
def test_a_main_at_its_rate_is_never_warned_of(rate_mps):
    assert judged(track(steady(120.0, rate_mps), 9.0), hold(rate_mps)) is None


def test_a_gust_under_a_main_that_holds_is_no_evidence():
    def gusty(t):
        return (120.0 - 6.0 * t - 8.0 * min(max(t - 5.0, 0.0), 1.0), 14.0 if 5.0 < t < 6.0 else 6.0)

    for until_s in (5.5, 5.9, 6.1, 7.0):
        assert judged(track(gusty, until_s), hold(6.0)) is None


@pytest.mark.parametrize("rate_mps", [14.0, 30.0])
def test_a_main_that_lets_go_is_warned_of_within_a_second_and_a_half(rate_mps):
    """A torn canopy, a cord that parted: what it held at before says nothing of now."""

    def torn(t):
        return (120.0 - 6.0 * t - (rate_mps - 6.0) * max(t - 5.0, 0.0), rate_mps if t > 5.0 else 6.0)

    warned_s = first_warning_s(torn, 8.0, stretch=hold(6.0))
    assert warned_s is not None
    assert 5.3 < warned_s < 6.75


def test_a_planned_rate_that_is_fast_moves_the_limit():
    fast_plan = track(steady(120.0, 13.0), 6.0)
    assert judged(fast_plan, hold(13.0)) is FastDescent.OVERDUE
    assert judged(fast_plan, hold(13.0), planned_main_mps=10.0) is None


def test_on_the_ground_nothing_comes_in():
    assert judged(track(steady(203.0, 20.0), 10.0), hold(20.0)) is None  # 3 m up
    assert judged([]) is None
