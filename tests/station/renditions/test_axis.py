"""Round numbers for an axis."""

import pytest

from station.renditions.axis import ticks


@pytest.mark.parametrize(
    ("low", "high", "about", "found"),
    [
        (0.0, 426.0, 5, [0.0, 100.0, 200.0, 300.0, 400.0]),
        (0.0, 47.0, 5, [0.0, 10.0, 20.0, 30.0, 40.0]),
        (-20.0, 100.0, 3, [0.0, 50.0, 100.0]),
        (0.0, 1.0, 5, [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
    ],
)
def test_values_are_round_and_inside(low: float, high: float, about: int, found: list[float]) -> None:
    assert ticks(low, high, about) == pytest.approx(found)


def test_an_axis_without_any_length_still_has_an_answer() -> None:
    assert len(ticks(0.0, 0.0, 5)) >= 1
