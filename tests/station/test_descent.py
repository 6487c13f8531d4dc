"""The descent's stretches: where a parachute took hold or let go, how fast it came down, and the ground."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.atmosphere import air_density_kgpm3, isa_pressure_pa, isa_temperature_k
from station.descent import DescentLimits, DescentTracker
from station.estimator import VerticalFilter
from station.stretch import Stretch

G = 9.80665
PERIOD_S = 0.02
BARE_MPS = 70.0
Carry = Callable[[float], float]


@dataclass(frozen=True)
class Fall:
    """A fall from apogee at time 0 and what the tracker made of it."""

    tracker: DescentTracker
    news_s: list[float]
    last_m: float

    @property
    def stretches(self) -> list[Stretch]:
        return self.tracker.all_stretches()

    def held(self) -> list[Stretch]:
        return [s for s in self.stretches if s.opened_ms is not None]


def fallen(
    carry_mps: Carry,
    *,
    from_m: float = 400.0,
    until_s: float = 15.0,
    heard: Callable[[float], bool] = lambda _t: True,
    sigma_v: float = 0.3,
    sigma_a: float = 0.6,
    shake_mps2: Callable[[float], float] = lambda _t: 0.0,
    strays: Callable[[float], tuple[float, float] | None] = lambda _t: None,
) -> Fall:
    """dv/dt = -g + (density) g (v/w)^2, w the speed carried at pad density; solved by DOP853, told as states.

    `strays`: how much too high (m) the state has the rocket at a time, and the standard deviation of its speed then.
    """
    t = np.arange(0.0, until_s, PERIOD_S)

    def density(h: float) -> float:
        return air_density_kgpm3(isa_pressure_pa(h), isa_temperature_k(h)) / 1.225

    def drag(now: float, h: float, v: float) -> float:
        return -G * density(max(h, 0.0)) * abs(v) * v / carry_mps(now) ** 2

    solved = solve_ivp(
        lambda now, y: [y[1], -G + drag(now, y[0], y[1])],
        (0.0, until_s),
        [from_m, 0.0],
        "DOP853",
        t,
        rtol=1e-8,
        atol=1e-8,
        max_step=0.05,
    )
    tracker = DescentTracker(DescentLimits(), 0.0, from_m)
    news = []
    for now, h, v in zip(t, *solved.y, strict=True):
        if heard(float(now)):
            a = -G + drag(float(now), float(h), float(v)) + shake_mps2(float(now))
            too_high_m, speed_sigma = strays(float(now)) or (0.0, sigma_v)
            state = VerticalFilter(
                float(h) + too_high_m,
                float(v),
                a,
                altitude_sigma_m=0.2,
                velocity_sigma_mps=speed_sigma,
                acceleration_sigma_mps2=sigma_a,
            )
            if tracker.take(1000.0 * now, state):
                news.append(float(now))
    return Fall(tracker, news, float(solved.y[0][-1]))


def steps(*changes: tuple[float, float]) -> Carry:
    """Carrying speed from each time on; before the first a bare airframe."""

    def carry(t: float) -> float:
        speed = BARE_MPS
        for at_s, mps in changes:
            if t >= at_s:
                speed = mps
        return speed

    return carry


@pytest.mark.parametrize("rate_mps", [12.0, 18.0, 25.0])
@pytest.mark.parametrize("opened_s", [0.4, 1.0, 2.5])
def test_a_drogue_is_one_stretch_with_its_time_and_rate(rate_mps: float, opened_s: float) -> None:
    found = fallen(steps((opened_s, rate_mps)))
    held = found.held()
    assert len(held) == 1
    assert held[0].opened_ms is not None
    assert held[0].opened_ms / 1000.0 == pytest.approx(opened_s, abs=0.8 if opened_s > 0.5 else 1.0)
    assert held[0].rate_mps == pytest.approx(rate_mps, rel=0.05)
    assert held[0].called_ms / 1000.0 < opened_s + 2.5
    assert len(found.news_s) == 1


@pytest.mark.parametrize("main_mps", [4.0, 5.5, 7.0])
def test_a_main_after_a_drogue_is_a_second_stretch(main_mps: float) -> None:
    found = fallen(steps((0.8, 18.0), (8.0, main_mps)))
    drogue, main = found.held()
    assert main.opened_ms is not None
    assert main.opened_ms / 1000.0 == pytest.approx(8.0, abs=0.3)
    assert main.called_ms / 1000.0 < 9.0
    assert drogue.rate_mps == pytest.approx(18.0, rel=0.04)
    assert main.rate_mps == pytest.approx(main_mps, rel=0.05)
    assert drogue.end_ms == pytest.approx(main.start_ms)
    assert main.opened_altitude_m < drogue.opened_altitude_m
    assert main.speed_at_opening_mps == pytest.approx(18.0, rel=0.15)


def test_a_height_that_comes_back_is_no_fall() -> None:
    """The gas of the main's charge has left the filter 12 m too high: it comes back in a tenth of a second."""

    def strays(t: float) -> tuple[float, float] | None:
        return (min(12.0, max(0.0, 100.0 * (9.6 - t))), 5.0) if 8.3 <= t < 10.4 else None

    found = fallen(steps((0.8, 18.0), (8.0, 5.5)), strays=strays)
    _, main = found.held()
    assert main.opened_ms is not None
    assert main.opened_ms / 1000.0 == pytest.approx(8.0, abs=0.3)
    assert main.rate_mps == pytest.approx(5.5, rel=0.05)
    assert len(found.news_s) == 2


@pytest.mark.parametrize("at_s", [8.0, 8.02, 8.04, 8.06])
def test_an_opening_in_a_calm_fall_is_seen_with_its_first_sample(at_s: float) -> None:
    """Not each sample of a calm fall is looked at: one that brakes is."""
    _, main = fallen(steps((0.8, 18.0), (at_s, 5.5))).held()
    assert main.start_ms / 1000.0 == pytest.approx(at_s, abs=0.021)


def test_a_fall_that_hardly_begins_is_held_all_the_same() -> None:
    """A large parachute straight after the top: it never falls fast enough to be braked."""
    (held,) = fallen(steps((0.45, 4.3))).held()
    assert held.rate_mps == pytest.approx(4.3, rel=0.05)
    assert held.called_ms / 1000.0 < 3.0


def test_a_bare_airframe_is_no_parachute() -> None:
    found = fallen(lambda _t: BARE_MPS, until_s=12.0, from_m=900.0)
    assert found.held() == []
    assert len(found.stretches) == 1
    assert found.news_s == []
    assert found.stretches[0].rate_mps is None


def test_a_main_straight_out_of_a_fast_dive_is_found() -> None:
    found = fallen(steps((6.0, 6.0)), from_m=500.0)
    (main,) = found.held()
    assert main.opened_ms is not None
    assert main.opened_ms / 1000.0 == pytest.approx(6.0, abs=0.4)
    assert main.speed_at_opening_mps > 40.0
    assert main.rate_mps == pytest.approx(6.0, rel=0.08)


def test_a_main_at_apogee_is_one_slow_stretch() -> None:
    (main,) = fallen(steps((0.6, 5.5))).held()
    assert main.rate_mps == pytest.approx(5.5, rel=0.05)


def test_a_tangled_parachute_shows_its_fast_rate() -> None:
    held = fallen(steps((0.8, 30.0)), from_m=600.0).held()
    assert len(held) == 1
    assert held[0].rate_mps == pytest.approx(30.0, rel=0.06)


def test_a_parachute_that_lets_go_ends_its_stretch() -> None:
    found = fallen(steps((0.8, 18.0), (7.0, BARE_MPS)), from_m=700.0, until_s=12.0)
    stretches = found.stretches
    assert stretches[-1].opened_ms is None
    assert 7.0 < stretches[-1].start_ms / 1000.0 < 9.5
    assert found.news_s[-1] < 10.5
    assert stretches[-2].rate_mps == pytest.approx(18.0, rel=0.06)


@pytest.mark.parametrize(
    ("rate_mps", "let_go_s", "then_mps"), [(18.0, 6.0, 50.0), (6.0, 7.0, 22.0), (20.0, 10.0, 55.0)]
)
def test_a_let_go_is_dated_and_leaves_the_rate_as_it_was_before(
    rate_mps: float, let_go_s: float, then_mps: float
) -> None:
    """Soon after the opening the mean rate grows with the fall that follows, which then was no faster than it."""
    found = fallen(steps((1.5, rate_mps), (let_go_s, then_mps)), from_m=900.0, until_s=let_go_s + 8.0)
    held = next(s for s in found.stretches if s.opened_ms is not None)
    assert held.end_ms / 1000.0 == pytest.approx(let_go_s, abs=0.7)
    assert held.rate_mps == pytest.approx(rate_mps, rel=0.12)


@pytest.mark.parametrize("at_s", [3.0, 6.0, 9.0])
def test_a_swing_or_a_gust_under_a_parachute_is_no_second_one(at_s: float) -> None:
    """Half a g for a fifth of a second, and a swing that goes on."""

    def gust(t: float) -> float:
        return 5.0 if at_s <= t < at_s + 0.2 else 0.0

    def swing(t: float) -> float:
        return 1.5 * float(np.sin(2.0 * np.pi * t / 1.4))

    for shake in (gust, swing):
        assert len(fallen(steps((0.8, 18.0)), shake_mps2=shake).held()) == 1


def test_an_opening_too_short_to_hold_is_none() -> None:
    def flapped(t: float) -> float:
        return 18.0 if 2.0 <= t < 2.15 else BARE_MPS

    assert fallen(flapped, from_m=700.0, until_s=8.0).held() == []


def test_an_unsure_filter_sees_no_parachute() -> None:
    """What is not known well counts against one."""
    found = fallen(lambda _t: BARE_MPS, from_m=600.0, until_s=4.0, sigma_v=15.0, sigma_a=20.0)
    assert found.held() == []


def test_rates_are_told_at_pad_density_and_plainly() -> None:
    """At 3 km the same drogue falls 16 % faster (density 0.742 of the pad's): 1/sqrt."""
    (drogue,) = fallen(steps((0.8, 18.0)), from_m=3000.0, until_s=12.0).held()
    assert drogue.rate_mps == pytest.approx(18.0, rel=0.02)
    assert drogue.mean_rate_mps == pytest.approx(18.0 / 0.742**0.5, rel=0.04)


def test_an_opening_hidden_by_a_gap_says_so() -> None:
    found = fallen(steps((0.8, 18.0), (8.0, 5.5)), heard=lambda t: not 7.0 < t < 10.0)
    main = found.held()[-1]
    assert main.opened_ms is not None
    assert 6.9 < main.opened_ms / 1000.0 < 10.1
    assert abs(main.opened_ms / 1000.0 - 8.0) < 2.5 * main.opened_sigma_s
    assert main.opened_sigma_s > 0.5
    assert main.rate_mps == pytest.approx(5.5, rel=0.05)


def test_an_opening_hidden_by_the_first_of_two_silences_may_lie_in_either() -> None:
    """Between them too little was heard, and that not surely, to say that it held already."""
    heard = fallen(
        steps((2.5, 18.0)),
        from_m=600.0,
        heard=lambda t: t < 2.0 or 8.0 <= t < 8.1 or t >= 10.0,
        strays=lambda t: (0.0, 15.0) if 8.0 <= t < 8.1 else None,
    )
    drogue = heard.held()[-1]
    assert drogue.opened_ms is not None
    assert abs(drogue.opened_ms / 1000.0 - 2.5) < 2.0 * drogue.opened_sigma_s
    assert drogue.opened_sigma_s > 2.0


def test_a_fall_that_stays_a_third_slower_is_carried_by_more() -> None:
    """A tangled main beside its drogue: 18 to 12 m/s is no clean opening, but the rates are two."""
    drogue, main = fallen(steps((0.8, 18.0), (8.0, 12.0))).held()
    assert main.opened_ms is not None
    assert main.opened_ms / 1000.0 == pytest.approx(8.0, abs=0.4)
    assert main.rate_mps == pytest.approx(12.0, rel=0.03)
    assert drogue.rate_mps == pytest.approx(18.0, rel=0.03)


def test_an_opening_seen_soon_after_a_gap_is_not_in_it() -> None:
    """Two seconds of silence, half a second of the old fall, then the main: the moment is when it was seen."""
    found = fallen(steps((0.8, 18.0), (8.0, 5.5)), heard=lambda t: not 5.5 <= t < 7.5)
    main = found.held()[-1]
    assert main.opened_ms is not None
    assert main.opened_ms / 1000.0 == pytest.approx(8.0, abs=0.3)
    assert main.opened_sigma_s < 0.3


def test_a_gap_under_one_parachute_makes_no_second_one() -> None:
    found = fallen(steps((0.8, 18.0)), heard=lambda t: not 5.0 < t < 9.0)
    assert len(found.held()) == 1


def test_a_rate_is_not_told_before_it_was_observed() -> None:
    assert fallen(steps((0.8, 18.0)), until_s=0.9).stretches[-1].rate_mps is None


def _with_a_step_of_noise(*, charge_ms: float | None) -> DescentTracker:
    """A drogue's fall at 18 m/s whose filter takes noise for a step at 10 s; the heights go on as before."""
    fall = fallen(steps((0.8, 18.0)), until_s=10.0)
    tracker = fall.tracker
    if charge_ms is not None:
        tracker.charge_ms = charge_ms
    for n in range(1, 16):
        late_s = n * PERIOD_S
        sigma_v = 3.0 if n < 4 else 1.0
        state = VerticalFilter(
            fall.last_m - 18.0 * late_s, -9.0, 12.0, altitude_sigma_m=0.25, velocity_sigma_mps=sigma_v,
            acceleration_sigma_mps2=1.0,
        )  # fmt: skip
        tracker.take(1000.0 * (10.0 + late_s), state)
    return tracker


def test_a_step_of_the_filter_that_the_heights_do_not_bear_out_is_no_parachute() -> None:
    assert len([s for s in _with_a_step_of_noise(charge_ms=None).all_stretches() if s.opened_ms is not None]) == 1
    # The same states where a charge has just fired are believed: an opening is what is waited for.
    assert len([s for s in _with_a_step_of_noise(charge_ms=9900.0).all_stretches() if s.opened_ms is not None]) == 2
