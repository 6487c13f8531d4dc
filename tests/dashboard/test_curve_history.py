import math

import pytest

from dashboard.curve_history import CurveHistory, thin


def row(index: int, altitude: float = 0.0, velocity: float = 0.0, acceleration: float = 0.0) -> list[float]:
    return [20.0 * index, altitude, velocity, acceleration, 0.1, 0.1, 0.1]


def waves(number: int) -> list[list[float]]:
    return [row(i, math.sin(i / 50), math.cos(i / 31), math.sin(i / 7)) for i in range(number)]


def test_few_rows_are_kept_as_they_are():
    rows = waves(100)
    assert thin(rows, 120) == rows


@pytest.mark.parametrize("column", [1, 2, 3])
def test_thinning_keeps_a_single_peak_of_each_quantity(column):
    rows = [row(i) for i in range(5000)]
    rows[1234][column] = 9.0
    rows[4321][column] = -9.0
    kept = thin(rows, 600)
    assert rows[1234] in kept
    assert rows[4321] in kept
    assert len(kept) <= 600


def test_thinning_keeps_the_order_and_invents_nothing():
    rows = waves(5000)
    kept = thin(rows, 600)
    assert [r[0] for r in kept] == sorted({r[0] for r in kept})
    assert all(r in rows for r in kept)


def test_thinning_shares_the_rows_out_over_time_whatever_their_density():
    dense_then_sparse = [row(i, math.sin(i)) for i in range(9000)] + [
        [180_000.0 + 1000.0 * i, math.sin(i), 0, 0, 0, 0, 0] for i in range(180)
    ]
    kept = thin(dense_then_sparse, 600)
    late = [r for r in kept if r[0] >= 180_000.0]
    assert len(late) > 90


def test_rows_that_all_have_one_time_do_not_break_thinning():
    assert thin([[5.0, float(i), 0, 0, 0, 0, 0] for i in range(1000)], 60)


def test_a_viewer_who_knows_some_gets_exactly_the_rest():
    history = CurveHistory(recent=100, most_old=60)
    rows = waves(150)
    history.append(rows)
    assert history.since(120) == (120, rows[120:])
    assert history.since(150) == (150, [])


def test_a_viewer_who_knows_nothing_gets_the_newest_rows_unthinned():
    history = CurveHistory(recent=100, most_old=60)
    rows = waves(1050)
    for start in range(0, 1050, 7):
        history.append(rows[start : start + 7])
    start, given = history.since(0)
    assert start == 0
    assert history.count == 1050
    assert given[-100:] == rows[-100:]


@pytest.mark.parametrize("known", [1, 700, 2000, -3])
def test_what_is_no_longer_or_not_yet_held_gets_the_whole(known):
    history = CurveHistory(recent=100, most_old=60)
    history.append(waves(1050))
    assert history.since(known)[0] == 0


def test_a_day_of_points_takes_no_more_room_than_an_hour():
    history = CurveHistory(recent=100, most_old=120)
    for start in range(0, 60_000, 50):
        history.append([row(i, math.sin(i)) for i in range(start, start + 50)])
    assert len(history.since(0)[1]) <= 120 + 200
