"""The flight's figure: altitude, velocity and acceleration over one time axis, as Plotly's own plain dict. Pure.

The page's script fills the traces, finds each by its `meta`, and sets colours, titles and ranges for the viewer's
theme and units; what the figure is made of is decided here. The band around each curve and the error bars are two
standard deviations to each side. Dotted is the plan, dashed what is still to come.
"""

from dataclasses import dataclass
from typing import Any

Figure = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Panel:
    """One of the stacked plots: what it shows, its axis number and the share of the height it takes, bottom to top."""

    quantity: str
    title: str
    axis: str
    colour: str
    bottom: float
    top: float


# Colours: the palette of Okabe and Ito, "Color Universal Design" (2008), made to be told apart by everybody.
PANELS = (
    Panel("altitude", "Altitude", "", "#0072B2", 0.47, 1.0),
    Panel("velocity", "Velocity", "2", "#D55E00", 0.235, 0.43),
    Panel("acceleration", "Acceleration", "3", "#009E73", 0.0, 0.195),
)


def flight_figure() -> Figure:
    """The empty figure. Plotly draws it as it stands; `dashboard/assets/curve.js` fills it."""
    layout: Figure = {
        "showlegend": False,
        "hovermode": "x",
        "dragmode": "zoom",
        "margin": {"l": 58, "r": 10, "t": 64, "b": 28},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "xaxis": {"anchor": "y3", "range": [-5, 30], "zeroline": False, "ticksuffix": " s", "nticks": 9},
    }
    data: list[Figure] = []
    for panel in PANELS:
        layout[f"yaxis{panel.axis}"] = {
            "anchor": "x",
            "domain": [panel.bottom, panel.top],
            "range": [0, 1],
            "zeroline": True,
            "nticks": 6 if panel.quantity == "altitude" else 4,
        }
        data += _traces(panel)
    data += [_marks("events", {"size": 9, "symbol": "diamond", "line": {"width": 1.5}}), _expected()]
    return {"data": data, "layout": layout}


def _marks(meta: str, marker: Figure) -> Figure:
    """Points on the altitude plot."""
    place: Figure = {"type": "scatter", "xaxis": "x", "yaxis": "y", "x": [], "y": []}
    return place | {"meta": meta, "mode": "markers", "marker": marker, "hoverinfo": "skip"}


def _expected() -> Figure:
    """The end of what is still to come, with its error bars."""
    bar: Figure = {"type": "data", "array": [], "thickness": 2, "width": 4, "visible": True}
    marker = {"size": 7, "symbol": "circle"}
    return _marks("expected", marker) | {"error_x": bar, "error_y": dict(bar)}


def _traces(panel: Panel) -> list[Figure]:
    axes = {"type": "scatter", "xaxis": "x", "yaxis": f"y{panel.axis}", "x": [], "y": []}
    band = {
        "meta": f"{panel.quantity} band",
        "mode": "lines",
        "line": {"width": 0},
        "fill": "toself",
        "fillcolor": f"{panel.colour}40",
        "hoverinfo": "skip",
    }
    line = {
        "meta": panel.quantity,
        "name": panel.title,
        "mode": "lines",
        "line": {"color": panel.colour, "width": 2.5, "simplify": False},
    }
    plan = {"meta": f"{panel.quantity} plan", "mode": "lines", "line": {"width": 2, "dash": "dot"}, "hoverinfo": "skip"}
    ahead = {
        "meta": f"{panel.quantity} ahead",
        "mode": "lines",
        "line": {"color": panel.colour, "width": 2.5, "dash": "dash"},
        "hoverinfo": "skip",
    }
    if panel.quantity == "acceleration":
        return [axes | band, axes | line]
    return [axes | band, axes | plan, axes | line, axes | ahead]
