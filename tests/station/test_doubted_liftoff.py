"""A called liftoff is taken back where what followed plainly speaks against it, and in no other case."""

from collections.abc import Callable

import numpy as np
import pytest

from station.doubted_liftoff import DoubtedLiftoff, Heard
from station.flight_state import TakenBack
from station.liftoff import Sample

CALLED_S = 0.5
G = 9.80665


def weighed(
    height_m: Callable[[float], float],
    *,
    force_mps2: Callable[[float], float | None] = lambda _t: None,
    heard: Callable[[float], bool] = lambda _t: True,
    noise_m: float = 0.4,
    period_s: float = 0.05,
    until_s: float = 70.0,
    restart_s: float | None = None,
) -> TakenBack | None:
    """Heights from first motion at 0 s on, of a liftoff called at `CALLED_S`."""
    rng = np.random.default_rng(5)
    samples = []
    for k in range(round(until_s / period_s)):
        t = (k - 2) * period_s
        height = height_m(t) + float(rng.normal(0.0, noise_m))
        if heard(t):
            samples.append(Sample(1000.0 * t, 97_000.0, height, force_mps2(t)))
    doubt = DoubtedLiftoff(0.0, 1000.0 * CALLED_S, [s for s in samples if s.t_ms <= 1000.0 * CALLED_S])
    for sample in samples:
        if sample.t_ms <= 1000.0 * CALLED_S:
            continue
        if restart_s is not None and sample.t_ms > 1000.0 * restart_s:
            doubt.restarted()
        found = doubt.take(Heard(sample.t_ms, sample.pressure_pa, None, None), sample)
        if found is not None:
            return found
    return None


def gust(t: float) -> float:
    """Up to 10 m, and gone two seconds later."""
    return 10.0 * min(1.0, max(0.0, t / 0.5)) if t < 2.0 else 0.0


def hop(top_m: float, *, push_mps2: float = 30.0, lands_m: float = 0.0) -> Callable[[float], float]:
    """Pushed from rest and then thrown, without drag: up to `top_m` and down again."""
    burn_s = (2.0 * top_m / (push_mps2 * (1.0 + push_mps2 / G))) ** 0.5
    speed, burnt_m = push_mps2 * burn_s, 0.5 * push_mps2 * burn_s**2

    def height_m(t: float) -> float:
        if t < burn_s:
            return 0.5 * push_mps2 * max(0.0, t) ** 2
        since = t - burn_s
        return max(lands_m, burnt_m + speed * since - 0.5 * G * since**2)

    return height_m


def test_a_gust_that_goes_is_no_flight_and_it_says_what_was_seen() -> None:
    found = weighed(gust)
    assert found is not None
    assert found.liftoff_t_ms == 0.0
    assert found.called_t_ms == 1000.0 * CALLED_S
    assert 5.0 <= (found.taken_back_t_ms - found.called_t_ms) / 1000.0 < 5.1
    assert found.highest_m == pytest.approx(11.0, abs=1.0)


def test_gusts_that_go_on_about_the_pad_are_no_flight() -> None:
    assert weighed(lambda t: 3.0 * np.sin(2.0 * t)) is not None


@pytest.mark.parametrize("top_m", [20.0, 30.0, 150.0])
@pytest.mark.parametrize("lands_m", [-6.0, 0.0, 6.0])
@pytest.mark.parametrize("push_mps2", [12.0, 30.0, 100.0])
def test_the_lowest_hop_stays_a_flight(top_m: float, lands_m: float, push_mps2: float) -> None:
    assert weighed(hop(top_m, push_mps2=push_mps2, lands_m=lands_m)) is None


@pytest.mark.parametrize("from_s", np.arange(0.0, 5.0, 0.1).tolist())
@pytest.mark.parametrize("gap_s", [0.7, 1.4, 1.6, 3.0, 5.0])
def test_the_lowest_hop_stays_a_flight_wherever_a_gap_lies(from_s: float, gap_s: float) -> None:
    assert weighed(hop(20.0), heard=lambda t: not from_s < t < from_s + gap_s, noise_m=0.3) is None


def test_a_flight_that_nobody_heard_stays() -> None:
    assert weighed(gust, heard=lambda t: t < 1.0 or t > 40.0) is None


def test_short_gaps_do_not_keep_a_gust() -> None:
    assert weighed(gust, heard=lambda t: t % 2.0 > 1.2) is not None


def test_after_a_restart_of_the_altimeter_it_stays() -> None:
    assert weighed(gust, restart_s=3.0) is None


def test_what_does_not_come_back_stays() -> None:
    assert weighed(lambda t: 8.0 if t > 0.3 else 0.0) is None


def test_what_comes_back_late_is_taken_back_then() -> None:
    found = weighed(lambda t: 8.0 if 0.3 < t < 20.0 else 0.0)
    assert found is not None
    assert found.taken_back_t_ms > 20_000.0


def test_what_falls_far_below_the_pad_has_left_it() -> None:
    assert weighed(lambda t: -30.0 if 3.0 < t < 6.0 else 0.0) is None


def test_a_motor_that_was_felt_keeps_it_whatever_the_pressure_says() -> None:
    """The ports taped over: the height stays, the accelerometer knows better."""
    assert (
        weighed(lambda _t: 0.0, force_mps2=lambda t: 40.0 if 0.0 <= t < 1.0 else -G if 1.0 <= t < 6.0 else 0.0) is None
    )
    assert weighed(lambda _t: 0.0, force_mps2=lambda t: 12.0 if 0.0 <= t < 0.6 else 0.0) is not None


def test_it_keeps_what_was_heard_and_not_for_ever() -> None:
    doubt = DoubtedLiftoff(0.0, 500.0, [Sample(0.0, 97_000.0, 0.0, None), Sample(500.0, 97_000.0, 8.0, None)])
    for k in range(1, 50):
        t_ms = 500.0 + 100.0 * k
        doubt.take(Heard(t_ms, 97_000.0, None, None), Sample(t_ms, 97_000.0, 8.0, None))
    assert [heard.t_ms for heard in doubt.heard] == [500.0 + 100.0 * k for k in range(1, 50)]
    for k in range(50, 700):
        t_ms = 500.0 + 100.0 * k
        doubt.take(Heard(t_ms, 97_000.0, None, None), Sample(t_ms, 97_000.0, 8.0, None))
    assert doubt.over
    assert doubt.heard == []
