"""The Dash application: layout from Dash components, scripts and styles from `dashboard/assets`, no callbacks."""

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
