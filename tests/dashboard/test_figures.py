import itertools

import plotly.graph_objects as go

from dashboard.figures import PANELS, flight_figure


def test_plotly_accepts_the_figure():
    go.Figure(flight_figure())


def test_three_plots_share_one_time_axis():
    figure = flight_figure()
    assert {trace["xaxis"] for trace in figure["data"]} == {"x"}
    assert {trace["yaxis"] for trace in figure["data"]} == {"y", "y2", "y3"}
    assert [name for name in figure["layout"] if name.startswith("xaxis")] == ["xaxis"]


def test_flown_planned_and_expected_are_told_apart_by_their_lines():
    by_meta = {trace["meta"]: trace for trace in flight_figure()["data"]}
    for quantity in ("altitude", "velocity", "acceleration"):
        assert "dash" not in by_meta[quantity]["line"]
        assert by_meta[f"{quantity} band"]["fill"] == "toself"
    for quantity in ("altitude", "velocity"):
        assert by_meta[f"{quantity} plan"]["line"]["dash"] == "dot"
        assert by_meta[f"{quantity} ahead"]["line"]["dash"] == "dash"
    assert {"events", "expected"} < set(by_meta)
    assert by_meta["expected"]["error_x"] is not by_meta["expected"]["error_y"]


def test_plots_do_not_overlap():
    spans = sorted((panel.bottom, panel.top) for panel in PANELS)
    assert all(below[1] < above[0] for below, above in itertools.pairwise(spans))


def test_each_call_gives_a_figure_of_its_own():
    first = flight_figure()
    first["data"][0]["x"].append(1)
    assert flight_figure()["data"][0]["x"] == []
