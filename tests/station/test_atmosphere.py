"""The standard atmosphere against its printed tables, two libraries and a real sounding."""

import csv
from math import log
from pathlib import Path

import ambiance
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from station.atmosphere import (
    G0_MPS2,
    GAS_CONSTANT_AIR,
    LAPSE_K_PER_M,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
    TROPOPAUSE_M,
    TROPOPAUSE_PRESSURE_PA,
    TROPOPAUSE_TEMPERATURE_K,
    air_density_kgpm3,
    isa_altitude_m,
    isa_pressure_pa,
    isa_temperature_k,
    isa_to_true_ratio,
    metres_per_pascal,
    pad_density_ratio,
    speed_of_sound_mps,
)

SOUNDING = Path(__file__).resolve().parents[1] / "data" / "radiosonde_2019-02-18.csv"
EARTH_RADIUS_M = 6_356_766.0  # U.S. Standard Atmosphere 1976: geopotential H = r Z / (r + Z)

# Half a unit of the last printed figure, and what the two gas constants of the standards differ by.
SOUND_MPS = 0.0005 + 0.0002

# H m, T K, p hPa, rho kg/m^3, a m/s. ISO 2533:1975 tables 5-7 (the same document as ICAO Doc 7488/3), as
# transcribed in metanorma/atmospheric, commit 24b8f98d, spec/fixtures/tests-geopotential.yml (BSD-2).
BY_GEOPOTENTIAL = [
    (0, 288.150, 1013.25, 1.22500, 340.294),
    (100, 287.500, 1001.29, 1.21328, 339.910),
    (500, 284.900, 954.608, 1.16727, 338.369),
    (1000, 281.650, 898.746, 1.11164, 336.434),
    (2000, 275.150, 794.952, 1.00649, 332.529),
    (3000, 268.650, 701.085, 0.909122, 328.578),
    (5000, 255.650, 540.199, 0.736116, 320.529),
    (8000, 236.150, 355.998, 0.525167, 308.063),
    (10000, 223.150, 264.362, 0.412706, 299.463),
    (11000, 216.650, 226.320, 0.363918, 295.069),
    (15000, 216.650, 120.445, 0.193673, 295.069),
    (20000, 216.650, 54.7487, 0.0880345, 295.069),
]
# The same source by geometric altitude, tests-geometric.yml.
BY_GEOMETRIC = [
    (1000, 281.651, 898.763, 1.11166, 336.435),
    (2000, 275.154, 795.014, 1.00655, 332.532),
    (3000, 268.659, 701.212, 0.909254, 328.584),
    (5000, 255.676, 540.483, 0.736429, 320.545),
    (8000, 236.215, 356.516, 0.525786, 308.105),
    (10000, 223.252, 264.999, 0.413510, 299.532),
    (11000, 216.774, 226.999, 0.364801, 295.154),
    (15000, 216.650, 121.118, 0.194755, 295.069),
    (20000, 216.650, 55.2929, 0.0889097, 295.069),
]
# Pressure Pa, geopotential altitude m: the relation of the standard inverted, worked apart from this code with
# the gas constant of ICAO Doc 7488, 287.05287 J/(kg K).
INVERTED = [
    (101325.0, 0.0),
    (100000.0, 110.884),
    (95000.0, 540.337),
    (90000.0, 988.500),
    (85000.0, 1457.299),
    (70000.0, 3012.181),
    (50000.0, 5574.434),
    (30000.0, 9163.951),
    (22632.0, 11000.011),
    (20000.0, 11784.041),
    (10000.0, 16179.714),
]


def geopotential_m(geometric_m: float) -> float:
    return EARTH_RADIUS_M * geometric_m / (EARTH_RADIUS_M + geometric_m)


def geometric_m(geopotential: float) -> float:
    return EARTH_RADIUS_M * geopotential / (EARTH_RADIUS_M - geopotential)


def test_the_constants_are_those_of_the_standard() -> None:
    # pdas.com/atmospressure.html and the sources of ambiance 1.3.1; R = R*/M of the 1976 standard.
    assert SEA_LEVEL_PRESSURE_PA == 101_325.0
    assert SEA_LEVEL_TEMPERATURE_K == 288.15
    assert LAPSE_K_PER_M == 0.0065
    assert G0_MPS2 == 9.80665
    assert TROPOPAUSE_M == 11_000.0
    assert TROPOPAUSE_TEMPERATURE_K == 216.65
    assert pytest.approx(287.053072, rel=1e-9) == GAS_CONSTANT_AIR
    assert pytest.approx(22_632.0, rel=4e-6) == TROPOPAUSE_PRESSURE_PA  # printed 226.320 hPa


@pytest.mark.parametrize(("altitude_m", "kelvin", "hpa", "density", "sound_mps"), BY_GEOPOTENTIAL)
def test_every_printed_row_by_geopotential_altitude(
    altitude_m: float, kelvin: float, hpa: float, density: float, sound_mps: float
) -> None:
    pressure = isa_pressure_pa(altitude_m)
    temperature = isa_temperature_k(altitude_m)
    assert temperature == pytest.approx(kelvin, abs=1e-9)
    assert pressure == pytest.approx(100.0 * hpa, rel=6e-6)
    assert air_density_kgpm3(pressure, temperature) == pytest.approx(density, rel=6e-6)
    assert speed_of_sound_mps(temperature) == pytest.approx(sound_mps, abs=SOUND_MPS)
    assert isa_altitude_m(100.0 * hpa) == pytest.approx(altitude_m, abs=0.05)  # six printed figures of pressure


@pytest.mark.parametrize(("geometric", "kelvin", "hpa", "density", "sound_mps"), BY_GEOMETRIC)
def test_every_printed_row_by_geometric_altitude(
    geometric: float, kelvin: float, hpa: float, density: float, sound_mps: float
) -> None:
    altitude_m = geopotential_m(geometric)
    pressure = isa_pressure_pa(altitude_m)
    temperature = isa_temperature_k(altitude_m)
    assert temperature == pytest.approx(kelvin, rel=3e-6)
    assert pressure == pytest.approx(100.0 * hpa, rel=6e-6)
    assert air_density_kgpm3(pressure, temperature) == pytest.approx(density, rel=6e-6)
    assert speed_of_sound_mps(temperature) == pytest.approx(sound_mps, abs=SOUND_MPS)


def test_two_libraries_agree_from_the_dead_sea_to_20_km() -> None:
    # Both take geometric altitude.
    for altitude_m in np.arange(-400.0, 20_001.0, 100.0):
        geometric = geometric_m(float(altitude_m))
        other = ambiance.Atmosphere(geometric)
        pressure, temperature = isa_pressure_pa(altitude_m), isa_temperature_k(altitude_m)
        assert pressure == pytest.approx(float(other.pressure[0]), rel=5e-6)
        assert temperature == pytest.approx(float(other.temperature[0]), rel=1e-9)
        assert air_density_kgpm3(pressure, temperature) == pytest.approx(float(other.density[0]), rel=6e-6)
        assert speed_of_sound_mps(temperature) == pytest.approx(float(other.speed_of_sound[0]), rel=2e-6)
        assert isa_altitude_m(float(other.pressure[0])) == pytest.approx(altitude_m, abs=0.04)
        if altitude_m >= 0.0:
            third = ATMOSPHERE_1976(geometric)
            assert pressure == pytest.approx(third.P, rel=5e-6)
            assert temperature == pytest.approx(third.T, rel=5e-6)


@pytest.mark.parametrize(("pressure_pa", "altitude_m"), INVERTED)
def test_altitude_of_a_pressure(pressure_pa: float, altitude_m: float) -> None:
    assert isa_altitude_m(pressure_pa) == pytest.approx(altitude_m, abs=0.035)


def test_altitude_and_pressure_are_each_others_inverse_across_the_tropopause() -> None:
    for altitude_m in np.linspace(-500.0, 20_000.0, 2051):
        assert isa_altitude_m(isa_pressure_pa(float(altitude_m))) == pytest.approx(altitude_m, abs=1e-6)
    below, above = isa_altitude_m(TROPOPAUSE_PRESSURE_PA), isa_altitude_m(TROPOPAUSE_PRESSURE_PA * (1 - 1e-12))
    assert below == pytest.approx(11_000.0, abs=1e-6)
    assert above == pytest.approx(below, abs=1e-6)


@pytest.mark.parametrize(
    ("altitude_m", "slope"),
    # Slope of the standard relation, worked apart from this code.
    [(0.0, 0.08324), (1000.0, 0.09173), (3000.0, 0.1122)],
)
def test_height_of_one_pascal(altitude_m: float, slope: float) -> None:
    assert metres_per_pascal(isa_pressure_pa(altitude_m), isa_temperature_k(altitude_m)) == pytest.approx(
        slope, rel=5e-4
    )


@pytest.mark.parametrize(
    ("offset_k", "true_m"),
    # 1000 m indicated at a sea-level pad: true = indicated (288.15 + dT)/288.15, 3.47 % for 10 K.
    [(-30.0, 895.89), (-20.0, 930.59), (-10.0, 965.30), (10.0, 1034.70), (20.0, 1069.41), (30.0, 1104.11)],
)
def test_a_warm_column_is_taller_by_3_47_percent_for_10_kelvin(offset_k: float, true_m: float) -> None:
    corrected = 1000.0 * isa_to_true_ratio(101_325.0, 15.0 + offset_k)
    assert corrected == pytest.approx(true_m, abs=0.05)
    # ICAO PANS-OPS Doc 8168 rule, rounded to the cautious side: 4 % for 10 K is the outer bound.
    assert abs(corrected - 1000.0) < 1000.0 * 0.04 * abs(offset_k) / 10.0


def test_on_a_standard_day_nothing_is_corrected_wherever_the_pad_lies() -> None:
    for pad_m in (0.0, 350.0, 1600.0):
        pad_c = isa_temperature_k(pad_m) - 273.15
        assert isa_to_true_ratio(isa_pressure_pa(pad_m), pad_c) == pytest.approx(1.0, abs=1e-12)


def test_the_correction_is_exact_for_a_column_with_the_standard_lapse() -> None:
    """The hydrostatic equation integrated in a thousand layers from a warm pad on a high plain."""
    pad_pa, pad_k = 84_000.0, 273.15 + 35.0
    height, pressure = 0.0, pad_pa
    layers = 1000
    step = 2500.0 / layers
    for _ in range(layers):
        middle_k = pad_k - LAPSE_K_PER_M * (height + 0.5 * step)
        pressure *= np.exp(-G0_MPS2 * step / (GAS_CONSTANT_AIR * middle_k))
        height += step
    isa_height = isa_altitude_m(float(pressure)) - isa_altitude_m(pad_pa)
    assert isa_height * isa_to_true_ratio(pad_pa, 35.0) == pytest.approx(2500.0, abs=0.01)


def sounding() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Heights above the ground m, pressures Pa, temperatures degC."""
    with SOUNDING.open() as file:
        rows = [tuple(map(float, row)) for row in list(csv.reader(file))[1:]]
    data = np.array(rows)
    return data[:, 1] - data[0, 1], 100.0 * data[:, 2], data[:, 3]


@pytest.mark.parametrize(
    ("to_m", "isa_end_m", "isa_rmse_m", "corrected_rmse_m"),
    # Worked apart from this code on all rows of the file: standard formula, and scaled by the ground's temperature.
    [(500.0, -19.2, 12.4, 1.8), (1000.0, -39.4, 23.5, 2.2), (2000.0, -74.9, 44.4, 1.9), (3000.0, -123.7, 69.6, 3.6)],
)
def test_a_real_sounding_reads_low_by_the_standard_and_right_by_the_days_temperature(
    to_m: float, isa_end_m: float, isa_rmse_m: float, corrected_rmse_m: float
) -> None:
    height, pressure, temperature = sounding()
    use = height <= to_m
    isa = np.array([isa_altitude_m(float(p)) for p in pressure[use]]) - isa_altitude_m(float(pressure[0]))
    error = isa - height[use]
    assert error[-1] == pytest.approx(isa_end_m, abs=5.0)
    assert np.sqrt(np.mean(error**2)) == pytest.approx(isa_rmse_m, abs=0.05 * isa_rmse_m)
    ratio = isa_to_true_ratio(float(pressure[0]), float(temperature[0]))
    assert ratio == pytest.approx(1.0 + 11.6 / 288.15, abs=0.001)  # ground 26.4 degC, 11.6 K over the standard
    rmse = np.sqrt(np.mean((ratio * isa - height[use]) ** 2))
    assert rmse < 5.0
    assert rmse == pytest.approx(corrected_rmse_m, abs=0.5)


def test_the_local_slope_builds_the_soundings_height_up_to_a_metre() -> None:
    """metres_per_pascal with the measured temperature is the hypsometric equation, layer by layer."""
    height, pressure, temperature = sounding()
    with SOUNDING.open() as file:
        humidity = np.array([float(row[4]) for row in list(csv.reader(file))[1:]])
    # Virtual temperature: saturation pressure by Magnus' formula (WMO-No. 8 coefficients, from memory).
    vapour_pa = humidity * 6.112 * np.exp(17.62 * temperature / (243.12 + temperature))
    virtual_k = (temperature + 273.15) / (1.0 - 0.378 * vapour_pa / pressure)
    total, errors = 0.0, []
    for k in range(1, len(height)):
        kelvin = 0.5 * (virtual_k[k] + virtual_k[k - 1])
        middle = (pressure[k - 1] - pressure[k]) / log(pressure[k - 1] / pressure[k])
        total += (pressure[k - 1] - pressure[k]) * metres_per_pascal(float(middle), float(kelvin))
        if height[k] <= 3000.0:
            errors.append(total - height[k])
    assert float(np.sqrt(np.mean(np.square(errors)))) < 1.5


def test_density_falls_like_the_standard_atmospheres() -> None:
    for height in (0.0, 500.0, 1000.0, 3000.0):
        standard = air_density_kgpm3(isa_pressure_pa(height), isa_temperature_k(height)) / 1.225
        assert pad_density_ratio(height) == pytest.approx(standard, rel=0.02)
    assert pad_density_ratio(-5.0) == 1.0
