import numpy as np
import pytest

from station.virtual.flight_setup import Mischief
from station.virtual.pad_mischief import disturb
from station.virtual.sensors import Disturbance

PASCAL_PER_M = 101325.0 * 9.80665 / (287.05287 * 288.15)  # rho g at sea level


def on_pad(mischief: Mischief, wait_s: float, period_s: float = 0.05, seed: int = 1) -> tuple[np.ndarray, Disturbance]:
    """The wait and 20 s after it."""
    t = np.arange(0.0, wait_s + 20.0, period_s)
    return t, disturb(mischief, t, wait_s, seed)


@pytest.mark.parametrize("seed", range(6))
def test_a_lifted_rocket_goes_up_as_far_as_a_person_reaches_or_carries_it(seed: int) -> None:
    _, lifted = on_pad(Mischief.LIFTED, 200.0, seed=seed)
    heights = -lifted.pressure_pa / PASCAL_PER_M
    assert 1.0 < heights.max() < 9.0
    assert heights.min() > -0.1


def test_a_lifted_rocket_is_tipped_over_and_felt_in_the_axial_force() -> None:
    _, lifted = on_pad(Mischief.LIFTED, 300.0)
    assert lifted.axial_mps2.min() < -6.0
    assert lifted.axial_mps2.max() > 2.0


def test_a_lifted_rocket_is_back_on_the_pad_before_it_flies() -> None:
    t, lifted = on_pad(Mischief.LIFTED, 120.0)
    late = t > 120.0
    assert np.abs(lifted.pressure_pa[late]).max() < 1.0
    assert not lifted.axial_mps2[late].any()


def test_a_car_door_makes_short_pulses_both_ways() -> None:
    t, slammed = on_pad(Mischief.CAR_DOOR, 200.0, period_s=0.01)
    assert slammed.pressure_pa.max() > 100.0
    assert slammed.pressure_pa.min() < -60.0
    assert np.mean(np.abs(slammed.pressure_pa) > 20.0) < 0.15
    assert np.abs(slammed.axial_mps2).max() > 3.0
    assert t[np.abs(slammed.pressure_pa) > 20.0][0] > 1.0


def test_gusts_move_the_pressure_and_shake_the_rail() -> None:
    _, gusty = on_pad(Mischief.GUSTS, 600.0)
    assert 60.0 < np.abs(gusty.pressure_pa).max() < 500.0
    assert 1.0 < np.abs(gusty.axial_mps2).max() < 15.0


def test_a_front_takes_hours_and_its_pressure_stays_when_the_rocket_leaves() -> None:
    t, front = on_pad(Mischief.FRONT, 8 * 3600.0, period_s=1.0)
    # The fastest hour and the fastest minute: fronts bring some hPa an hour, jumps within minutes.
    assert 300.0 < np.ptp(front.pressure_pa) < 1000.0
    assert np.abs(front.pressure_pa[60:] - front.pressure_pa[:-60]).max() < 160.0
    left = t > 8 * 3600.0
    assert front.pressure_pa[left] == pytest.approx(front.pressure_pa[~left][-1], abs=0.1)
    assert not front.axial_mps2.any()


def test_the_sun_warms_the_bay_and_it_cools_slowly_in_flight() -> None:
    t, sunny = on_pad(Mischief.SUN, 1800.0, period_s=0.5)
    assert 18.0 < sunny.warmth_k.max() < 36.0
    assert sunny.warmth_k[0] == pytest.approx(0.0, abs=0.1)
    assert sunny.warmth_k[-1] > 0.7 * sunny.warmth_k[t <= 1800.0][-1]


def test_the_same_seed_makes_the_same_mischief_and_another_seed_another() -> None:
    _, one = on_pad(Mischief.CAR_DOOR, 60.0, seed=3)
    _, same = on_pad(Mischief.CAR_DOOR, 60.0, seed=3)
    _, other = on_pad(Mischief.CAR_DOOR, 60.0, seed=4)
    assert one.pressure_pa.tolist() == same.pressure_pa.tolist()
    assert one.pressure_pa.tolist() != other.pressure_pa.tolist()
