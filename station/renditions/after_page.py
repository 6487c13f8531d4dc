"""The page after landing: did it open, may I walk up, what to change. One HTML document, whole in itself. Pure.

It needs no script (the one that it has only prints), and its own content policy lets nothing be fetched. Printed it is
the one-page flight record.
"""

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from html import escape

import station
from station.advice import Advice, Topic
from station.advice.against_prediction import Difference
from station.advice.wording import WITH_A_BAR, with_bar
from station.after_landing import CheckReport
from station.both_units import rate
from station.check_report import headline, rate_under, reckoned, verdict_words
from station.flight_state import Deployment, EventName
from station.place_words import TRUE_NORTH, whereabouts_text
from station.plan_gaps import not_judged
from station.renditions.after_curves import evidence_curve, flight_curve
from station.renditions.after_words import (
    WHAT_A_CHARGE_IS,
    WHO_DECIDES,
    before_walking_up,
    facts,
    is_by_motor,
    keep_clear,
    kind_of,
    other_alerts,
    parachute_title,
    what_it_is,
)
from station.renditions.course import gaps
from station.renditions.flight_record import flight_record
from station.renditions.ground_view import ground_view
from station.renditions.still import date_words
from station.renditions.words import SIGNS, answer, height_in_both, speed_in_both, verdict
from station.sentences_in_feet import with_feet
from station.whole_flight import WholeFlight

PRINT_SCRIPT = 'const b=document.getElementById("print");b.hidden=false;b.addEventListener("click",()=>window.print());'
HOW_TO_READ = (
    "Upper curve: height, with every reading as a dot. Lower curve: how fast it was coming down, with its error as a "
    "band; a parachute that holds the fall makes it drop, or grow no further."
)
DASHED = "Dashed: when the altimeter said that it fired the charge."
FULL = "Full: from when the descent shows that the parachute held the fall."
MADE_BY = "rocket ground station: after landing"
"""What the page calls its maker, by which an older page is known."""
HOW_SURE = f"{WITH_A_BAR}."


@dataclass(frozen=True, slots=True)
class Served:
    """What a page has that a station serves: the way back, and whether lines still come in."""

    live_page: str
    still_listening: bool


def after_page(flight: WholeFlight, style: str, *, day: datetime | None = None, served: Served | None = None) -> str:
    """The HTML document. `day` is when it flew, in the time that the reader lives by; `served` None for a file."""
    report = flight.report
    return "\n".join(
        [
            *document_head(f"{flight.name}: after landing", style, PRINT_SCRIPT),
            '<body><div class="screen">',
            _header(flight, day, served),
            "<main>",
            _answer(report),
            _walk_up(report),
            *(_parachute(flight, d, key) for d, key in zip(report.deployments, _keys(report), strict=True)),
            _next_time(report.next_time.advice),
            _whole_flight(flight),
            _figures(report),
            _prediction(report.next_time.differences),
            _where(report),
            _not_judged(flight),
            "</main>",
            f"<footer><p>Worked out by the rocket ground station {station.__version__} from {escape(report.file)}. "
            "Confirmed means that the descent fitted an open parachute. It does not mean that anybody may walk "
            "there.</p></footer>",
            "</div>",
            flight_record(flight, day, f"Rocket ground station {station.__version__}"),
            f"<script>{PRINT_SCRIPT}</script>",
            "</body></html>",
            "",
        ]
    )


def document_head(title: str, style: str, script: str | None = None) -> list[str]:
    """From the doctype to the end of the head, with a policy (https://www.w3.org/TR/CSP3/) of the parts' hashes."""
    scripts = "" if script is None else f"script-src {_hash(script)}; "
    policy = (
        f"default-src 'none'; img-src data:; style-src {_hash(style)}; {scripts}base-uri 'none'; form-action 'none'"
    )
    return [
        "<!DOCTYPE html>",
        '<html lang="en"><head>',
        '<meta charset="utf-8">',
        f'<meta name="generator" content="{MADE_BY}">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{escape(title)}</title>",
        '<link rel="icon" href="data:,">',
        f"<style>{style}</style></head>",
    ]


def _hash(part: str) -> str:
    return f"'sha256-{b64encode(sha256(part.encode()).digest()).decode()}'"


def _sign(kind: str) -> str:
    return f'<span class="sign" aria-hidden="true">{SIGNS.get(kind, "")}</span>'


def _paragraphs(texts: Sequence[str], kind: str = "") -> str:
    opening = f'<p class="{kind}">' if kind else "<p>"
    return "".join(f"{opening}{escape(text)}</p>" for text in texts)


def _header(flight: WholeFlight, day: datetime | None, served: Served | None) -> str:
    when = "" if day is None else f'<p class="day">{date_words(day)}, {day:%H:%M}</p>'
    links = ""
    if served is not None:
        links = f'<a href="{escape(served.live_page)}">Live page</a>'
        if served.still_listening:
            links += '<a href="">Look again: more may have been heard since</a>'
    return (
        f'<header><h1>{escape(flight.name)}</h1>{when}<nav aria-label="This page">{links}'
        '<button type="button" id="print" hidden>Print the flight record</button></nav></header>'
    )


def _answer(report: CheckReport) -> str:
    kind, _ = answer(report)
    chutes = "".join(
        f"<li>{_sign(kind_of(report, d))}<b>{escape(parachute_title(report, d))}</b>: "
        f"{escape(verdict_words(report, d))}.</li>"
        for d in report.deployments
    )
    return (
        f'<section class="answer {kind}" aria-labelledby="answer"><h2 id="answer">{_sign(kind)}'
        f"<span>{escape(headline(report))}</span></h2><ul>{chutes}</ul></section>"
        + _paragraphs(other_alerts(report), "note")
    )


def _walk_up(report: CheckReport) -> str:
    why = keep_clear(report)
    charge = _paragraphs([WHAT_A_CHARGE_IS], "quiet")
    caution = before_walking_up(report)
    if why:
        top = f'<div class="keep-clear"><h2 id="walk-up">Keep clear</h2>{_paragraphs(why)}</div>'
    else:
        top, caution = '<h2 id="walk-up">May I walk up?</h2>', f"{WHO_DECIDES} {caution}"
    return f'<section aria-labelledby="walk-up">{top}{_paragraphs([caution], "caution")}{charge}</section>'


def _keys(report: CheckReport) -> list[str]:
    """What is explained below each parachute's drawing: every kind of line once, where it is first drawn."""
    keys, told = [], set()
    for n, d in enumerate(report.deployments):
        said = [HOW_TO_READ] if n == 0 else []
        for line, is_drawn in ((DASHED, d.fired_t_ms is not None), (FULL, d.opened_t_ms is not None)):
            if is_drawn and line not in told:
                told.add(line)
                said.append(line)
        keys.append(" ".join(said))
    return keys


def _parachute(flight: WholeFlight, d: Deployment, key: str) -> str:
    report = flight.report
    kind = kind_of(report, d)
    channel = f", channel {d.channel}" if d.channel is not None else ""
    rows = "".join(
        f'<div class="{fact_kind}"><dt>{escape(what)}</dt><dd>{escape(much)}</dd></div>'
        for fact_kind, what, much in facts(flight, d)
    )
    reasons = _paragraphs([with_feet(reason) for reason in d.reasons])
    caption = f'<figcaption class="quiet">{key}</figcaption>' if key else ""
    heading = f"{d.role.value}-evidence"
    return (
        f'<section class="parachute {kind}" aria-labelledby="{heading}">'
        f'<h2 id="{heading}">{_sign(kind)}{escape(parachute_title(report, d))}{channel}: '
        f'{escape(verdict_words(report, d))}</h2><p class="quiet">{escape(what_it_is(report, d))}</p>'
        f'<div class="evidence-columns"><div><div class="reasons">{reasons}</div>'
        f"<dl>{rows}</dl></div><figure>{evidence_curve(flight, d)}{caption}</figure></div></section>"
    )


def _next_time(advice: Sequence[Advice]) -> str:
    if not advice:
        return ""
    changes = [_advice(piece) for piece in advice if piece.change]
    others = [piece for piece in advice if not piece.change]
    parts = changes or ["<p>Nothing stands out that should be changed.</p>"]
    if others:
        items = "".join(f"<li>{escape(with_feet(piece.headline))}{_details(piece)}</li>" for piece in others)
        parts.append(f'<h3>Worth knowing</h3><ul class="knowing">{items}</ul>')
    return (
        '<section aria-labelledby="next-time"><h2 id="next-time">What to change next time</h2>'
        f'<p class="quiet">{HOW_SURE}</p>{"".join(parts)}</section>'
    )


def _advice(piece: Advice) -> str:
    caution = "" if piece.caution is None else f'<p class="caution">{escape(with_feet(piece.caution))}</p>'
    reasons = f"{_paragraphs([with_feet(sentence) for sentence in piece.reasoning])}{_source(piece)}"
    # Nobody is told what to do about a charge before what to mind.
    said = f"{caution}{reasons}" if piece.topic is Topic.CHARGES else f"{reasons}{caution}"
    return f'<article class="change"><h3>{escape(with_feet(piece.headline))}</h3>{said}</article>'


def _source(piece: Advice) -> str:
    said = "" if piece.source is None else f"Where this is from: {with_feet(piece.source)}."
    return _paragraphs([said], "quiet") if said else ""


def _details(piece: Advice) -> str:
    texts = [with_feet(sentence) for sentence in piece.reasoning]
    if piece.caution is not None:
        texts.append(with_feet(piece.caution))
    if not texts:
        return ""
    return f"<details><summary>Why</summary>{_paragraphs(texts)}{_source(piece)}</details>"


def _whole_flight(flight: WholeFlight) -> str:
    beside = "" if flight.report.next_time.prediction is None else " The dotted line is what was predicted."
    return (
        '<section aria-labelledby="flight"><h2 id="flight">The whole flight</h2>'
        f'<p class="quiet">Height above the pad against seconds from liftoff; nothing is drawn where nothing was heard.'
        f"{beside}</p><figure>{flight_curve(flight, 800.0, 300.0, 'flight wide')}"
        f"{flight_curve(flight, 400.0, 320.0, 'flight narrow')}</figure></section>"
    )


def _figures(report: CheckReport) -> str:
    s = report.summary
    rows: list[tuple[str, str]] = []
    if s.apogee_m is not None and s.apogee_isa_m is not None:
        source = "given" if report.snapshot.temperature_is_given else "by the altimeter’s own sensor"
        temperature = report.snapshot.air_temperature_c
        air = "" if temperature is None else f", corrected for air of {temperature:.0f} °C ({source})"
        rows.append((f"Highest, above the pad{air}", height_in_both(s.apogee_m) + reckoned(report)))
        rows.append(("The same in standard air, as altimeters report it", height_in_both(s.apogee_isa_m)))
    if s.max_speed_mps is not None:
        rows.append(("Fastest, upwards", speed_in_both(s.max_speed_mps)))
    if s.burn_time_s is not None:
        rows.append(("Motor burned", f"{s.burn_time_s:.2f} s"))
    if s.coast_time_s is not None:
        rows.append(("Then coasted to the highest point", f"{s.coast_time_s:.2f} s"))
    for d in report.deployments:
        under = rate_under(report, d.role)
        if under is not None:
            name = "parachute" if is_by_motor(report) else d.role.value
            rows.append((f"Down under the {name}", rate(under)))
    if s.flight_time_s is not None:
        rows.append(("In the air", f"{s.flight_time_s:.1f} s"))
    return _listed("figures", "The flight in figures", rows)


def _listed(name: str, title: str, rows: Sequence[tuple[str, str]]) -> str:
    items = "".join(f"<div><dt>{escape(what)}</dt><dd>{escape(much)}</dd></div>" for what, much in rows)
    return f'<section aria-labelledby="{name}"><h2 id="{name}">{title}</h2><dl class="figures">{items}</dl></section>'


def _prediction(found: Sequence[Difference]) -> str:
    if not found:
        return ""
    rows = "".join(
        f'<tr><th scope="row">{escape(each.name.capitalize())}</th><td>{escape(_flown(each))}</td>'
        f"<td>{escape(_value(each.predicted, each.unit))}</td><td>{escape(_difference(each))}</td></tr>"
        for each in found
    )
    return (
        '<section aria-labelledby="prediction"><h2 id="prediction">Beside what was predicted</h2>'
        '<table class="prediction"><thead><tr><td></td><th scope="col">Flown</th><th scope="col">Predicted</th>'
        f'<th scope="col">Difference</th></tr></thead><tbody>{rows}</tbody></table>'
        f'<p class="quiet">{HOW_SURE}</p></section>'
    )


def _flown(each: Difference) -> str:
    return with_feet(with_bar(each.flown, each.sigma, each.unit))


def _value(value: float, unit: str) -> str:
    return with_feet(f"{value:.{2 if unit == 's' else 0}f} {unit}")


def _difference(each: Difference) -> str:
    said = with_feet(f"{each.difference:+.{2 if each.unit == 's' else 0}f} {each.unit}")
    return said if each.is_plain else f"{said}, within the error"


def _where(report: CheckReport) -> str:
    lines = whereabouts_text(report.snapshot)
    if not lines:
        return ""
    view = ground_view(report.snapshot.whereabouts, f"Plan of the ground, north up. {lines[0].strip()}")
    drawn = "" if view is None else f"<figure>{view}</figure>"
    carry = ""
    if report.snapshot.whereabouts.place is not None:
        carry = f"For the map on a phone: station find {report.file} --gpx rocket.gpx"
    notes = [TRUE_NORTH, carry] if drawn else []
    return (
        '<section aria-labelledby="where"><h2 id="where">Where it lies</h2><div class="evidence-columns"><div>'
        f"{_paragraphs([line.strip() for line in lines])}{_paragraphs([n for n in notes if n], 'quiet')}</div>{drawn}"
        "</div></section>"
    )


def _not_judged(flight: WholeFlight) -> str:
    report = flight.report
    link = report.snapshot.link
    items = []
    lacking = not_judged(report.plan)
    if lacking:
        why = "there was no flight plan" if report.plan is None else "the plan does not say enough"
        items.append(f"Because {why}, not judged: {'; '.join(lacking)}.")
    items += [
        f"{parachute_title(report, d)}: {' '.join(with_feet(reason) for reason in d.reasons)}"
        for d in report.deployments
        if verdict(d)[0] == "unknown" and d.reasons
    ]
    holes = gaps(flight)
    if holes:
        longest = max(end - start for start, end in holes)
        items.append(f"Nothing was heard for {longest:.1f} s at the longest: what happened then is not observed.")
    if not any(event.name is EventName.TOUCHDOWN for event in report.events):
        items.append("The landing was not observed.")
    if report.torn:
        items.append("The file ends in the middle of a line, as after a power cut; that line was left out.")
    restarts = f", and the altimeter restarted {link.restarts} times" if link.restarts else ""
    heard = f"{link.good:,} lines were heard and {link.lost:,} lost ({100.0 * link.loss_fraction:.1f} %){restarts}."
    body = "".join(f"<li>{escape(item)}</li>" for item in items) or "<li>Nothing was left out.</li>"
    return (
        '<section aria-labelledby="not-judged"><h2 id="not-judged">What was not judged, and why</h2>'
        f'<ul class="knowing">{body}</ul><p class="quiet">{escape(heard)}</p>'
        "</section>"
    )


def waiting_page(said: str, style: str, live_page: str, so_far: str | None = None) -> str:
    """The page in place of one that cannot be shown (yet): why, and where else to look."""
    link = "" if so_far is None else f'<p><a href="{escape(so_far)}">Show what is known so far</a></p>'
    return "\n".join(
        [
            *document_head("After landing", style),
            '<body class="waiting"><main><h1>After landing</h1>'
            f'<p role="status">{escape(said)}</p><p><a href="{escape(live_page)}">Live page</a></p>{link}</main>'
            "</body></html>",
            "",
        ]
    )
