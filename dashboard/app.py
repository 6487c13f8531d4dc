"""The Dash application: layout from Dash components, scripts and styles from `dashboard/assets`, no callbacks.

Plotly is taken from `assets/plotly-basic.min.js`, the small bundle that Plotly itself publishes as
plotly.js-basic-dist-min (MIT licence), and put on the page by `curve.js` once the text stands. Dash's own bundle has
maps and solids that no page here needs: 1.4 MB instead of 0.4 MB, and a second of a laptop's processor each time.
"""

from pathlib import Path
from typing import Any

from dash import Dash
from flask import has_request_context, request

from dashboard.access import is_operator
from dashboard.layout import page_layout

ASSETS = Path(__file__).parent / "assets"

INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="UTF-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{%title%}</title>
{%favicon%}
{%css%}
</head>
<body class="operator">
{%app_entry%}
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
"""


def make_app(*, served_on: str, playback: bool, marks: bool) -> Dash:
    """An application whose `server` is the Flask server to which the routes are added."""
    app = Dash(
        "station_page",
        assets_folder=str(ASSETS),
        assets_ignore=r"plotly-basic",
        title="Rocket ground station",
        update_title="",
        index_string=INDEX,
        serve_locally=True,
        enable_mcp=False,
        add_log_handler=False,
        use_pages=False,
    )

    def layout() -> Any:
        # Dash also asks for the layout once at start, when there is no request.
        operator = has_request_context() and is_operator(request.remote_addr or "", served_on)
        return page_layout(operator=operator, playback=playback, marks=marks)

    app.layout = layout
    return app
