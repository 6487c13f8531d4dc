from dataclasses import replace

import numpy as np
import pytest

from station.virtual.air import Day
from station.virtual.flight_path import Motion
from station.virtual.sensors import (
    Accelerometer,
    Barometer,
    Charge,
    PressureSensor,
    Thermometer,
    first_order_lag,
    read_axial,
    read_temperature,
    shock_error_pa,
)

DAY = Day(pad_pressure_pa=95_000.0, pad_temperature_c=20.0)
QUIET = Barometer(noise_pa=0.0, lag_s=0.0, resolution_pa=0.01)
PERIOD_S = 0.02


def motion(
    seconds: float = 4.0,
    *,
    altitude_m: float = 0.0,
    speed_mps: float = 0.0,
    axial_mps2: float = 9.80665,
) -> Motion:
    t = np.arange(round(seconds / PERIOD_S)) * PERIOD_S
    flat = np.ones_like(t)
    return Motion(t, 0 * t, altitude_m * flat, 0 * t, speed_mps * flat, 0 * t, axial_mps2 * flat, 0 * t)


def pressure(barometer: Barometer, moved: Motion, *charges: Charge, seed: int = 1) -> np.ndarray:
    return PressureSensor(barometer, DAY, PERIOD_S, seed).read(moved, charges)


def axial(sensor: Accelerometer, moved: Motion, *, apart: float | None = None, down: float | None = None) -> np.ndarray:
    return read_axial(sensor, moved, apart, down, 15.0, [], None, 3)


def test_a_perfect_barometer_reads_the_day_s_static_pressure() -> None:
    # p = p_pad (1 - L h/T_pad)^(g/RL), worked by hand for 500 m over a pad at 950 hPa and 20 degC.
    by_hand = 95_000.0 * (1.0 - 0.0065 * 500.0 / 293.15) ** 5.2558798
    assert pressure(QUIET, motion(altitude_m=500.0)) == pytest.approx(by_hand, abs=0.006)


def test_noise_has_the_asked_size_and_no_memory() -> None:
    noise = pressure(Barometer(noise_pa=6.0, lag_s=0.0, resolution_pa=0.01), motion(400.0)) - 95_000.0
    assert noise.std() == pytest.approx(6.0, rel=0.03)
    assert abs(np.corrcoef(noise[1:], noise[:-1])[0, 1]) < 0.03


def test_the_noise_of_a_sample_is_the_same_however_far_the_flight_has_been_flown() -> None:
    sensor = PressureSensor(Barometer(), DAY, PERIOD_S, 5)
    short = sensor.read(motion(2.0), [])
    long = sensor.read(motion(9.0), [])
    assert long[: len(short)].tolist() == short.tolist()


def test_readings_come_in_steps_of_the_resolution() -> None:
    readings = pressure(Barometer(resolution_pa=2.0), motion())
    assert (readings % 2.0 == 0.0).all()
    assert len(set(readings.tolist())) > 3


def test_the_port_s_lag_answers_a_step_with_an_exponential() -> None:
    # The input is joined by straight lines, so the step takes one sample to rise.
    step = np.concatenate([np.zeros(5), np.full(200, 100.0)])
    answer = first_order_lag(step, 0.001, 0.05)
    assert answer[5 + 50] == pytest.approx(100.0 * (1.0 - np.exp(-1.0)), abs=0.5)


def test_the_port_s_lag_follows_a_ramp_its_own_time_behind() -> None:
    ramp = np.arange(500) * 0.02 * 1200.0
    lagged = first_order_lag(ramp, 0.02, 0.05)
    assert (ramp - lagged)[-1] == pytest.approx(1200.0 * 0.05, rel=1e-6)


@pytest.mark.parametrize("mach", [0.0, 0.5, 0.79, 1.26, 2.0])
def test_away_from_the_speed_of_sound_no_shock_is_felt(mach: float) -> None:
    assert shock_error_pa(Barometer(), np.array([mach]), np.array([80_000.0]))[0] == pytest.approx(0.0, abs=1e-9)


def test_the_pressure_drops_on_going_through_the_speed_of_sound_and_again_on_coming_back() -> None:
    mach = np.concatenate([np.linspace(0.7, 1.4, 701), np.linspace(1.4, 0.7, 701)])
    error = shock_error_pa(Barometer(shock_coefficient=0.05), mach, np.full_like(mach, 90_000.0))
    lowest_up, lowest_down = error[:701].min(), error[701:].min()
    # dp/p = 0.7 M^2 Cp: 3.5 % at Mach 1 for a pressure coefficient of 0.05.
    assert lowest_up == pytest.approx(-0.035 * 90_000.0, rel=0.06)
    assert lowest_down == lowest_up
    assert error[650:750].tolist() == pytest.approx([0.0] * 100)


def test_the_shock_reaches_the_pressure_reading() -> None:
    fast = pressure(QUIET, motion(altitude_m=500.0, speed_mps=335.0))
    slow = pressure(QUIET, motion(altitude_m=500.0, speed_mps=200.0))
    assert (slow - fast).min() > 1000.0


def test_a_charge_puts_a_spike_on_the_pressure_that_dies_away() -> None:
    readings = pressure(QUIET, motion(), Charge(1.0, 500.0, 0.15)) - 95_000.0
    assert readings[:50].tolist() == pytest.approx([0.0] * 50, abs=0.01)
    assert readings[50] == pytest.approx(500.0, abs=0.02)
    assert readings[50 + 15] == pytest.approx(500.0 * np.exp(-0.3 / 0.15), abs=0.02)
    assert readings[-1] == pytest.approx(0.0, abs=0.01)


def test_at_rest_on_the_pad_the_accelerometer_says_one_g() -> None:
    assert axial(Accelerometer(), motion(60.0)).mean() == pytest.approx(9.80665, abs=0.05)


def test_scale_and_bias_are_put_on_the_true_force() -> None:
    sensor = Accelerometer(scale=1.02, bias_mps2=0.7, noise_mps2=0.0, step_mps2=0.01)
    assert axial(sensor, motion(axial_mps2=100.0)) == pytest.approx(102.7, abs=0.006)


def test_the_accelerometer_saturates_at_its_range_and_moves_in_steps() -> None:
    sensor = Accelerometer(range_mps2=156.9, noise_mps2=0.0, step_mps2=0.48)
    assert axial(sensor, motion(axial_mps2=300.0)).max() == pytest.approx(156.9, abs=0.25)
    assert len(set(axial(Accelerometer(), motion()).tolist())) < 12


def test_once_apart_the_accelerometer_tells_nothing_of_the_descent() -> None:
    readings = axial(Accelerometer(), motion(60.0), apart=10.0)
    before, after = readings[:490], readings[510:]
    assert before.std() < 0.6
    assert after.std() > 1.5
    assert after.min() < 7.0


def test_the_touchdown_is_a_thud_and_then_it_lies_still() -> None:
    readings = axial(Accelerometer(), motion(20.0), apart=1.0, down=10.0)
    assert np.abs(readings[500:504]).max() > 40.0
    assert readings[510:].std() < 0.6
    assert abs(readings[510:].mean()) < 6.0


def test_the_thermometer_follows_the_air_slowly_and_feels_the_warm_bay() -> None:
    sensor = Thermometer(offset_k=1.0, bay_warmth_k=4.0, lag_s=30.0, noise_k=0.0)
    climbing = motion(60.0)
    climbing = Motion(climbing.t_s, *(7 * [climbing.t_s * 50.0]))
    readings = read_temperature(sensor, DAY, climbing, None, PERIOD_S, 1)
    assert readings[0] == pytest.approx(25.0)
    # A ramp of 50 m/s x 6.5 K/km through a lag of 30 s, after two time constants: most of the lag is there.
    outside = 20.0 - 0.0065 * 50.0 * 60.0
    assert readings[-1] - 5.0 - outside == pytest.approx(0.0065 * 50.0 * 30.0 * (1.0 - np.exp(-2.0)), abs=0.05)


def test_a_slow_sensor_tells_each_reading_again() -> None:
    told = pressure(replace(QUIET, noise_pa=5.0, lines_per_reading=4), motion())
    assert all(len(set(told[k : k + 4])) == 1 for k in range(0, len(told), 4))
    assert len(set(told)) > 0.9 * len(told) / 4


def test_some_readings_of_a_loose_sensor_are_plainly_wrong_and_stay_so_when_asked_again() -> None:
    loose = replace(QUIET, stray_share=0.02, stray_pa=3000.0)
    sensor = PressureSensor(loose, DAY, PERIOD_S, 1)
    short, long = sensor.read(motion(20.0), []), sensor.read(motion(100.0), [])
    assert (long[: len(short)] == short).all()
    off = np.abs(long - 95_000.0)
    assert 0.01 < (off > 1.0).mean() < 0.03
    assert 2000.0 < off.max() <= 3000.0


def test_a_stuck_accelerometer_says_one_thing_in_the_boost_too() -> None:
    said = axial(Accelerometer(sticks_t_s=1.0), motion(axial_mps2=80.0))
    assert len(set(said[50:].tolist())) == 1
    assert len(set(said[:50].tolist())) > 3
    assert set(axial(Accelerometer(noise_mps2=0.0, sticks_t_s=0.0), motion(axial_mps2=80.0)).tolist()) == {80.16}
