"""The standard atmosphere up to 20 km: altitude from pressure, density, speed of sound.

Source of every constant and relation: U.S. Standard Atmosphere 1976 (identical to ISO 2533:1975 and ICAO Doc 7488
below 20 km to five figures). Altitudes here are geopotential metres; over a hobby rocket's few kilometres the
difference from geometric metres is below 0.1 % and no barometric altimeter corrects for it.

The day's temperature is handled by keeping the standard lapse rate and shifting the whole column: then the true
height above the pad is exactly the standard height difference times T_pad / T_standard(pad pressure), because
H(p) - H(p_pad) = (T_standard(pad)/L) [1 - (p/p_pad)^(R L/g0)] and the true column has T_pad in place of
T_standard(pad).
"""

from math import exp, log, sqrt
from typing import Final

G0_MPS2: Final = 9.80665
SEA_LEVEL_PRESSURE_PA: Final = 101325.0
SEA_LEVEL_TEMPERATURE_K: Final = 288.15
SEA_LEVEL_DENSITY_KGPM3: Final = 1.225
LAPSE_K_PER_M: Final = 0.0065
GAS_CONSTANT_AIR: Final = 8314.32 / 28.9644  # R*/M of the 1976 standard, J/(kg K)
TROPOPAUSE_M: Final = 11000.0
TROPOPAUSE_TEMPERATURE_K: Final = 216.65
KELVIN_AT_ZERO_C: Final = 273.15
HEAT_RATIO_AIR: Final = 1.4
# E-folding height of density in the lower standard atmosphere.
DENSITY_SCALE_M: Final = 10400.0

_EXPONENT: Final[float] = GAS_CONSTANT_AIR * LAPSE_K_PER_M / G0_MPS2
_INVERSE_EXPONENT: Final[float] = 1.0 / _EXPONENT
DENSITY_EXPONENT: Final[float] = _INVERSE_EXPONENT - 1.0
_SCALE_M: Final = SEA_LEVEL_TEMPERATURE_K / LAPSE_K_PER_M
_STRATOSPHERE_SCALE_M: Final = GAS_CONSTANT_AIR * TROPOPAUSE_TEMPERATURE_K / G0_MPS2
_INVERSE_SEA_LEVEL: Final = 1.0 / SEA_LEVEL_PRESSURE_PA
TROPOPAUSE_PRESSURE_PA: Final[float] = (
    SEA_LEVEL_PRESSURE_PA * (TROPOPAUSE_TEMPERATURE_K / SEA_LEVEL_TEMPERATURE_K) ** _INVERSE_EXPONENT
)


def isa_altitude_m(pressure_pa: float) -> float:
    """Geopotential altitude (m above the standard sea level) of a static pressure (Pa, > 0)."""
    if pressure_pa >= TROPOPAUSE_PRESSURE_PA:
        share: float = pow(pressure_pa * _INVERSE_SEA_LEVEL, _EXPONENT)
        return _SCALE_M * (1.0 - share)
    return TROPOPAUSE_M - _STRATOSPHERE_SCALE_M * log(pressure_pa / TROPOPAUSE_PRESSURE_PA)


def isa_pressure_pa(altitude_m: float) -> float:
    """Static pressure (Pa) at a geopotential altitude (m above the standard sea level), to 20 km."""
    if altitude_m <= TROPOPAUSE_M:
        share: float = pow(1.0 - altitude_m / _SCALE_M, _INVERSE_EXPONENT)
        return SEA_LEVEL_PRESSURE_PA * share
    return TROPOPAUSE_PRESSURE_PA * exp(-(altitude_m - TROPOPAUSE_M) / _STRATOSPHERE_SCALE_M)


def isa_temperature_k(altitude_m: float) -> float:
    """Standard temperature (K) at a geopotential altitude (m), to 20 km."""
    if altitude_m >= TROPOPAUSE_M:
        return TROPOPAUSE_TEMPERATURE_K
    return SEA_LEVEL_TEMPERATURE_K - LAPSE_K_PER_M * altitude_m


def isa_to_true_ratio(pad_pressure_pa: float, pad_temperature_c: float) -> float:
    """Factor from standard height above the pad to true height, for the pad's pressure and air temperature."""
    return (pad_temperature_c + KELVIN_AT_ZERO_C) / isa_temperature_k(isa_altitude_m(pad_pressure_pa))


def air_density_kgpm3(pressure_pa: float, temperature_k: float) -> float:
    """Density of dry air (kg/m^3) by the ideal-gas law."""
    return pressure_pa / (GAS_CONSTANT_AIR * temperature_k)


def density_ratio(height_m: float, pad_kelvin: float) -> float:
    """Air density at a height (m above the pad) over that at the pad, for the pad's air temperature (K).

    The standard lapse rate from the pad up: (1 - L h/T)^(g0/(R L) - 1).
    """
    ratio: float = max(0.5, 1.0 - LAPSE_K_PER_M * height_m / pad_kelvin) ** DENSITY_EXPONENT
    return ratio


def speed_of_sound_mps(temperature_k: float) -> float:
    """Speed of sound in dry air (m/s)."""
    return sqrt(HEAT_RATIO_AIR * GAS_CONSTANT_AIR * temperature_k)


def metres_per_pascal(pressure_pa: float, temperature_k: float) -> float:
    """How much height one pascal is (m/Pa, positive): the hydrostatic slope 1/(rho g)."""
    return GAS_CONSTANT_AIR * temperature_k / (pressure_pa * G0_MPS2)


def pad_density_ratio(altitude_m: float) -> float:
    """Air density at a height (m above the pad) over that at the pad."""
    return exp(-altitude_m / DENSITY_SCALE_M) if altitude_m > 0.0 else 1.0


def at_pad_mps(speed_mps: float, altitude_m: float) -> float:
    """The speed (m/s) that makes as much drag at the pad as this one does at a height (m above the pad)."""
    return speed_mps * sqrt(pad_density_ratio(altitude_m))
