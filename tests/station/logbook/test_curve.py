"""The thinned curve."""

import numpy as np
import pytest

from station.flight_state import Estimate
from station.logbook.curve import MOST_POINTS, logbook_curve, unpacked


def track(times_s: list[float]) -> list[Estimate]:
    """A parabola of 10 s with its top at 5 s, liftoff at T_MS 60,000."""
    return [Estimate(60_000 + 1000 * t, 10 * t - t * t, 10 - 2 * t, -2.0, 0.1, 0.1, 0.1) for t in times_s]


def test_it_goes_from_just_before_liftoff_to_just_after_touchdown() -> None:
    curve = logbook_curve(track([k / 50 for k in range(-500, 1000)]), 60_000.0, 70_000.0)
    assert curve.t_s[0] == pytest.approx(-1.0)
    assert curve.t_s[-1] == pytest.approx(12.0)
    assert len(curve.t_s) <= MOST_POINTS + 3


def test_the_highest_point_is_kept_however_thin_it_is() -> None:
    points = track([k / 1000 for k in range(10_001)])
    points[4_321] = Estimate(64_321.0, 99.0, 0.0, 0.0, 0.1, 0.1, 0.1)
    assert logbook_curve(points, 60_000.0, None).altitude_m.max() == 99.0


def test_a_gap_is_a_break_in_the_curve_and_both_its_edges_are_kept() -> None:
    curve = logbook_curve(track([0.0, 1.0, 2.0, 6.0, 7.0]), 60_000.0, None)
    assert curve.t_s.tolist() == [0.0, 1.0, 2.0, 6.0, 6.0, 7.0]
    assert np.flatnonzero(np.isnan(curve.altitude_m)).tolist() == [3]
    assert np.flatnonzero(np.isnan(curve.velocity_mps)).tolist() == [3]


def test_it_reads_back_as_32_bit_floats() -> None:
    curve = logbook_curve(track([0.0, 1.1, 2.2]), 60_000.0, None)
    back = unpacked(curve.packed())
    np.testing.assert_allclose(back.altitude_m, curve.altitude_m, rtol=1e-6)
    np.testing.assert_allclose(back.velocity_mps, curve.velocity_mps, rtol=1e-6)
    assert len(curve.packed()) == 3 * 3 * 4
    with pytest.raises(ValueError, match="cannot reshape"):
        unpacked(b"\0" * 16)


def test_nothing_flown_is_an_empty_curve() -> None:
    assert unpacked(logbook_curve([], 60_000.0, None).packed()).t_s.size == 0
