"""The usual way, to compare with: `dcc.Interval` asks five times a second, three figures are built anew each time."""

import logging
import threading

from dash import Dash, Input, Output, dcc, html
from plotly.graph_objects import Figure, Scatter
from waitress.server import create_server

from station.session import FlightSession

EVERY_MS = 200
QUANTITIES = ("altitude_m", "velocity_mps", "acceleration_mps2")


def serve_interval_page(session: FlightSession) -> str:
    """Serve it with a thread for each of 20 viewers; returns its address."""
    app = Dash("interval_page", enable_mcp=False, add_log_handler=False)
    graphs = [dcc.Graph(id=name, animate=False) for name in QUANTITIES]
    app.layout = html.Div([dcc.Interval(id="tick", interval=EVERY_MS), *graphs])

    @app.callback([Output(name, "figure") for name in QUANTITIES], Input("tick", "n_intervals"))
    def rebuild(_count: int | None) -> list[Figure]:
        points = session.points(0)
        times = [point.t_ms for point in points]
        return [Figure(Scatter(x=times, y=[getattr(point, name) for point in points])) for name in QUANTITIES]

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    server = create_server(app.server, host="127.0.0.1", port=0, threads=24)
    threading.Thread(target=server.run, daemon=True).start()
    return f"http://127.0.0.1:{server.effective_port}/"
