"""The picture of a flight as a drawing."""

from collections.abc import Callable
from datetime import datetime

import pytest

from station.renditions.drawing import Area, Line, Text
from station.renditions.still import PLOT_BOTTOM, PLOT_LEFT, PLOT_RIGHT, PLOT_TOP, still
from station.renditions.units import FEET, METRES
from station.whole_flight import WholeFlight

DAY = datetime(2031, 5, 4, 9, 30)


def texts(flight: WholeFlight, units=METRES) -> list[str]:
    return [shape.text for shape in still(flight, units, DAY).shapes if isinstance(shape, Text)]


def test_it_names_rocket_day_figures_and_parachutes(nominal: WholeFlight) -> None:
    found = texts(nominal)
    assert {nominal.name, "4 May 2031", "426 m", "48 s", "Drogue: held the fall", "Main: held the fall"} <= set(found)
    assert "1,398 ft" in texts(nominal, FEET)


def test_a_flight_cut_off_shows_no_time_in_the_air(cut_off: WholeFlight) -> None:
    found = texts(cut_off)
    assert "not observed" in found
    assert "In the air" not in found
    assert "Main: not observed" in found


@pytest.mark.parametrize(
    "name", ["nominal-dual.flight", "past-mach-1.flight", "drogue-early.flight", "ballistic.flight"]
)
def test_the_curve_stays_in_its_plot_and_no_name_covers_another(
    flight_of: Callable[..., WholeFlight], name: str
) -> None:
    drawing = still(flight_of(name), METRES, DAY)
    (curve, *_) = [s for s in drawing.shapes if isinstance(s, Line) and len(s.points) > 50]
    assert all(PLOT_LEFT <= x <= PLOT_RIGHT and PLOT_TOP <= y <= PLOT_BOTTOM for x, y in curve.points)
    names = [s for s in drawing.shapes if isinstance(s, Text) and s.text in ("Burnout", "Apogee", "Drogue", "Main")]
    for one in names:
        for other in names:
            beside = one.x + 0.6 * one.size * len(one.text) < other.x
            assert one is other or beside or abs(one.y - other.y) >= one.size or other.x < one.x


def test_a_name_without_end_is_cut(flight_of: Callable[..., WholeFlight]) -> None:
    assert f"{'x' * 57}..." in texts(flight_of("nominal-dual.flight", "x" * 500))


def test_height_is_drawn_to_scale(nominal: WholeFlight) -> None:
    drawing = still(nominal, METRES, DAY)
    curve = next(s for s in drawing.shapes if isinstance(s, Line) and len(s.points) > 50)
    assert min(y for _, y in curve.points) == pytest.approx(PLOT_TOP, abs=0.5)  # the highest point is the top
    assert curve.points[-1][1] == pytest.approx(PLOT_BOTTOM, abs=0.5)


def test_everything_lies_on_the_sheet(nominal: WholeFlight) -> None:
    drawing = still(nominal, METRES, DAY)
    for shape in drawing.shapes:
        points = ((shape.x, shape.y),) if isinstance(shape, Text) else shape.points
        assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in points), shape


def test_marks_lie_on_the_curve(nominal: WholeFlight) -> None:
    drawing = still(nominal, METRES, DAY)
    marks = [s for s in drawing.shapes if isinstance(s, Area) and len(s.points) == 4]
    assert len(marks) == len(nominal.report.events)
