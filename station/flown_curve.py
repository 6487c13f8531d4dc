"""The samples of a flight as arrays, as they came: what is fitted after landing is fitted to these."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import nan

import numpy as np
from numpy.typing import NDArray

from station.atmosphere import LAPSE_K_PER_M, metres_per_pascal, speed_of_sound_mps
from station.columns import Array, column
from station.flight_state import Estimate
from station.liftoff import Sample

COLDEST_K = 200.0
# Without an accelerometer the live estimate follows the shock's jumps: it is back below the trusted Mach number up to
# so long before the rocket is.
SPEED_SETTLES_S = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class FlownCurve:
    """A row a sample, all (n,): times s from liftoff ascending, heights m with standard deviations m.

    `gained_mps2` is the specific force gained over the reading at rest, nan where it was not measured. `velocity_mps`
    is the live estimate's, + up; `sound_mps` the speed of sound at that height.
    """

    t_s: Array
    altitude_m: Array
    sigma_m: Array
    gained_mps2: Array
    velocity_mps: Array
    sound_mps: Array

    @property
    def mach(self) -> Array:
        """Mach numbers of the vertical speed, never negative."""
        return np.asarray(np.abs(self.velocity_mps) / self.sound_mps)

    def since(self, t_s: float) -> "FlownCurve":
        """The same with its times counted from `t_s`."""
        return replace(self, t_s=self.t_s - t_s)

    def rows(self, use: NDArray[np.bool_]) -> "FlownCurve":
        """Only the samples in use."""
        return FlownCurve(
            self.t_s[use],
            self.altitude_m[use],
            self.sigma_m[use],
            self.gained_mps2[use],
            self.velocity_mps[use],
            self.sound_mps[use],
        )


def flown_curve(
    flown: Sequence[Sample], track: Sequence[Estimate], liftoff_ms: float, noise_pa: float, pad_kelvin: float
) -> FlownCurve | None:
    """The curve of the samples `flown`, with the live estimates beside them; None without any."""
    if not flown or not track:
        return None
    t_ms = column([sample.t_ms for sample in flown])
    altitude_m = column([sample.altitude_m for sample in flown])
    sigma_m, sound_mps = noise_and_sound(flown, altitude_m, noise_pa, pad_kelvin)
    return FlownCurve(
        (t_ms - liftoff_ms) / 1000.0,
        altitude_m,
        sigma_m,
        column([nan if sample.gained_mps2 is None else sample.gained_mps2 for sample in flown]),
        np.interp(t_ms, column([e.t_ms for e in track]), column([e.velocity_mps for e in track])),
        sound_mps,
    )


def noise_and_sound(
    flown: Sequence[Sample], altitude_m: Array, noise_pa: float, pad_kelvin: float
) -> tuple[Array, Array]:
    """Standard deviations (n,) in m of the samples' heights, and the speeds of sound (n,) in m/s there."""
    kelvin = np.maximum(COLDEST_K, pad_kelvin - LAPSE_K_PER_M * np.maximum(altitude_m, 0.0))
    # The one goes as T / p, the other as the root of T.
    sigma_m = noise_pa * metres_per_pascal(1.0, 1.0) * kelvin / column([sample.pressure_pa for sample in flown])
    return sigma_m, speed_of_sound_mps(1.0) * np.sqrt(kelvin)
