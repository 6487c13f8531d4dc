"""What is on the operator's page, as Dash components. Their text is filled by the scripts in `dashboard/assets`.

The page has three faces in its main panel: before the flight what is known of readiness, in flight the large
figures, after touchdown the answer. The scripts show one of them by the flight's phase.
"""

import json
from typing import Any

from dash import html

from dashboard.figures import flight_figure
from dashboard.place_panel import place_panel

NOBODY_BUT_THE_RSO = (
    "The station reports what it hears and never that a rocket may fly: the range safety officer decides."
)
APPROACH = (
    "A charge not reported fired may still be live: keep clear. The range safety officer and the "
    "altimeter maker's instructions decide how to approach."
)


def page_layout(*, operator: bool, playback: bool, marks: bool) -> Any:
    """The whole page; a spectator's has no means to mark or to steer a replay."""
    return html.Div(
        [
            _bar(marks=operator and marks and not playback),
            html.Section(id="alerts", className="alerts", hidden=True, **_aria(label="Alerts")),
            html.Div(id="announce-alert", className="only-heard", role="alert"),
            html.Main([_now(), place_panel(), _curve(), _parachutes(), _story(), _link()], className="panels"),
            html.Footer(id="replay", className="replay", hidden=True, **_aria(label="Replay")),
        ],
        id="page",
        className="page",
        **_data(operator="yes" if operator else "no", playback="yes" if playback else "no"),
    )


def _aria(**attributes: str) -> Any:
    return {f"aria-{name}": value for name, value in attributes.items()}


def _data(**attributes: str) -> Any:
    return {f"data-{name}": value for name, value in attributes.items()}


def _bar(*, marks: bool) -> Any:
    buttons = [
        _button("units-button", "Units"),
        _button("theme-button", "Light or dark"),
        _button("sound-button", "Sound"),
        _button("voice-button", "Voice"),
        _button("share-button", "Share"),
        _button("help-button", "Help"),
    ]
    if marks:
        buttons.insert(0, _button("mark-button", "Mark"))
    return html.Header(
        [
            html.H1("Ground station", id="unit-name"),
            html.P("", id="source-line", className="source"),
            html.P("", id="recording-line", className="source"),
            html.Div(buttons, className="buttons", role="group", **_aria(label="Settings")),
        ],
        className="bar",
    )


def _button(identifier: str, text: str) -> Any:
    return html.Button(text, id=identifier, type="button")


def _now() -> Any:
    return html.Section(
        [
            html.Div(
                [html.H2("Connecting", id="phase", className="phase"), html.P("", id="heard", className="heard")],
                className="moment",
            ),
            html.Div([_flight(), _before(), _after()], className="faces"),
        ],
        id="now",
        className="panel now",
        **_aria(label="Now"),
    )


def _flight() -> Any:
    return html.Div(
        [
            html.Div(
                [_figure("altitude", "Altitude"), _figure("speed", "Vertical speed", arrow=True)], className="big"
            ),
            html.Div(
                html.Div(
                    [
                        _figure("clock", "Flight clock", role="timer"),
                        _figure("highest", "Highest so far"),
                        _figure("ahead-1", "", hidden=True),
                        _figure("ahead-2", "", hidden=True),
                    ],
                    className="small-grid",
                ),
                className="small",
            ),
        ],
        id="face-flight",
        className="face",
        hidden=True,
    )


def _figure(name: str, label: str, *, role: str = "group", arrow: bool = False, hidden: bool = False) -> Any:
    number = [html.Span("–", id=name, className="digits"), html.Span("", id=f"{name}-unit", className="unit")]
    if arrow:
        number.insert(0, html.Span("", id=f"{name}-arrow", className="arrow", **_aria(hidden="true")))
    return html.Div(
        [html.Span(label, id=f"{name}-label", className="label"), html.Span(number, className="number")],
        id=f"{name}-box",
        className="figure",
        role=role,
        hidden=hidden,
        **_aria(labelledby=f"{name}-label"),
    )


def _before() -> Any:
    return html.Div(
        [
            html.Ul([], id="readiness", className="readiness", **_aria(label="What is known before the flight")),
            html.P(NOBODY_BUT_THE_RSO, className="caution"),
        ],
        id="face-before",
        className="face",
        hidden=True,
    )


def _after() -> Any:
    return html.Div(
        [
            html.P("", id="answer", className="answer", role="status"),
            html.Dl([], id="flight-summary", className="summary", **_aria(label="The flight in figures")),
            html.Ul([], id="answer-reasons", className="reasons", **_aria(label="Why")),
            html.P(
                [APPROACH, " ", html.A("The whole answer, to print", href="/after", target="_blank")],
                className="caution",
            ),
        ],
        id="face-after",
        className="face",
        hidden=True,
    )


def _curve() -> Any:
    return html.Section(
        [
            html.H2("Curve", className="only-heard"),
            html.Div([], id="curve", className="curve", **_data(figure=json.dumps(flight_figure()))),
            html.Div([], id="marks", className="marks", **_aria(hidden="true")),
            html.P(html.Span("The curve begins at liftoff"), className="curve-note"),
            html.Button("Follow the flight", id="follow-button", type="button", className="follow", hidden=True),
        ],
        className="panel curve-panel",
        **_aria(label="Curve"),
    )


def _parachutes() -> Any:
    return html.Section(
        [
            html.H2("Parachutes", className="only-heard"),
            html.Div(html.P("Not known yet.", className="quiet"), id="parachutes", className="parachutes"),
        ],
        className="panel parachutes-panel",
        **_aria(label="Parachutes"),
    )


def _link() -> Any:
    return html.Section(
        [
            html.H2("Link"),
            html.Dl([], id="link-facts", className="facts"),
            html.Div(id="link-strip", className="strip", role="img", **_aria(label="The last minute of the link")),
            html.P("", id="link-note", className="strip-note"),
        ],
        className="panel link-panel",
        **_aria(label="Link"),
    )


def _story() -> Any:
    return html.Section(
        [
            html.H2("Story"),
            html.Div(html.Ol([], id="story"), className="story", role="log", tabIndex="0", **_aria(label="Events")),
        ],
        className="panel story-panel",
        **_aria(label="Story"),
    )
