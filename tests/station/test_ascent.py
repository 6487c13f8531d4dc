"""Burnout and apogee: called soon, dated well, and by nothing else."""

from collections.abc import Callable
from math import atan, pi, sin

import numpy as np
import pytest

from station.ascent import ApogeeDetector, AscentLimits, BurnoutDetector
from station.estimator import VerticalFilter
from station.flight_state import EventName
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight

G = 9.80665


def burned(
    thrust_mps2: Callable[[float], float],
    *,
    period_s: float = 0.02,
    noise_mps2: float = 0.5,
    drag_mps2: Callable[[float], float] = lambda t: 20.0 * min(1.0, t / 2.0),
    until_s: float = 4.0,
    heard: Callable[[float], bool] = lambda _t: True,
    seed: int = 1,
    speed_mps: float = 80.0,
) -> tuple[float, float] | None:
    """(Burnout s, called s) from an accelerometer; thrust and drag per mass, force gained over rest is what it says."""
    detector = BurnoutDetector(AscentLimits())
    rng = np.random.default_rng(seed)
    for k in range(round(until_s / period_s)):
        t = k * period_s
        noise = float(rng.normal(0.0, noise_mps2))
        if not heard(t):
            continue
        found = detector.by_force(1000.0 * t, thrust_mps2(t) - drag_mps2(t) - G + noise, speed_mps)
        if found is not None:
            return found / 1000.0, t
    return None


def steady(t: float) -> float:
    return 100.0 if t < 1.5 else 0.0


def tapering(t: float) -> float:
    """Falls in a straight line from 1.2 s to nothing at 1.5 s; under 5 % of its peak at 1.485 s."""
    return float(np.interp(t, [0.0, 1.2, 1.5], [110.0, 90.0, 0.0]))


@pytest.mark.parametrize("thrust", [steady, tapering])
@pytest.mark.parametrize("period_s", [0.01, 0.02, 0.05])
def test_by_force_burnout_is_called_within_0_3_s_and_dated_to_a_tenth(
    thrust: Callable[[float], float], period_s: float
) -> None:
    for seed in range(6):
        found = burned(thrust, period_s=period_s, seed=seed)
        assert found is not None
        at_s, called_s = found
        assert at_s == pytest.approx(1.49, abs=max(0.1, 1.5 * period_s))
        assert at_s <= called_s <= 1.5 + 0.3


def test_drag_that_outweighs_a_tail_of_thrust_is_not_burnout_yet() -> None:
    """A fast rocket: 45 m/s^2 of drag, a tail of 40 m/s^2 of thrust. The force is below zero, the motor burns on."""

    def with_tail(t: float) -> float:
        return float(np.interp(t, [0.0, 1.0, 1.2, 1.21, 2.0], [150.0, 150.0, 80.0, 60.0, 0.0]))

    for period_s in (0.02, 0.05, 0.1):
        found = burned(with_tail, period_s=period_s, drag_mps2=lambda _t: 45.0, speed_mps=270.0)
        assert found is not None
        assert found[1] > 1.8


@pytest.mark.parametrize("falls_s", [0.5, 1.0])
def test_a_long_falling_thrust_that_fast_drag_hides_is_not_called_a_third_of_a_second_early(falls_s: float) -> None:
    """From 40 % of the peak to nothing while drag, 50 m/s^2, fades as v^2 does at 300 m/s under what is left."""

    def falling(t: float) -> float:
        return float(np.interp(t, [0.0, 0.1, 2.0, 2.0 + falls_s], [150.0, 150.0, 60.0, 0.0]))

    speed = [300.0]

    def drag(t: float) -> float:
        if t == 0.0:
            speed[0] = 300.0
        elif t > 2.0:
            speed[0] -= 0.02 * (drag_at(speed[0]) + G - falling(t))
        return drag_at(speed[0])

    def drag_at(v: float) -> float:
        return 50.0 * (v / 300.0) ** 2

    for seed in range(12):
        found = burned(falling, drag_mps2=drag, speed_mps=290.0, until_s=5.0, noise_mps2=1.0, seed=seed)
        assert found is not None
        assert 1.7 + falls_s < found[1] < 2.35 + falls_s


def test_at_ten_samples_a_second_the_second_low_one_calls_it() -> None:
    """In a rocket so slow that drag hides no thrust."""
    for seed in range(6):
        found = burned(steady, period_s=0.1, seed=seed)
        assert found is not None
        assert found[1] < 1.65


def test_a_thrust_that_dips_and_comes_back_is_one_burn() -> None:
    def two_grains(t: float) -> float:
        return 35.0 if 0.7 <= t < 0.9 else steady(t)

    found = burned(two_grains)
    assert found is not None
    assert found[0] == pytest.approx(1.5, abs=0.1)


def test_chuffing_after_ignition_is_no_burnout() -> None:
    """Coughs once before it burns for good."""

    def chuff(t: float) -> float:
        return 9.0 if 0.04 < t < 0.3 else steady(t)

    found = burned(chuff)
    assert found is not None
    assert found[0] == pytest.approx(1.5, abs=0.1)


@pytest.mark.parametrize("wild_mps2", [-100.0, 400.0])
def test_one_wild_reading_is_no_burnout(wild_mps2: float) -> None:
    def glitch(t: float) -> float:
        return wild_mps2 if abs(t - 0.8) < 1e-6 else steady(t)

    found = burned(glitch)
    assert found is not None
    assert found[0] == pytest.approx(1.5, abs=0.1)


def test_vibration_does_not_end_the_burn() -> None:
    found = burned(lambda t: steady(t) * (1.0 + 0.5 * sin(2.0 * pi * 21.0 * t)))
    assert found is not None
    assert found[0] == pytest.approx(1.5, abs=0.1)


def test_without_a_boost_there_is_no_burnout() -> None:
    assert burned(lambda _t: G, drag_mps2=lambda _t: 0.0) is None


def test_a_push_that_was_heard_before_liftoff_was_called_counts() -> None:
    detector = BurnoutDetector(AscentLimits())
    for t_ms in (0.0, 100.0):
        detector.hear(t_ms, 130.0)
    # The rest of the burn is lost; then it coasts.
    found = [detector.by_force(t_ms, -G - 4.0, 60.0) for t_ms in (500.0, 600.0, 700.0, 800.0)]
    called = [at_ms for at_ms in found if at_ms is not None]
    assert called
    assert 100.0 <= called[0] <= 500.0


def test_a_push_that_nobody_heard_has_ended_once_nothing_pushes() -> None:
    """Lost lines hid the whole burn: no motor lifts a rocket with less than a third of g for a quarter of a second."""
    found = burned(steady, heard=lambda t: t > 1.6)
    assert found is not None
    assert found[0] == pytest.approx(1.6, abs=0.05)
    assert found[1] == pytest.approx(1.6 + 0.25, abs=0.05)
    assert burned(lambda _t: 25.0, heard=lambda t: t > 0.5) is None


def test_a_gap_over_the_end_of_the_burn_delays_the_call_and_no_more() -> None:
    found = burned(steady, heard=lambda t: not 1.3 < t < 1.8)
    assert found is not None
    assert 1.3 <= found[0] <= 1.85
    assert found[1] < 2.2


def filter_with(h: float, v: float, a: float, sigma_v: float = 0.3, sigma_a: float = 1.0) -> VerticalFilter:
    return VerticalFilter(h, v, a, altitude_sigma_m=0.2, velocity_sigma_mps=sigma_v, acceleration_sigma_mps2=sigma_a)


@pytest.mark.parametrize(
    ("acceleration_mps2", "sigma_mps2", "called"),
    [(60.0, 3.0, False), (5.0, 3.0, False), (-1.0, 0.1, False), (-12.0, 3.0, True), (-12.0, 40.0, False)],
)
def test_by_pressure_burnout_needs_an_acceleration_clearly_below_zero(
    acceleration_mps2: float, sigma_mps2: float, called: bool
) -> None:
    detector = BurnoutDetector(AscentLimits())
    found = detector.by_filter(5_000.0, filter_with(200.0, 90.0, acceleration_mps2, 2.0, sigma_mps2), 3.0)
    assert (found is not None) == called
    if found is not None:
        assert 4_300.0 < found < 5_000.0  # it was a little while ago


@pytest.mark.parametrize(
    ("speed_mps", "acceleration_mps2", "burning_s", "called"),
    [
        (90.0, -12.0, 1.0, True),  # pushed at 100 m/s^2 on the mean; now at 4 +- 20
        (90.0, -12.0, 5.0, False),  # pushed at 28 m/s^2 all the time: may well go on
        (250.0, -5.0, 3.0, False),  # so fast that drag and gravity take up a third of the push
        (90.0, -1.0, 1.0, False),
    ],
)
def test_by_pressure_an_unsure_acceleration_counts_against_what_the_motor_has_given(
    speed_mps: float, acceleration_mps2: float, burning_s: float, called: bool
) -> None:
    state = filter_with(200.0, speed_mps, acceleration_mps2, 4.0, 20.0)
    found = BurnoutDetector(AscentLimits()).by_filter(5_000.0, state, burning_s)
    assert (found is not None) == called


def coasting(
    *,
    period_s: float = 0.02,
    sigma_v: float = 0.3,
    acceleration_mps2: Callable[[float], float] = lambda _t: -G,
    wobble_mps: Callable[[float], float] = lambda _t: 0.0,
    until_s: float = 9.0,
    heard: Callable[[float], bool] = lambda _t: True,
) -> tuple[float, float, float, float] | None:
    """(Apogee s, height m, sigma s, called s) of a coast at 49.03 m/s: apogee after 5 s, 122.58 m up."""
    detector = ApogeeDetector(AscentLimits())
    for k in range(round(until_s / period_s)):
        t = k * period_s
        if not heard(t):
            continue
        v = 5.0 * G - G * t
        state = filter_with(5.0 * G * t - 0.5 * G * t * t, v + wobble_mps(t), acceleration_mps2(t), sigma_v)
        found = detector.take(1000.0 * t, state)
        if found is not None:
            return found[0] / 1000.0, found[1], found[2], t
    return None


@pytest.mark.parametrize("period_s", [0.01, 0.02, 0.1])
def test_apogee_is_called_within_half_a_second_and_never_before_it(period_s: float) -> None:
    found = coasting(period_s=period_s)
    assert found is not None
    at_s, height_m, sigma_s, called_s = found
    assert at_s == pytest.approx(5.0, abs=0.01)
    assert height_m == pytest.approx(122.58, abs=0.05)
    assert 0.0 < sigma_s < 0.2
    assert 5.0 < called_s < 5.3


def test_an_unsure_speed_waits_for_a_clearer_fall() -> None:
    sure, unsure = coasting(sigma_v=0.3), coasting(sigma_v=6.0)
    assert sure is not None
    assert unsure is not None
    assert unsure[3] > sure[3]
    assert unsure[2] > sure[2]


def test_a_speed_that_swings_about_zero_is_called_at_its_last_crossing() -> None:
    found = coasting(wobble_mps=lambda t: 0.5 * sin(2.0 * pi * 4.0 * t))
    assert found is not None
    assert found[0] == pytest.approx(5.0, abs=0.15)


def test_a_shock_that_throws_the_speed_below_zero_for_a_moment_is_no_apogee() -> None:
    """Pressure jumps and the filter is pulled about: nothing near free fall, so it is not the top."""

    def shocked(t: float) -> bool:
        return 1.0 < t < 1.2

    found = coasting(
        wobble_mps=lambda t: -42.0 if shocked(t) else 0.0,  # 39 m/s up: it seems to fall at some m/s
        acceleration_mps2=lambda t: -200.0 if shocked(t) else -G,
    )
    assert found is not None
    assert found[0] == pytest.approx(5.0, abs=0.01)


@pytest.mark.parametrize("seed", [2_011_283, 2_013_824])
def test_a_climb_that_a_charges_blow_seems_to_end_is_not_called_its_end(seed: int) -> None:
    """A drogue fired in the climb: at next to no speed it seemed to brake at 17 and 21 m/s^2, which no drag does."""
    flight = random_flight(seed, "drogue-early")
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    called = pipeline.tracker.event(EventName.APOGEE)
    assert called is not None
    assert flight.truth.apogee_t_s is not None
    assert -0.3 < (called.called_t_ms - flight.truth.t_ms_of(flight.truth.apogee_t_s)) / 1000.0 < 0.5


def test_a_speed_that_is_hardly_known_is_no_sure_fall() -> None:
    """A filter that the shock led astray finds back: it passes through a fall of 46 m/s, give or take 20."""

    def astray(t: float) -> bool:
        return 1.0 < t < 1.4

    found = coasting(
        sigma_v=20.0,
        wobble_mps=lambda t: -85.0 if astray(t) else 0.0,
        acceleration_mps2=lambda t: -60.0 if astray(t) else -G,
    )
    assert found is not None
    assert found[0] == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize("gap_s", [1.0, 3.0])
def test_an_apogee_inside_a_gap_is_called_after_it(gap_s: float) -> None:
    found = coasting(heard=lambda t: not 4.5 < t < 4.5 + gap_s)
    assert found is not None
    assert found[0] == pytest.approx(5.0, abs=0.1)
    assert found[3] < 4.5 + gap_s + 0.1
    assert found[1] <= 122.6


@pytest.mark.parametrize("drag_g", [5.0, 20.0, 45.0])
def test_what_surely_climbed_fast_is_given_the_time_that_stopping_takes(drag_g: float) -> None:
    """Coasting up with drag by the square of the speed takes (v_t / g) atan(v / v_t); textbook mechanics."""
    limits = AscentLimits()
    fast = limits.fast_climb_mps
    terminal = fast / drag_g**0.5
    assert terminal / G * atan(fast / terminal) > limits.fast_climb_s


def test_no_apogee_is_called_right_after_a_climb_at_200_metres_a_second() -> None:
    """The shock has left the ports and the heights fall for a moment, smoothly and as fast as in free fall."""
    detector = ApogeeDetector(AscentLimits())
    detector.take(0.0, VerticalFilter(1744.0, 200.0, -G, velocity_sigma_mps=10.0))
    falling = VerticalFilter(1740.0, -60.0, -G, velocity_sigma_mps=5.0)
    assert detector.take(200.0, falling) is None
    assert detector.take(1900.0, falling) is None
    assert detector.take(2100.0, falling) is not None
    # A speed that may as well be nothing says nothing of the kind.
    unsure = ApogeeDetector(AscentLimits())
    unsure.take(0.0, VerticalFilter(1744.0, 200.0, -G, velocity_sigma_mps=80.0))
    assert unsure.take(200.0, falling) is not None
