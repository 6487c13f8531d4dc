"""The panel that says where the rocket is: range, bearing, age and quality, and a plan of the ground.

It is there from the descent on, when there are satellite fixes or a wind to go by. Text and drawing come from
`assets/place.js` and `assets/plan_view.js`.
"""

from typing import Any

from dash import html


def place_panel() -> Any:
    """The panel, empty and hidden. The same elements stand in `assets/watch.html`."""
    spoken: Any = {"aria-label": "Where the rocket is"}
    return html.Section(
        [
            html.H2("Where", id="where-title"),
            html.P(
                [
                    html.Span("", id="where-range", className="where-range"),
                    html.Span("", id="where-direction", className="where-direction"),
                ],
                className="where-line",
            ),
            html.P("", id="where-quality", className="where-quality"),
            html.P("", id="where-note", className="where-note"),
            # Dash has no svg element: the script puts it in.
            html.Div([], id="plan-view", className="plan-view"),
            html.P("", id="where-coordinates", className="where-coordinates"),
        ],
        id="where",
        className="panel where-panel",
        hidden=True,
        **spoken,
    )
