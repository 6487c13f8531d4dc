"""Pieces of a plot: where values stand, and that the marks' names keep out of each other's way."""

import re

from station.renditions.plot import Mark, Panel, drawing, rows_of, text

PANEL = Panel(100.0, 300.0, 20.0, 120.0, 10.0, 20.0, 0.0, 50.0)


def test_time_runs_to_the_right_and_height_upwards() -> None:
    assert (PANEL.x(10.0), PANEL.x(15.0), PANEL.x(20.0)) == (100.0, 200.0, 300.0)
    assert (PANEL.y(0.0), PANEL.y(25.0), PANEL.y(50.0)) == (120.0, 70.0, 20.0)


def test_what_is_outside_stays_at_the_edge() -> None:
    assert (PANEL.y(-5.0), PANEL.y(80.0)) == (120.0, 20.0)


def test_feet_stand_where_their_metres_are() -> None:
    """The foot is 0.3048 m, exact (1959 agreement): 100 ft is 30.48 m."""
    (y,) = re.findall(r'y="([\d.]+)" text-anchor="start">100<', PANEL.axis("Height", "m"))
    assert float(y) - 4.0 == 120.0 - 2.0 * 30.5  # 30.48 m at 2 px a metre, to the tenth of a pixel


def test_names_of_marks_close_together_stand_in_rows_of_their_own() -> None:
    marks = [Mark(12.0, "reported fired"), Mark(12.3, "holds the fall"), Mark(18.5, "touchdown")]
    rows = {mark.text: row for mark, row, _ in rows_of(marks, PANEL)}
    assert rows["reported fired"] != rows["holds the fall"]


def test_a_mark_s_line_does_not_go_through_a_name_below_it() -> None:
    marks = [Mark(10.2, "highest point"), Mark(10.4, "reported fired"), Mark(11.6, "holds the fall")]
    placed = rows_of(marks, PANEL)
    spans = {m.text: (PANEL.x(m.t_s), PANEL.x(m.t_s) + 7.0 * len(m.text), row) for m, row, _ in placed}
    x, _, own = spans["holds the fall"]
    assert not [name for name, (a, b, row) in spans.items() if row > own and a < x < b]


def test_a_name_near_the_right_edge_stands_before_its_line() -> None:
    ((_, _, before),) = rows_of([Mark(19.8, "a long name that has no room")], PANEL)
    assert before


def test_whatever_is_said_is_text() -> None:
    assert "<b>" not in text(0.0, 0.0, "<b>", "tick") + drawing(1.0, 1.0, '"><b>', [], "flight")
