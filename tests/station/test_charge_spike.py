"""Gas told from motion: the four-state filter against matrices, the bank against falls that are known."""

from math import exp

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from scipy.integrate import solve_ivp

from station.charge_spike import SPIKE_SIGMA_M, STRAYS_FRACTION, ChargeSpike, SpikedFilter, opening_jerk_density
from station.estimator import VerticalFilter
from station.flight_state import Phase
from station.vertical_motion import predict_along_drag

G = 9.80665
PERIOD_S = 0.02
NOISE_M = 0.4


def test_the_filter_with_a_spike_is_the_textbook_filter_of_four_states() -> None:
    """Against filterpy's own predict and update with the matrices written out."""
    motion = VerticalFilter(100.0, -20.0, 1.0, altitude_sigma_m=0.5, velocity_sigma_mps=1.0)
    ours = SpikedFilter(motion, 0.2, 1.0)
    theirs = KalmanFilter(dim_x=4, dim_z=1)
    theirs.x = np.array([[100.0], [-20.0], [1.0], [0.0]])
    theirs.P = np.diag([0.25, 1.0, 1.0, SPIKE_SIGMA_M**2])
    theirs.H = np.array([[1.0, 0.0, 0.0, 1.0]])
    theirs.R *= NOISE_M**2
    chance = np.random.default_rng(1)
    for k, dt in enumerate(chance.uniform(0.01, 0.2, 40)):
        left = exp(-dt / 0.2)
        theirs.F = np.array([[1, dt, dt * dt / 2, 0], [0, 1, dt, 0], [0, 0, 1, 0], [0, 0, 0, left]])
        jerk = 30.0 * np.array(
            [[dt**5 / 20, dt**4 / 8, dt**3 / 6], [dt**4 / 8, dt**3 / 3, dt**2 / 2], [dt**3 / 6, dt**2 / 2, dt]]
        )
        strays = (STRAYS_FRACTION * float(theirs.x[3, 0])) ** 2 * (1.0 - left * left)
        theirs.Q = np.block([[jerk, np.zeros((3, 1))], [np.zeros((1, 3)), np.array([[strays]])]])
        theirs.predict()
        ours.predict(dt, 30.0)
        reading = 100.0 - 20.0 * 0.1 * k + chance.normal(0.0, 1.0)
        theirs.update(reading)
        ours.update_altitude(reading, NOISE_M**2)
        state = [ours.h, ours.v, ours.a, ours.spike_m]
        assert state == pytest.approx(theirs.x[:, 0].tolist(), rel=1e-7, abs=1e-7)
        spread = [ours.phh, ours.pvv, ours.paa, ours.pss, ours.psh, ours.psv, ours.psa]
        p = theirs.P
        wanted = [p[0, 0], p[1, 1], p[2, 2], p[3, 3], p[0, 3], p[1, 3], p[2, 3]]
        assert spread == pytest.approx(wanted, rel=1e-5, abs=1e-7)


def moved(member: VerticalFilter, opening: float) -> None:
    """A member of the bank from one reading to the next."""
    predict_along_drag(member, PERIOD_S, Phase.DESCENT, 3.0 + opening)


def fall(opens_s: float | None, drogue_mps: float = 20.0, main_mps: float = 6.0) -> tuple[np.ndarray, np.ndarray]:
    """Heights and velocities over 3 s from 300 m, by DOP853; the main is there at once, `opens_s` after the charge."""
    t = np.arange(0.0, 3.0, PERIOD_S)

    def change(now: float, y: np.ndarray) -> list[float]:
        carry = main_mps if opens_s is not None and now >= opens_s else drogue_mps
        return [y[1], -G - G * abs(y[1]) * y[1] / carry**2]

    solved = solve_ivp(change, (0.0, 3.0), [300.0, -drogue_mps], "DOP853", t, rtol=1e-9, atol=1e-9, max_step=0.02)
    return solved.y[0], solved.y[1]


def speed_errors(
    seed: int, opens_s: float | None, spike_m: float, decay_s: float, *, until_s: float = 2.0, fall_mps: float = 20.0
) -> tuple[list[float], ChargeSpike]:
    """A charge at 0 s: the bank's speed less the true one after each reading, and the bank."""
    heights, speeds = fall(opens_s, fall_mps)
    chance = np.random.default_rng(seed)
    start = VerticalFilter(
        300.0, -fall_mps, 0.0, altitude_sigma_m=0.2, velocity_sigma_mps=0.5, acceleration_sigma_mps2=1.0
    )
    bank: ChargeSpike | None = None
    errors = []
    for k in range(round(until_s / PERIOD_S)):
        t = k * PERIOD_S
        reading = heights[k] + spike_m * exp(-t / decay_s) + chance.normal(0.0, NOISE_M)
        if bank is None:
            bank = ChargeSpike(0.0, start, reading, NOISE_M**2)
        else:
            bank.take(1000.0 * t, reading, NOISE_M**2, moved)
        errors.append(bank.motion().v - speeds[k])
    assert bank is not None
    return errors, bank


@pytest.mark.parametrize("spike_m", [-65.0, -25.0, 65.0])
@pytest.mark.parametrize("decay_s", [0.08, 0.12, 0.18, 0.28])
def test_a_charge_that_throws_nothing_out_leaves_the_fall_as_it_was(spike_m: float, decay_s: float) -> None:
    """Decay times between those of the bank, too: never does the fall look held (12 m/s), nor twice as fast."""
    for seed in range(4):
        errors, bank = speed_errors(seed, None, spike_m, decay_s)
        assert max(abs(e) for e in errors) < 8.0
        assert abs(errors[-1]) < 3.0
        assert bank.size_m() < 2.0


@pytest.mark.parametrize("spike_m", [-65.0, -25.0, 65.0])
@pytest.mark.parametrize("decay_s", [0.08, 0.12, 0.18, 0.28])
@pytest.mark.parametrize("opens_s", [0.3, 0.6])
def test_an_opening_under_the_gas_is_seen_within_a_second(opens_s: float, spike_m: float, decay_s: float) -> None:
    """From 20 to 6 m/s while the reading is tens of metres off: half of the slowing down is known soon after."""
    for seed in range(4):
        errors, _ = speed_errors(seed, opens_s, spike_m, decay_s)
        soon = round((opens_s + 1.0) / PERIOD_S)
        assert max(abs(e) for e in errors[soon:]) < 4.5


@pytest.mark.parametrize("spike_m", [-65.0, -25.0, 65.0])
@pytest.mark.parametrize("decay_s", [0.08, 0.18])
@pytest.mark.parametrize("fall_mps", [90.0, 180.0])
def test_an_opening_out_of_a_dive_is_seen_in_a_third_of_a_second(
    fall_mps: float, spike_m: float, decay_s: float
) -> None:
    """The main brakes the dive to its own 6 m/s within a tenth of a second, while the gas still presses."""
    for seed in range(2):
        errors, _ = speed_errors(seed, 0.4, spike_m, decay_s, until_s=1.5, fall_mps=fall_mps)
        assert max(abs(e) for e in errors[round(0.73 / PERIOD_S) :]) < 20.0
        assert max(abs(e) for e in errors[round(1.1 / PERIOD_S) :]) < 5.0


@pytest.mark.parametrize("spike_m", [-65.0, -25.0, 65.0])
@pytest.mark.parametrize("decay_s", [0.08, 0.18, 0.28])
def test_a_dive_that_goes_on_is_not_taken_for_an_opening(spike_m: float, decay_s: float) -> None:
    for seed in range(2):
        errors, _ = speed_errors(seed, None, spike_m, decay_s, until_s=1.5, fall_mps=150.0)
        assert max(errors) < 50.0  # never slower than 100 m/s
        assert abs(errors[-1]) < 3.0


def test_readings_that_stay_off_are_believed_after_all() -> None:
    """It was no gas but a filter 30 m too high: the bank gives in and ends."""
    heights, _ = fall(None)
    motion = VerticalFilter(330.0, -20.0, 0.0, altitude_sigma_m=0.2, velocity_sigma_mps=0.5)
    bank = ChargeSpike(0.0, motion, float(heights[0]), NOISE_M**2)
    k = 0
    while not bank.is_over(1000.0 * PERIOD_S * k, NOISE_M**2):
        k += 1
        bank.take(1000.0 * PERIOD_S * k, float(heights[k]), NOISE_M**2, moved)
    assert PERIOD_S * k < 1.0
    assert abs(bank.motion().h - heights[k]) < 1.0


def test_an_opening_is_thought_of_as_violent_only_at_speed() -> None:
    assert opening_jerk_density(-20.0) == pytest.approx(3000.0)
    assert opening_jerk_density(-5.0) < 15.0
    assert opening_jerk_density(-200.0) == opening_jerk_density(-100.0)
