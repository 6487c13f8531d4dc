"""One HTML page that tells a flight and plays it, whole in itself: text in the page, script and style inside. Pure.

The still, story, figures and parachutes need neither script nor style, for many a preview runs or keeps neither; the
script puts the player in the still's place. The page's own content policy lets nothing be fetched and nothing run but
that one script.
"""

import json
from base64 import b64encode
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from html import escape

import station
from station.check_report import approach
from station.flight_state import Deployment
from station.renditions.player_data import player_data
from station.renditions.still import date_words
from station.renditions.units import FEET, METRES, System, Units
from station.renditions.words import (
    SIGNS,
    answer,
    clock,
    event_name,
    figures,
    role_name,
    steps,
    story,
    summary_sentence,
    verdict,
)
from station.whole_flight import WholeFlight

PACES = (0.25, 0.5, 1, 2, 4, 8, 16)
SKETCH = "The little rocket is a sketch: how it hung and turned was not measured."
TO_PLAY = "Opened in a browser, the flight plays here."
NOT_CERTAIN = (
    "Heights are above the pad, by air pressure. What is said of a parachute comes from the descent itself and is no "
    "word on whether a rocket may be approached."
)


@dataclass(frozen=True, slots=True)
class PageParts:
    """What the page is made with: its script, its style, and the still as a PNG file's bytes."""

    script: str
    style: str
    still_png: bytes


def share_page(
    flight: WholeFlight, parts: PageParts, *, day: datetime | None = None, units: System | None = None
) -> str:
    """The HTML document. `day` is when it flew; `units` None leaves the choice to the reader's own language."""
    name, summary = escape(flight.name), escape(summary_sentence(flight))
    chosen = units or System.METRES
    return "\n".join(
        [
            "<!DOCTYPE html>",
            f'<html lang="en" data-units="{chosen.value}" data-units-by="{"reader" if units is None else "maker"}">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_policy(parts)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{name}: a rocket flight</title>",
            f'<meta name="description" content="{summary}">',
            # No og:image: it is a URL that whoever reads the tag fetches (Open Graph protocol, https://ogp.me), and a
            # mailed file has no address. A data: URI would be passed over: the body's still is what a preview has.
            '<meta property="og:type" content="article">',
            f'<meta property="og:title" content="{name}: a rocket flight">',
            f'<meta property="og:description" content="{summary}">',
            '<meta name="referrer" content="no-referrer">',
            '<link rel="icon" href="data:,">',
            f"<style>{parts.style}</style>",
            "</head>",
            "<body>",
            _header(flight, day),
            "<main>",
            _answer(flight),
            _still(flight, parts.still_png),
            _player(flight),
            '<div class="columns">',
            f"<section>{_parachutes(flight, chosen)}{_cautions(flight, chosen)}</section>",
            f"<section>{_story(flight, chosen)}{_figures(flight, chosen)}</section>",
            "</div>",
            "</main>",
            f"<footer><p>{NOT_CERTAIN}</p><p>Told by the rocket ground station {station.__version__}, from the lines "
            "that the altimeter sent.</p></footer>",
            f'<script type="application/json" id="flight">{_json(flight)}</script>',
            f"<script>{parts.script}</script>",
            "</body>",
            "</html>",
            "",
        ]
    )


def _policy(parts: PageParts) -> str:
    """A Content Security Policy (https://www.w3.org/TR/CSP3/) of hashes: what is not of this page does not run."""

    def of(text: str) -> str:
        return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"

    return (
        f"default-src 'none'; img-src data:; style-src {of(parts.style)}; script-src {of(parts.script)}; "
        "base-uri 'none'; form-action 'none'"
    )


def _json(flight: WholeFlight) -> str:
    """No character of it can end the script element or begin a comment in it."""
    text = json.dumps(player_data(flight), separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _both(metres: str, feet: str, shown: System) -> str:
    """The text in both systems of units, escaped; one of them is shown, without help of the style."""
    if metres == feet:
        return escape(metres)
    in_metres, in_feet = ("", " hidden") if shown is System.METRES else (" hidden", "")
    return f'<span class="metres"{in_metres}>{escape(metres)}</span> <span class="feet"{in_feet}>{escape(feet)}</span>'


def _sentence(text: str, shown: System) -> str:
    return _both(METRES.sentence(text), FEET.sentence(text), shown)


def _sign(kind: str) -> str:
    return f'<span class="sign" aria-hidden="true">{SIGNS[kind]}</span> '


def _header(flight: WholeFlight, day: datetime | None) -> str:
    when = "" if day is None else f'<p class="day">{date_words(day)}</p>'
    return f'<header><h1>{escape(flight.name)}</h1>{when}<button type="button" id="units" hidden></button></header>'


def _answer(flight: WholeFlight) -> str:
    kind, words = answer(flight.report)
    return f'<p class="answer {kind}">{_sign(kind)}<span>{escape(words)}</span></p>'


def _still(flight: WholeFlight, png: bytes) -> str:
    # The width is an attribute too, for a preview that drops the style: as wide as the window and no wider.
    return (
        f'<div id="still" class="still"><img width="100%" alt="{escape(summary_sentence(flight))}" '
        f'src="data:image/png;base64,{b64encode(png).decode()}"><p class="quiet">{TO_PLAY}</p></div>'
    )


def _player(flight: WholeFlight) -> str:
    paces = "".join(f'<option value="{p:g}"{" selected" if p == 1 else ""}>{p:g}×</option>' for p in PACES)
    jumps = "".join(
        f'<li><button type="button" data-t="{flight.seconds(event):.3f}">{escape(event_name(event))}</button></li>'
        for event in flight.report.events
    )
    return (
        '<section id="player" class="player" aria-label="The flight, to play" hidden>'
        '<dl class="now">'
        f'<div><dt>Flight time</dt><dd id="clock">{clock(0.0)}</dd></div>'
        '<div><dt>Now</dt><dd id="phase"></dd></div>'
        '<div><dt>Altitude</dt><dd><span id="height"></span><small id="height-unit"></small></dd></div>'
        '<div><dt id="speed-label">Vertical speed</dt>'
        '<dd><span id="speed"></span><small id="speed-unit"></small></dd></div>'
        "</dl>"
        '<p id="announced" class="only-heard" role="status"></p>'
        '<canvas id="sky" role="img" aria-label="Altitude and vertical speed over time. Drag to move in time.">'
        "</canvas>"
        '<div class="controls"><button type="button" id="play">Play</button>'
        f'<label>Play speed <select id="pace">{paces}</select></label>'
        '<input type="range" id="position" step="0.05" aria-label="Moment of the flight"></div>'
        f'<ul id="jumps" class="jumps" aria-label="Go to">{jumps}</ul>'
        f'<p class="quiet">{SKETCH}</p>'
        "</section>"
    )


def _parachutes(flight: WholeFlight, shown: System) -> str:
    cards = "".join(_parachute(flight, deployment, shown) for deployment in flight.report.deployments)
    return f'<h2>Parachutes</h2><div class="parachutes">{cards}</div>'


def _parachute(flight: WholeFlight, d: Deployment, shown: System) -> str:
    kind, words = verdict(d)
    channel = "" if d.channel is None else f" · channel {d.channel}"
    pairs = zip(steps(flight, d, METRES), steps(flight, d, FEET), strict=True)
    facts = "".join(
        f'<li class="fact">{_sign(fact.kind)}<span class="what">{fact.what}</span><span class="only-heard">:</span> '
        f"<span>{_both(fact.text, in_feet.text, shown)}</span></li>"
        for fact, in_feet in pairs
    )
    why = "".join(f'<p class="why">{_sentence(reason, shown)}</p>' for reason in d.reasons)
    return (
        f'<article class="parachute {kind}"><h3><span>{role_name(d.role)}{channel}</span> '
        f"<span>{_sign(kind)}{escape(words)}</span></h3><ul>{facts}</ul>{why}</article>"
    )


def _cautions(flight: WholeFlight, shown: System) -> str:
    texts = [*(alert.text for alert in flight.report.alerts), approach(flight.report)]
    return "<h2>Cautions</h2>" + "".join(f'<p class="caution">{_sentence(text, shown)}</p>' for text in texts)


def _story(flight: WholeFlight, shown: System) -> str:
    sentences = zip(story(flight, METRES), story(flight, FEET), strict=True)
    items = "".join(
        f'<li><span class="at">{at_s:.1f} s</span> <span>{_both(metres, feet, shown)}</span></li>'
        for (at_s, metres), (_, feet) in sentences
    )
    return f'<h2>What happened</h2><ol class="story">{items}</ol>'


def _figures(flight: WholeFlight, shown: System) -> str:
    def rows(units: Units) -> list[tuple[str, str]]:
        return figures(flight.report, units)

    items = "".join(
        f"<div><dt>{escape(what)}</dt><dd>{_both(much, in_feet, shown)}</dd></div>"
        for (what, much), (_, in_feet) in zip(rows(METRES), rows(FEET), strict=True)
    )
    return f'<h2>In figures</h2><dl class="figures">{items}</dl>'
