"""Falls that are known in closed form, with and without silences."""

from math import exp

import numpy as np
import pytest

from station.flight_state import Estimate
from station.seen_fall import SeenFall

G = 9.80665


def seen(heights_m: np.ndarray, speeds_mps: np.ndarray, t_s: np.ndarray) -> SeenFall:
    rows = zip(t_s.tolist(), heights_m.tolist(), speeds_mps.tolist(), strict=True)
    return SeenFall([Estimate(1000.0 * t, h, -v, 0.0, 0.3, 0.5, 1.0) for t, h, v in rows])


def falling(until_s: float = 12.0, without_s: tuple[float, float] | None = None) -> SeenFall:
    """Let go at rest 1,000 m up, in a vacuum."""
    t_s = np.arange(0.0, until_s, 0.05)
    if without_s is not None:
        t_s = t_s[(t_s <= without_s[0]) | (t_s >= without_s[1])]
    return seen(1000.0 - G / 2.0 * t_s**2, G * t_s, t_s)


def steady(rate_mps: float = 20.0, from_m: float = 400.0) -> SeenFall:
    t_s = np.arange(0.0, from_m / rate_mps, 0.05)
    return seen(from_m - rate_mps * t_s, np.full_like(t_s, rate_mps), t_s)


def test_the_estimate_before_a_time_is_not_one_from_before_a_silence() -> None:
    fall = falling(without_s=(3.0, 6.0))
    before, none = fall.at(4_400.0), fall.at(4_600.0)
    assert before is not None
    assert before.t_ms == pytest.approx(3000.0)
    assert none is None
    assert fall.at(-1.0) is None


@pytest.mark.parametrize(("start_ms", "end_ms", "is_seen"), [(1000, 2700, True), (1000, 2500, False)])
def test_a_span_without_silences_was_seen_as_long_as_it_is(start_ms: float, end_ms: float, is_seen: bool) -> None:
    assert falling().was_seen(start_ms, end_ms, 1.6) is is_seen


def test_a_silence_before_or_inside_a_span_was_not_seen() -> None:
    # What lies before the span does not count for it, even where the silence is short enough to be bridged.
    assert not falling(without_s=(3.0, 4.2)).was_seen(4100.0, 5000.0, 1.6)
    # 3 to 5 s and 8 to 9 s: three of six seconds.
    fall = falling(without_s=(5.0, 8.0))
    assert fall.was_seen(3000.0, 9000.0, 2.9)
    assert not fall.was_seen(3000.0, 9000.0, 3.1)


def test_a_free_fall_gains_g() -> None:
    fall = falling()
    assert fall.fastest_mps(2000.0, 5000.0) == pytest.approx(5.0 * G, abs=0.5)
    assert fall.fastest_mps(20_000.0, 30_000.0) is None
    assert fall.settled_mps(0.0, 6000.0) is None
    assert fall.settled_so_far_mps(0.0, 6000.0) == []
    # h(2 s) - h(4 s) = g (16 - 4) / 2
    assert fall.mean_mps(2000.0, 4000.0) == pytest.approx(3.0 * G, abs=0.3)
    assert fall.mean_mps(2000.0, 2900.0) is None


def test_the_mean_of_a_span_that_was_seen_in_part_is_that_of_the_part() -> None:
    fall = falling(without_s=(2.0, 5.0))
    # Nothing within a second and a half before 4 s, so from 5 s on: g (49 - 25) / 2 over 2 s
    assert fall.mean_mps(4000.0, 7000.0) == pytest.approx(6.0 * G, abs=0.3)
    # To the last that was seen, at 2 s: g (4 - 0) / 2 over 2 s
    assert fall.mean_mps(0.0, 4500.0) == pytest.approx(G, abs=0.3)
    assert fall.mean_mps(20_000.0, 30_000.0) is None
    assert fall.mean_mps(-9000.0, -5000.0) is None


@pytest.mark.parametrize("terminal_mps", [25.0, 45.0, 60.0])
def test_a_fall_that_still_gains_a_little_is_settled_at_the_speed_it_is_going_to(terminal_mps: float) -> None:
    """From rest with quadratic drag v = v1 tanh(g t / v1), h = h0 - v1^2 / g ln cosh(g t / v1) (any handbook)."""
    t_s = np.arange(0.0, 25.0, 0.05)
    speeds = terminal_mps * np.tanh(G * t_s / terminal_mps)
    # From the pad's level on down, where its air counts.
    heights = -(terminal_mps**2) / G * np.log(np.cosh(G * t_s / terminal_mps))
    fall = seen(heights, speeds, t_s)
    # 0.86 of it is reached where tanh x = 0.86, x = 1.3.
    assert fall.settled_so_far_mps(0.0, 1300.0 * terminal_mps / G) == []
    found = fall.settled_so_far_mps(0.0, 20_000.0)
    assert len(found) > 10
    assert found == pytest.approx([terminal_mps] * len(found), rel=0.04)
    # What was seen stays so.
    assert fall.settled_so_far_mps(0.0, 17_000.0) == found[: len(found) - 6]
    assert fall.settled_mps(0.0, 17_000.0) == found[-7]
    # A silence longer than what is looked back on leaves nothing to tell.
    assert fall.settled_mps(0.0, 45_000.0) is None
    assert fall.settled_so_far_mps(0.0, 45_000.0)[-1] == pytest.approx(terminal_mps, rel=0.04)


def test_a_steady_fall_is_settled_and_stays_so_through_a_gust() -> None:
    fall = steady()
    # The median look is that of 4 s, at 320 m.
    settled_mps = 20.0 * exp(-320.0 / 10_400.0 / 2.0)
    assert fall.settled_mps(0.0, 6000.0) == pytest.approx(settled_mps, rel=1e-3)
    assert fall.fastest_at_pad_mps(1000.0, 5000.0) == pytest.approx(20.0 * exp(-300.0 / 10_400.0 / 2.0), rel=1e-3)
    assert fall.upper_quartile_mps(0.0, 100.0) is None
    # Mean density between 400 and 300 m over that at the pad, in an atmosphere of 10.4 km scale height.
    assert fall.upper_quartile_mps(0.0, 5000.0) == pytest.approx(20.0 * exp(-325.0 / 10_400.0 / 2.0), rel=2e-3)
    track = list(fall.track)
    for k in range(100, 121):
        track[k] = track[k]._replace(velocity_mps=-28.0)
    assert SeenFall(track).settled_mps(0.0, 6000.0) == pytest.approx(settled_mps, rel=0.01)


def test_what_slows_the_fall_is_seen_but_the_ground_is_no_parachute() -> None:
    t_s = np.arange(0.0, 8.0, 0.05)
    speeds = np.where(t_s < 5.0, 50.0, 50.0 * np.exp(-(t_s - 5.0)))
    heights = 600.0 - np.concatenate(([0.0], np.cumsum(speeds[:-1]) * 0.05))
    fall = seen(heights, speeds, t_s)
    assert not fall.is_slowed_by(0.85, 4900.0)
    # exp(-0.2) is 0.82, exp(-0.1) 0.90
    assert fall.is_slowed_by(0.85, 5201.0)
    assert not fall.is_slowed_by(0.85, 5101.0)
    low = seen(heights - heights[-1], speeds, t_s)
    assert not low.is_slowed_by(0.85, 7900.0)


def test_a_height_is_passed_once_on_the_way_down() -> None:
    fall = steady()
    assert fall.passes_ms(150.0, 0.0) == pytest.approx(12_500.0, abs=51.0)
    assert fall.passes_ms(-50.0, 0.0) is None
    assert fall.clear_of_ground_ms(0.0) == pytest.approx(19_400.0, abs=51.0)
    assert fall.clear_of_ground_ms(19_900.0) == pytest.approx(19_900.0, abs=51.0)
    assert fall.last_mps(10_000.0) == pytest.approx(20.0)
    assert fall.last_mps(19_700.0) is None
