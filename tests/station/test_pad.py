"""What the wait on the pad teaches: ground pressure, noise, temperature, the sensor at rest."""

from collections.abc import Callable

import numpy as np
import pytest

from station.atmosphere import isa_altitude_m, isa_to_true_ratio
from station.pad import ASSUMED_BLOCKS, ASSUMED_SURGE_M, ASSUMED_SWELL_M, PadReference

GROUND_PA = 97_000.0


def waited(
    seconds: float,
    *,
    noise_pa: float = 3.0,
    period_s: float = 0.02,
    disturbance_pa: Callable[[float], float] = lambda _t: 0.0,
    temperature_c: Callable[[float], float | None] = lambda _t: 20.0,
    axial_mps2: Callable[[float], float | None] = lambda _t: None,
    pad: PadReference | None = None,
    start_s: float = 0.0,
    seed: int = 1,
) -> PadReference:
    pad = pad or PadReference()
    rng = np.random.default_rng(seed)
    for k in range(round(seconds / period_s)):
        t = start_s + k * period_s
        pressure = GROUND_PA + disturbance_pa(t) + float(rng.normal(0.0, noise_pa))
        pad.take(1000.0 * t, pressure, temperature_c(t), axial_mps2(t))
    return pad


def known(pad: PadReference) -> float:
    assert pad.pressure_pa is not None
    return pad.pressure_pa


@pytest.mark.parametrize("period_s", [0.01, 0.02, 0.05, 0.1, 0.2])
def test_ground_pressure_is_learned_within_seconds_at_any_rate(period_s: float) -> None:
    pad = waited(12.0, period_s=period_s)
    assert known(pad) == pytest.approx(GROUND_PA, abs=4.0 * 3.0 / (12.0 / period_s) ** 0.5 + 0.3)


def test_nothing_is_known_before_half_a_second_of_readings() -> None:
    assert waited(0.3).pressure_pa is None
    assert waited(1.2).pressure_pa is not None


@pytest.mark.parametrize("noise_pa", [2.0, 4.0, 9.0])
@pytest.mark.parametrize("period_s", [0.02, 0.1])
def test_the_sensors_noise_is_learned(noise_pa: float, period_s: float) -> None:
    assert waited(40.0, noise_pa=noise_pa, period_s=period_s).noise_pa == pytest.approx(noise_pa, rel=0.15)


def test_gusts_and_knocks_do_not_pass_for_noise() -> None:
    def knocks(t: float) -> float:
        return 60.0 if t % 4.0 < 0.04 else 0.0

    assert waited(40.0, disturbance_pa=knocks).noise_pa == pytest.approx(3.0, rel=0.2)


def test_a_noise_that_cannot_be_is_kept_within_bounds() -> None:
    assert waited(20.0, noise_pa=0.01).noise_pa > 0.3
    assert waited(20.0, noise_pa=200.0).noise_pa < 50.0


def test_a_pressure_front_is_followed_for_eight_hours() -> None:
    """A fall of 12 hPa in 8 h, which is a strong cold front coming; sampled slowly to save time."""
    pad = waited(8 * 3600.0, period_s=0.2, disturbance_pa=lambda t: -1200.0 * t / (8 * 3600.0))
    assert known(pad) == pytest.approx(GROUND_PA - 1200.0, abs=2.5)
    assert pad.noise_pa == pytest.approx(3.0, rel=0.15)
    assert pad.altitude_m(GROUND_PA - 1200.0) == pytest.approx(0.0, abs=0.25)


@pytest.mark.parametrize(
    ("name", "push"),
    [
        ("gust", lambda t: 40.0 if 20.0 <= t < 22.5 else 0.0),
        ("suction", lambda t: -40.0 if 20.0 <= t < 22.5 else 0.0),
        ("door", lambda t: 300.0 * np.exp(-(t - 22.0) / 0.2) if t >= 22.0 else 0.0),
    ],
)
def test_a_passing_disturbance_leaves_the_reference_alone(name: str, push: Callable[[float], float]) -> None:
    for end_s in (21.0, 22.6, 24.0):
        assert known(waited(end_s, disturbance_pa=push)) == pytest.approx(GROUND_PA, abs=2.0), name


def test_the_reference_does_not_leave_with_the_rocket() -> None:
    """60 m/s^2 from 15 s on: a second later it is 30 m up, and the ground is still where it was."""

    def climb(t: float) -> float:
        return -11.5 * 30.0 * (t - 15.0) ** 2 if t > 15.0 else 0.0

    for end_s in (15.5, 16.0):
        assert known(waited(end_s, disturbance_pa=climb)) == pytest.approx(GROUND_PA, abs=1.5)


def test_settling_takes_back_what_came_after_liftoff() -> None:
    def slow_climb(t: float) -> float:
        return -60.0 * (t - 15.0) if t > 15.0 else 0.0

    pad = waited(20.0, disturbance_pa=slow_climb)
    pad.settle(15_000.0)
    assert known(pad) == pytest.approx(GROUND_PA, abs=1.0)


def test_a_column_that_moves_is_no_pad() -> None:
    """The station was started in mid-flight: falling at 20 m/s the pressure grows by 218 Pa/s."""
    pad = waited(20.0, disturbance_pa=lambda t: 218.0 * t)
    assert pad.pressure_pa is None
    landed = waited(15.0, disturbance_pa=lambda _t: 4360.0, pad=pad, start_s=20.0)
    assert known(landed) == pytest.approx(GROUND_PA + 4360.0, abs=2.0)


def test_a_long_gap_costs_only_what_was_begun_before_it() -> None:
    pad = waited(10.0)
    waited(3.0, pad=pad, start_s=500.0, seed=2)
    assert known(pad) == pytest.approx(GROUND_PA, abs=1.0)
    assert pad.noise_pa == pytest.approx(3.0, rel=0.2)


def test_single_readings_far_apart_make_no_reference() -> None:
    pad = PadReference()
    for k in range(20):
        pad.take(10_000.0 * k, GROUND_PA, 20.0, None)
    assert pad.pressure_pa is None


def test_heights_are_standard_heights_scaled_by_the_days_temperature() -> None:
    pad = waited(10.0, noise_pa=0.0, temperature_c=lambda _t: 31.0)
    ratio = isa_to_true_ratio(GROUND_PA, 31.0)
    assert pad.ratio == pytest.approx(ratio, rel=1e-9)
    assert pad.air_temperature_c == pytest.approx(31.0)
    expected = (isa_altitude_m(88_000.0) - isa_altitude_m(GROUND_PA)) * ratio
    assert pad.altitude_m(88_000.0) == pytest.approx(expected, rel=1e-9)


def test_a_given_temperature_wins_over_the_sensors() -> None:
    pad = waited(10.0, pad=PadReference(5.0), temperature_c=lambda _t: 31.0)
    assert pad.air_temperature_c == 5.0
    assert pad.ratio == pytest.approx(isa_to_true_ratio(known(pad), 5.0))


def test_without_any_temperature_heights_stay_standard() -> None:
    pad = waited(10.0, temperature_c=lambda _t: None)
    assert pad.air_temperature_c is None
    assert pad.ratio == 1.0
    assert not pad.bay_is_warmed


def test_a_bay_warmed_by_the_sun_is_not_taken_for_the_air() -> None:
    """From 18 to 33 degC in 20 minutes: no morning does that."""
    pad = waited(1200.0, period_s=0.1, temperature_c=lambda t: 18.0 + 15.0 * t / 1200.0)
    assert pad.bay_is_warmed
    temperature = pad.air_temperature_c
    assert temperature is not None
    assert temperature == pytest.approx(18.0, abs=1.0)


def test_a_slow_morning_is_the_air() -> None:
    pad = waited(3600.0, period_s=0.2, temperature_c=lambda t: 12.0 + 4.0 * t / 3600.0)
    assert not pad.bay_is_warmed
    assert pad.air_temperature_c == pytest.approx(16.0, abs=0.3)


def test_the_accelerometer_at_rest_is_learned_with_its_bias() -> None:
    rng = np.random.default_rng(3)
    pad = waited(15.0, axial_mps2=lambda _t: 9.81 + 1.1 + float(rng.normal(0.0, 0.5)))
    assert pad.rest_mps2 == pytest.approx(10.91, abs=0.1)


@pytest.mark.parametrize("reading_mps2", [0.1, -9.8, 25.0])
def test_a_sensor_that_does_not_read_one_g_at_rest_is_not_used(reading_mps2: float) -> None:
    assert waited(10.0, axial_mps2=lambda _t: reading_mps2).rest_mps2 is None


def test_how_gusty_the_wait_is_shows_in_the_excursion() -> None:
    def gusts(t: float) -> float:
        return 45.0 * np.sin(2.0 * np.pi * t / 3.0) ** 8

    calm, gusty = waited(60.0).excursion_m, waited(60.0, disturbance_pa=gusts).excursion_m
    assert calm < 1.5
    assert gusty > 3.0


@pytest.mark.parametrize("period_s", [0.02, 0.1])
@pytest.mark.parametrize("size_pa", [-1000.0, -300.0, 600.0])
def test_one_reading_gone_wrong_tells_nothing_of_the_wind(period_s: float, size_pa: float) -> None:
    def wrong(t: float) -> float:
        return size_pa if abs(t - 20.0) < 0.4 * period_s else 0.0

    calm, pad = waited(40.0, period_s=period_s), waited(40.0, period_s=period_s, disturbance_pa=wrong)
    assert pad.excursion_m < calm.excursion_m + 0.1
    assert pad.surge_m < calm.surge_m + 0.02
    assert pad.swell_m < calm.swell_m + 0.02
    # Two in a row may be a door.
    door = waited(
        40.0, period_s=period_s, disturbance_pa=lambda t: size_pa if 20.0 <= t < 20.0 + 1.9 * period_s else 0.0
    )
    assert door.excursion_m > 10.0


def test_a_day_of_waiting_takes_no_more_memory_than_an_hour(held_bytes: Callable[[object], int]) -> None:
    pad = waited(3600.0, period_s=0.2)
    after_an_hour = held_bytes(pad)
    waited(5 * 3600.0, period_s=0.2, pad=pad, start_s=3600.0)
    assert held_bytes(pad) < 1.05 * after_an_hour


@pytest.mark.parametrize(("size_m", "until_pa"), [(0.0, 9.0), (1.0, 3.0), (3.0, 3.0)])
def test_what_the_wind_does_to_half_seconds_is_learned_beside_the_noise(size_m: float, until_pa: float) -> None:
    """A slow swing of known standard deviation: the sensor's noise, whatever it is, does not count as wind."""
    size_pa = 11.9 * size_m * 2.0**0.5
    pad = waited(
        90.0,
        noise_pa=until_pa,
        period_s=0.05,
        disturbance_pa=lambda t: size_pa * float(np.sin(2.0 * np.pi * t / 5.0)),
    )
    assumed = ASSUMED_SWELL_M * (ASSUMED_BLOCKS / (120.0 + ASSUMED_BLOCKS)) ** 0.5
    assert pad.swell_m == pytest.approx(max(size_m, assumed), rel=0.25, abs=0.05)


def test_before_the_wind_is_known_some_is_assumed() -> None:
    assert waited(0.3).swell_m == ASSUMED_SWELL_M
    assert waited(5.0).swell_m > waited(20.0).swell_m > waited(60.0).swell_m
    assert waited(8.0).swell_m < 0.6


@pytest.mark.parametrize("noise_pa", [2.0, 9.0])
def test_how_fast_the_wind_moves_the_height_is_learned_beside_the_noise(noise_pa: float) -> None:
    """A swing of period T and standard deviation s changes by 2 s sin(pi t / T) in t, less by what a mean smooths."""
    size_m, period_s, step_s = 1.0, 4.0, 0.5
    size_pa = 11.9 * size_m * 2.0**0.5
    pad = waited(90.0, noise_pa=noise_pa, disturbance_pa=lambda t: size_pa * float(np.sin(2.0 * np.pi * t / period_s)))
    smoothed = np.sinc(step_s / period_s)
    assert pad.surge_m == pytest.approx(2.0 * size_m * smoothed * np.sin(np.pi * step_s / period_s), rel=0.15)


def test_a_rocket_carried_about_reaches_far_but_moves_the_height_slowly() -> None:
    """Two metres up within a second and down again after seven, every twelve seconds."""
    carried = waited(60.0, disturbance_pa=lambda t: -11.9 * 2.0 * float(np.clip(min(t % 12.0, 8.0 - t % 12.0), 0, 1)))
    assert carried.swell_m > 0.7
    assert carried.surge_m < 0.5 * carried.swell_m


def test_before_it_is_known_how_fast_the_wind_is_some_is_assumed() -> None:
    assert waited(0.3).surge_m == ASSUMED_SURGE_M
    assert waited(5.0).surge_m > waited(20.0).surge_m > waited(60.0).surge_m


def test_what_the_weather_did_in_a_silence_is_no_wind() -> None:
    silent = waited(40.0, pad=waited(120.0), start_s=720.0, seed=2, disturbance_pa=lambda _t: -120.0)
    assert silent.surge_m == pytest.approx(waited(160.0).surge_m, rel=0.5)


def test_the_newest_second_does_not_count_as_wind() -> None:
    calm = waited(30.0).swell_m
    leaving = waited(30.0, disturbance_pa=lambda t: -600.0 * max(0.0, t - 29.3) ** 2).swell_m
    assert leaving == pytest.approx(calm, rel=0.2)
    calm = waited(30.0).surge_m
    leaving = waited(30.0, disturbance_pa=lambda t: -600.0 * max(0.0, t - 29.3) ** 2).surge_m
    assert leaving == pytest.approx(calm, rel=0.2)


def test_the_sensor_at_rest_is_known_soon_after_it_was_laid_down_and_stood_up_again() -> None:
    # Carried flat (no weight along the axis) until 30 s, then stood on the pad: 9.6 m/s^2, a biased sensor.
    pad = waited(34.0, axial_mps2=lambda t: 0.1 if t < 30.0 else 9.6)
    assert pad.rest_mps2 == pytest.approx(9.6, abs=0.01)
    laid_down = waited(34.0, axial_mps2=lambda t: 9.6 if t < 30.0 else 0.1)
    assert laid_down.rest_mps2 is None


def test_a_knock_does_not_move_the_sensor_at_rest() -> None:
    pad = waited(30.0, axial_mps2=lambda t: 14.0 if 28.0 < t < 28.6 else 9.6)
    assert pad.rest_mps2 == pytest.approx(9.6, abs=0.05)


def test_the_air_s_density_is_that_of_the_day() -> None:
    """0.94 kg/m^3 at 840 hPa and 38 degC, 1.225 by the standard at sea level (ideal-gas law)."""
    assert PadReference().density_kgpm3 == pytest.approx(1.225, abs=0.0005)
    pad = PadReference(38.0)
    for k in range(200):
        pad.take(20.0 * k, 84_000.0, None, None)
    assert pad.density_kgpm3 == pytest.approx(84_000.0 / (287.053 * 311.15), rel=1e-4)
