"""The flight record: one printed page with the numbers that a certification witness asks about. Pure: HTML text.

What a witness asks about differs between organisations; these rows are common practice, no source.
"""

from datetime import datetime
from html import escape

from station.advice.advice import Topic
from station.advice.wording import WITH_A_BAR
from station.after_landing import CheckReport
from station.both_units import impulse, mass
from station.check_report import headline, reckoned, verdict_words
from station.flight_state import Deployment, EventName
from station.motor_class import certification_level, impulse_class
from station.place_words import whereabouts_text
from station.plan import FlightPlan
from station.renditions.after_curves import flight_curve
from station.renditions.after_rates import rates_of
from station.renditions.after_words import (
    charge_in_short,
    is_by_motor,
    keep_clear,
    other_alerts,
    parachute_title,
    with_error,
)
from station.renditions.words import height_in_both, speed_in_both
from station.sentences_in_feet import with_feet
from station.whole_flight import WholeFlight

CERTIFIES_NOTHING = (
    "This record certifies nothing. It is what one ground station worked out from an altimeter’s radio; the witness "
    "judges what was seen, by the rules of the organisation."
)
NOT_SAID = ""  # left blank, for a pen
NOT_SEEN = "not observed"


def flight_record(flight: WholeFlight, day: datetime | None, told_by: str) -> str:
    """The record as an HTML section; `day` is the liftoff by the reader's own clock, `told_by` the program's name."""
    report = flight.report
    warnings = [*keep_clear(report), *other_alerts(report)]
    return "".join(
        [
            '<section class="record" aria-label="Flight record">',
            f"<h1>Flight record: {escape(flight.name)}</h1>",
            f'<p class="certifies">{CERTIFIES_NOTHING}</p>',
            f'<p class="record-answer">{escape(headline(report))}</p>',
            *(f'<p class="record-warning">! {escape(with_feet(text))}</p>' for text in warnings[:3]),
            '<div class="record-columns">',
            _table("Rocket and motor", _rocket_rows(flight, day)),
            _table("Flight", _flight_rows(flight)),
            "</div>",
            _parachutes(flight),
            _reasons(flight),
            flight_curve(flight, 720.0, 190.0, "flight printed"),
            _by_hand(),
            f'<p class="record-foot">{escape(report.file)}. {escape(told_by)}. Heights are above the pad, by air '
            f"pressure. Rates are those at the pad’s air density; {WITH_A_BAR}.</p>",
            "</section>",
        ]
    )


def _table(caption: str, rows: list[tuple[str, str]]) -> str:
    body = "".join(f'<tr><th scope="row">{escape(what)}</th><td>{escape(much)}</td></tr>' for what, much in rows)
    return f"<table><caption>{escape(caption)}</caption><tbody>{body}</tbody></table>"


def _rocket_rows(flight: WholeFlight, day: datetime | None) -> list[tuple[str, str]]:
    plan = flight.plan or FlightPlan()
    unit = flight.report.snapshot.unit
    return [
        ("Liftoff", "" if day is None else f"{day:%Y-%m-%d %H:%M} (this computer’s clock)"),
        ("Rocket", plan.rocket_name or NOT_SAID),
        ("Mass at liftoff", NOT_SAID if plan.rocket_mass_kg is None else mass(plan.rocket_mass_kg)),
        ("Motor", plan.motor_name or NOT_SAID),
        ("Total impulse", _impulse(plan)),
        ("Recovery", "motor ejection" if is_by_motor(flight.report) else _recovery(flight.report)),
        ("Altimeter", NOT_SEEN if unit is None else unit.name),
    ]


def _impulse(plan: FlightPlan) -> str:
    if plan.total_impulse_ns is None:
        return NOT_SAID
    letter = impulse_class(plan.total_impulse_ns)
    if letter is None:
        return f"{impulse(plan.total_impulse_ns)}, beyond class O"
    level = certification_level(letter)
    asks = f", asks for level {level}" if level else ""
    return f"{impulse(plan.total_impulse_ns)}, class {letter}{asks}"


def _recovery(report: CheckReport) -> str:
    names = [d.role.value for d in report.deployments]
    return f"{' and '.join(names)}, fired by the altimeter" if names else NOT_SEEN


def _flight_rows(flight: WholeFlight) -> list[tuple[str, str]]:
    report, s = flight.report, flight.report.summary
    apogee = next((event for event in report.events if event.name is EventName.APOGEE), None)
    fastest = NOT_SEEN if s.max_speed_mps is None else speed_in_both(s.max_speed_mps)
    mach = next((piece.value for piece in report.next_time.advice if piece.topic is Topic.MACH), None)
    return [
        ("Highest, above the pad", NOT_SEEN if s.apogee_m is None else height_in_both(s.apogee_m) + reckoned(report)),
        ("As altimeters report it", NOT_SEEN if s.apogee_isa_m is None else height_in_both(s.apogee_isa_m)),
        ("Fastest", fastest + (f", Mach {mach:.2f}" if mach is not None and s.max_speed_mps is not None else "")),
        ("Burn", NOT_SEEN if s.burn_time_s is None else f"{s.burn_time_s:.1f} s"),
        ("Highest point after", NOT_SEEN if apogee is None else f"{flight.seconds(apogee):.1f} s"),
        ("In the air", NOT_SEEN if s.flight_time_s is None else f"{s.flight_time_s:.1f} s"),
        ("Landing speed", _landing(flight)),
        ("Where", _where(report)),
        ("Lines lost on the radio", f"{100.0 * report.snapshot.link.loss_fraction:.1f} %"),
    ]


def _landing(flight: WholeFlight) -> str:
    """The rate of the last parachute seen to hold, or at which it came down without."""
    if flight.report.summary.flight_time_s is None:
        return NOT_SEEN
    for d in reversed(flight.report.deployments):
        _, after = rates_of(flight, d)
        if after is not None:
            return with_error(after)
    return NOT_SEEN


def _where(report: CheckReport) -> str:
    lines = whereabouts_text(report.snapshot)
    found = report.snapshot.whereabouts
    return lines[0].partition(": ")[2] if lines and found.place is not None else "not known"


def _parachutes(flight: WholeFlight) -> str:
    heads = (
        "Parachute",
        "Charge",
        "Fired",
        "Held the fall from",
        "Height then",
        "Came down at, after",
        "What the descent shows",
    )
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in _parachute(flight, d)) + "</tr>"
        for d in flight.report.deployments
    )
    head = "".join(f'<th scope="col">{name}</th>' for name in heads)
    return (
        f'<table class="parachute-table"><caption>Parachutes (times after liftoff)</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    )


def _reasons(flight: WholeFlight) -> str:
    said = [
        f"<p><b>{escape(parachute_title(flight.report, d))}:</b> {escape(' '.join(map(with_feet, d.reasons)))}</p>"
        for d in flight.report.deployments
        if d.reasons
    ]
    return f'<div class="record-reasons">{"".join(said)}</div>'


def _parachute(flight: WholeFlight, d: Deployment) -> tuple[str, ...]:
    _, after = rates_of(flight, d)
    return (
        parachute_title(flight.report, d),
        "the motor’s" if is_by_motor(flight.report) else charge_in_short(d),
        _at(flight, d.fired_t_ms),
        _at(flight, d.opened_t_ms),
        "" if d.opened_altitude_m is None else height_in_both(d.opened_altitude_m),
        NOT_SEEN if after is None else with_error(after),
        verdict_words(flight.report, d),
    )


def _at(flight: WholeFlight, t_ms: float | None) -> str:
    return NOT_SEEN if t_ms is None else f"{(t_ms - flight.liftoff_ms) / 1000.0:.1f} s"


def _by_hand() -> str:
    """What is written with a pen: nothing of it is known here."""
    seen = "".join(f"<li>{what}</li>" for what in ("seen to come down as planned", "brought back whole", "damaged:"))
    names = "".join(f"<div><span>{who}</span></div>" for who in ("Flyer", "Witness", "Range safety officer", "Date"))
    return f'<div class="by-hand"><ul aria-label="To tick by hand">{seen}</ul><div class="lines">{names}</div></div>'
