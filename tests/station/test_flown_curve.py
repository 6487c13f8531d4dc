"""The samples of a flight as arrays."""

import numpy as np
import pytest

from station.flight_state import Estimate
from station.flown_curve import flown_curve
from station.liftoff import Sample

SAMPLES = [Sample(1000.0 + 20.0 * n, 101_325.0 - 60.0 * n, 5.0 * n, None if n == 1 else 30.0) for n in range(4)]
TRACK = [Estimate(1000.0 + 20.0 * n, 5.0 * n, 100.0 + n, 0.0, 0.3, 0.5, 1.0) for n in range(4)]


def test_times_count_from_liftoff_and_what_was_not_measured_is_nan() -> None:
    curve = flown_curve(SAMPLES, TRACK, 1020.0, 3.0, 288.15)
    assert curve is not None
    assert curve.t_s.tolist() == pytest.approx([-0.02, 0.0, 0.02, 0.04])
    assert np.isnan(curve.gained_mps2).tolist() == [False, True, False, False]
    assert curve.velocity_mps.tolist() == [100.0, 101.0, 102.0, 103.0]


def test_noise_in_metres_and_mach_numbers_are_those_of_the_standard_atmosphere() -> None:
    """At sea level a pascal is 0.08324 m and sound goes at 340.294 m/s (ISO 2533)."""
    curve = flown_curve(SAMPLES, TRACK, 1000.0, 3.0, 288.15)
    assert curve is not None
    assert curve.sigma_m[0] == pytest.approx(3.0 * 0.08324, rel=1e-3)
    assert curve.mach[0] == pytest.approx(100.0 / 340.294, rel=1e-5)


def test_rows_are_picked_from_all_columns() -> None:
    curve = flown_curve(SAMPLES, TRACK, 1000.0, 3.0, 288.15)
    assert curve is not None
    part = curve.rows(curve.t_s > 0.03)
    assert part.altitude_m.tolist() == [10.0, 15.0]
    assert len(part.sound_mps) == len(part.gained_mps2) == 2


def test_without_samples_there_is_no_curve() -> None:
    assert flown_curve([], TRACK, 0.0, 3.0, 288.15) is None
    assert flown_curve(SAMPLES, [], 0.0, 3.0, 288.15) is None
