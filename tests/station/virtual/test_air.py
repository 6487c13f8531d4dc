from dataclasses import replace
from math import exp

import ambiance
import numpy as np
import pytest

from station.virtual.air import Day, Thermal, Wind, gauss_markov
from station.virtual.altimeter import isa_altitude_m
from station.virtual.chance import stream

STANDARD_DAY = Day(pad_pressure_pa=101325.0, pad_temperature_c=15.0)

# Geopotential altitude (m), pressure (hPa), density (kg/m^3), speed of sound (m/s) as printed in
# ISO 2533:1975, tables 5 to 7 (transcription metanorma/atmospheric, tests-geopotential.yml).
PRINTED = [
    (0.0, 1013.25, 1.22500, 340.294),
    (500.0, 954.608, 1.16727, 338.369),
    (1000.0, 898.746, 1.11164, 336.434),
    (3000.0, 701.085, 0.909122, 328.578),
    (5000.0, 540.199, 0.736116, 320.529),
    (8000.0, 355.998, 0.525167, 308.063),
]


@pytest.mark.parametrize(("height_m", "pressure_hpa", "density", "sound"), PRINTED)
def test_the_standard_day_is_the_printed_standard_atmosphere(
    height_m: float, pressure_hpa: float, density: float, sound: float
) -> None:
    height = np.array([height_m])
    kelvin = 288.15 - 0.0065 * height_m
    assert STANDARD_DAY.pressure_pa(height)[0] == pytest.approx(100.0 * pressure_hpa, rel=6e-6)
    assert STANDARD_DAY.pressure_pa(height)[0] / (287.05287 * kelvin) == pytest.approx(density, rel=6e-6)
    assert STANDARD_DAY.sound_speed_mps(height)[0] == pytest.approx(sound, rel=2e-6)


def test_pressure_agrees_with_ambiance_at_its_geopotential_height() -> None:
    geometric = np.array([0.0, 250.0, 1500.0, 4000.0, 9000.0])
    reference = ambiance.Atmosphere(geometric)
    ours = STANDARD_DAY.pressure_pa(reference.H)
    assert ours == pytest.approx(reference.pressure, rel=1e-6)


@pytest.mark.parametrize("warmer_k", [-30.0, -10.0, 10.0, 30.0])
def test_a_warm_day_makes_altimeters_read_low_by_the_ratio_of_temperatures(warmer_k: float) -> None:
    # True height = indicated x (T0 + dT)/T0 with the standard lapse kept, from a pad at standard pressure:
    # 10/288.15 = 3.47 % per 10 K.
    day = Day(pad_pressure_pa=101325.0, pad_temperature_c=15.0 + warmer_k)
    true_m = 1000.0 * (288.15 + warmer_k) / 288.15
    assert day.isa_altitude_m(true_m) == pytest.approx(1000.0, abs=1e-6)


def test_isa_altitude_is_what_a_barometer_set_to_the_standard_atmosphere_says() -> None:
    day = Day(pad_pressure_pa=86_400.0, pad_temperature_c=31.0)
    pad, above = day.pressure_pa(np.array([0.0, 2_345.0]))
    assert isa_altitude_m(above) - isa_altitude_m(pad) == pytest.approx(day.isa_altitude_m(2_345.0), abs=1e-6)


def test_gusts_have_the_asked_size_and_forget_the_past_in_the_asked_time() -> None:
    series = np.array(gauss_markov(stream(1, "test"), 200_000, 2.0, 0.25 / 3.0))
    assert series.std() == pytest.approx(2.0, rel=0.05)
    lag = round(3.0 / 0.25)
    correlation = np.corrcoef(series[:-lag], series[lag:])[0, 1]
    # First-order Gauss-Markov: exp(-1) after one time constant, a little more for the discrete filter.
    assert correlation == pytest.approx(np.exp(-1.0), abs=0.05)


def test_the_wind_rises_with_height_and_does_not_blow_up_or_down_at_the_ground() -> None:
    wind = Wind(Day(ground_wind_mps=3.0, high_wind_mps=9.0, gust_mps=0.0, vertical_gust_mps=1.0), 4, 60.0)
    assert wind.at(10.0, 0.0) == (3.0, 0.0)
    assert wind.at(10.0, 300.0)[0] == pytest.approx(6.0)
    assert wind.at(10.0, 300.0)[1] != 0.0
    assert wind.at(10.0, 1e6)[0] == pytest.approx(9.0, rel=0.01)


def test_after_its_last_gust_the_wind_goes_on_as_it_was() -> None:
    wind = Wind(Day(), 4, 10.0)
    assert wind.at(1e5, 50.0) == wind.at(1e6, 50.0)


def test_a_thermal_lifts_around_its_middle_while_it_lasts() -> None:
    calm = Day(ground_wind_mps=0.0, high_wind_mps=0.0, gust_mps=0.0, vertical_gust_mps=0.0)
    wind = Wind(replace(calm, thermal=Thermal(5.0, 400.0, 50.0, 10.0, 20.0)), 1, 30.0)
    up = {height: wind.at(15.0, height)[1] for height in (0.0, 400.0, 450.0, 700.0)}
    assert up[0.0] == 0.0
    assert 4.0 < up[400.0] < 5.0
    assert up[450.0] / up[400.0] == pytest.approx(exp(-1.0), rel=0.02)
    assert up[700.0] < 1e-9
    assert wind.at(9.0, 400.0)[1] == wind.at(21.0, 400.0)[1] == 0.0
