"""Which satellite fixes are believed: no position, too few satellites and jumps are not."""

from itertools import pairwise
from math import hypot

import pytest

from station.fix_gate import KEPT_WAITING, FixGate, TrackPoint
from station.flight_state import Phase
from station.geodesy import Line, Position, place_along

PAD = Position(37.5, -41.25)


def spot(north_m: float, east_m: float = 0.0) -> Position:
    """A place so far north and east of the pad (the great circle's own bearing: exact within a millimetre here)."""
    return place_along(place_along(PAD, Line(abs(north_m), 0.0 if north_m >= 0 else 180.0)), Line(east_m, 90.0))


def fed(*fixes: tuple[float, Position | None], phase: Phase = Phase.DESCENT, satellites: int | None = 9) -> FixGate:
    """Fixes as (seconds, place)."""
    gate = FixGate()
    for t_s, position in fixes:
        gate.take(1000.0 * t_s, position, phase=phase, satellites=satellites)
    return gate


def times(points: list[TrackPoint]) -> list[float]:
    return [point.t_ms / 1000.0 for point in points]


def test_a_fix_without_a_position_is_counted_and_not_believed() -> None:
    gate = fed((0.0, None), (1.0, spot(0.0)), (2.0, None))
    assert times(gate.believed) == [1.0]
    assert gate.refused == (("no position", 2),)


def test_nought_nought_without_satellites_is_no_position_but_with_them_it_is_a_place() -> None:
    """Latitude 0, longitude 0 lies in the Gulf of Guinea; receivers without a fix say it too."""
    assert fed((0.0, Position(0.0, 0.0)), satellites=None).refused == (("no position", 1),)
    assert len(fed((0.0, Position(0.0, 0.0)), satellites=8).believed) == 1


@pytest.mark.parametrize(("satellites", "believed"), [(0, 0), (3, 0), (4, 1), (12, 1), (None, 1)])
def test_under_four_satellites_there_is_no_fix_in_three_dimensions(satellites: int | None, believed: int) -> None:
    """Four unknowns, place and the receiver's clock: IS-GPS-200."""
    gate = fed((0.0, spot(0.0)), satellites=satellites)
    assert len(gate.believed) == believed
    assert gate.refused == (() if believed else (("too few satellites", 1),))


def test_places_are_laid_out_on_a_plane_from_the_first() -> None:
    gate = fed((0.0, PAD), (1.0, spot(30.0, 40.0)))
    first, second = gate.believed
    assert (first.north_m, first.east_m) == (0.0, 0.0)
    assert (second.north_m, second.east_m) == pytest.approx((30.0, 40.0), abs=1e-3)


def test_one_wild_fix_in_the_middle_is_left_out_and_the_rest_kept() -> None:
    gate = fed(
        *((k, spot(5.0 * k)) for k in range(5)), (5.0, spot(1900.0)), *((k, spot(5.0 * k)) for k in range(6, 10))
    )
    assert times(gate.believed) == [0, 1, 2, 3, 4, 6, 7, 8, 9]
    assert gate.refused == (("jump", 1),)


def test_a_wild_first_fix_is_dropped_as_soon_as_two_others_agree() -> None:
    gate = fed((0.0, spot(3000.0)), (1.0, spot(0.0)))
    assert times(gate.believed) == [0.0]
    gate.take(2000.0, spot(2.0), phase=Phase.DESCENT, satellites=9)
    assert times(gate.believed) == [1.0, 2.0]


def test_a_wild_fix_after_a_long_silence_is_dropped_too() -> None:
    """After a minute the rocket may be kilometres away, so the jump itself proves nothing; what follows does."""
    gate = fed(*((k, spot(5.0 * k)) for k in range(50)), (110.0, spot(2000.0)))
    assert times(gate.believed)[-1] == 110.0
    for t_s in (111.0, 112.0):
        gate.take(1000.0 * t_s, spot(400.0), phase=Phase.DESCENT, satellites=9)
    assert times(gate.believed)[-3:] == [49.0, 111.0, 112.0]


def test_several_wild_fixes_in_a_row_that_agree_do_not_win_over_a_long_track() -> None:
    gate = fed(*((0.2 * k, spot(0.0)) for k in range(100)), *((20.0 + 0.2 * k, spot(2500.0)) for k in range(8)))
    gate.take(22_000.0, spot(1.0), phase=Phase.DESCENT, satellites=9)
    assert len(gate.believed) == 101
    assert gate.refused == (("jump", 8),)


@pytest.mark.parametrize(
    ("phase", "apart_m", "goes"),
    [
        (Phase.COAST, 380.0, True),
        (Phase.COAST, 500.0, False),
        (Phase.DESCENT, 120.0, True),
        (Phase.DESCENT, 200.0, False),
        (Phase.DOWN, 60.0, True),
        (Phase.DOWN, 120.0, False),
        (Phase.WAITING, 120.0, False),
    ],
)
def test_how_far_a_rocket_may_go_in_a_second_depends_on_the_phase(phase: Phase, apart_m: float, goes: bool) -> None:
    gate = fed((0.0, spot(0.0)), (1.0, spot(1.0)), (2.0, spot(apart_m)), phase=phase)
    assert len(gate.believed) == (3 if goes else 2)


def test_a_fix_that_comes_late_is_passed_over() -> None:
    gate = fed((0.0, spot(0.0)), (2.0, spot(4.0)), (1.0, spot(2.0)), (2.0, spot(4.0)))
    assert times(gate.believed) == [0.0, 2.0]
    assert gate.refused == ()


def test_no_two_neighbours_of_the_believed_track_are_a_jump_apart_whatever_comes() -> None:
    """A hundred fixes, every third of them somewhere within 3 km (a fixed scramble, no chance)."""
    fixes = [(0.5 * k, spot(3.0 * k) if k % 3 else spot(37.0 * k % 3000 - 1500, 91.0 * k % 2800)) for k in range(100)]
    gate = fed(*fixes)
    assert len(gate.believed) >= 60
    for a, b in pairwise(gate.believed):
        assert hypot(b.north_m - a.north_m, b.east_m - a.east_m) <= 40.0 + 100.0 * (b.t_ms - a.t_ms) / 1000.0


def test_a_long_wait_keeps_its_last_fixes_only_and_the_flight_after_it_all() -> None:
    gate = FixGate()
    for k in range(8000):
        gate.take(1000.0 * k, spot(0.01 * (k % 7)), phase=Phase.WAITING, satellites=9)
    assert KEPT_WAITING <= len(gate.believed) <= 2 * KEPT_WAITING
    assert gate.believed[-1].t_ms == 7_999_000.0
    assert gate.refused == ()
    kept = len(gate.believed)
    gate.take(8_001_000.0, spot(2900.0), phase=Phase.DESCENT, satellites=9)  # a wild one
    for k in range(4):
        gate.take(8_002_000.0 + 1000.0 * k, spot(10.0 * k), phase=Phase.DESCENT, satellites=9)
    assert len(gate.believed) == kept + 4
    assert gate.refused == (("jump", 1),)
