"""The motor's first push, its burnout and the top speed, of climbs that are known in closed form, between readings."""

import numpy as np
import pytest

from station.force_fit import ForceClimb, fit_force_climb
from station.thrust_span import first_motion, thrust_end, top_speed_mps

G = 9.80665
PUSH_MPS2 = 100.0
NOISE_M = 0.3


def seen_climb(
    period_s: float, phase_s: float, burn_s: float, seed: int, *, gap: tuple[float, float] = (9.0, 9.0)
) -> ForceClimb:
    """At rest, `burn_s` at one acceleration, then free fall upwards; nothing is heard in the gap."""
    t = np.arange(-0.5 + phase_s, 7.0, period_s)
    t = t[(t <= gap[0]) | (t >= gap[1])]
    push, coast = (t >= 0.0) & (t < burn_s), t >= burn_s
    top = PUSH_MPS2 * burn_s
    since = np.maximum(0.0, t - burn_s)
    force = np.where(push, PUSH_MPS2, np.where(coast, -G, 0.0))
    burning, coasting = 0.5 * PUSH_MPS2 * t * t, 0.5 * top * burn_s + top * since - 0.5 * G * since**2
    height = np.where(push, burning, np.where(coast, coasting, 0.0))
    chance = np.random.default_rng(seed)
    height = height + chance.normal(0.0, NOISE_M, len(t))
    force = force + chance.normal(0.0, 0.3, len(t))
    return fit_force_climb(t, force, height, np.full_like(t, NOISE_M))


def climbs(period_s: float, burn_s: float) -> list[ForceClimb]:
    phases = np.linspace(0.0, period_s, 7, endpoint=False)
    return [seen_climb(period_s, float(phase), burn_s, seed) for seed, phase in enumerate(phases)]


@pytest.mark.parametrize(("period_s", "burn_s"), [(0.1, 0.53), (0.1, 1.4), (0.05, 0.8), (0.02, 0.8)])
def test_top_speed_is_found_between_readings(period_s: float, burn_s: float) -> None:
    """At ten readings a second the highest speed at a reading is up to a metre a second lower."""
    off = [top_speed_mps(fit, burn_s) / (PUSH_MPS2 * burn_s) - 1.0 for fit in climbs(period_s, burn_s)]
    assert max(np.abs(off)) < 0.013


@pytest.mark.parametrize(("period_s", "burn_s"), [(0.1, 0.53), (0.1, 1.4), (0.05, 0.8), (0.02, 0.8)])
def test_burnout_is_dated_better_than_by_the_gap_it_lies_in(period_s: float, burn_s: float) -> None:
    """The middle of the gap would be off by 0.29 of it, root mean square."""
    found = [thrust_end(fit, burn_s, burn_s) for fit in climbs(period_s, burn_s)]
    off = np.array([moment.t_s - burn_s for moment in found if moment is not None])
    assert len(off) == 7
    # A burn that ends at once ends in the middle of the short tail that is thought usual.
    assert float(np.sqrt(np.mean(off**2))) < 0.15 * period_s + 0.5 * 0.06 * burn_s
    assert all(abs(o) < 2.5 * m.sigma_s + 0.03 * burn_s for o, m in zip(off, found, strict=True) if m is not None)


def test_first_motion_is_dated_better_than_by_the_gap_it_lies_in() -> None:
    found = [first_motion(fit, 1.0) for fit in climbs(0.1, 1.0)]
    off = np.array([moment.t_s for moment in found if moment is not None])
    assert len(off) == 7
    # A thrust that is there at once is thought to have come up within the usual while before.
    assert float(np.std(off)) < 0.018
    assert abs(float(np.mean(off))) < 0.025


def test_a_silence_over_burnout_is_looked_into() -> None:
    """Half a second unheard, the end anywhere in it: the middle would be off by up to a quarter of a second."""
    for burn_s in (1.05, 1.2, 1.4):
        fit = seen_climb(0.02, 0.0, burn_s, 5, gap=(1.0, 1.5))
        moment = thrust_end(fit, 1.25, burn_s)
        assert moment is not None
        assert moment.t_s == pytest.approx(burn_s, abs=0.06)
        assert abs(moment.t_s - burn_s) < 2.0 * moment.sigma_s
        assert top_speed_mps(fit, burn_s) == pytest.approx(PUSH_MPS2 * burn_s, rel=0.015)


def test_a_climb_that_was_already_pushed_has_no_first_motion() -> None:
    t = np.arange(0.0, 3.0, 0.05)
    force = np.where(t < 1.0, PUSH_MPS2, -G)
    fit = fit_force_climb(t, force, np.zeros_like(t), np.full_like(t, np.inf))
    assert first_motion(fit, 1.0) is None
