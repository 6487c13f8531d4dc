"""The page after landing and its flight record as text: the answer in the check's own words, and what to mind."""

import re
from base64 import b64encode
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from station.check_report import headline
from station.flight_log import read_flight_file
from station.plan import FlightPlan
from station.prediction import prediction_of
from station.renditions.after_page import PRINT_SCRIPT, Served, after_page, waiting_page
from station.renditions.after_words import keep_clear
from station.renditions.flight_record import CERTIFIES_NOTHING
from station.renditions.page_parts import after_style
from station.sentences_in_feet import with_feet
from station.whole_flight import WholeFlight, whole_flight

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"
DAY = datetime(2031, 5, 4, 9, 30)
HOSTILE = "</title><script>alert(1)</script><img src=x onerror=alert(2)> \"'&"
# Of each verdict that a parachute can have, a flight.
FLIGHTS = (
    "nominal-dual", "tangled-drogue", "tangled-main", "main-stays-in", "main-at-apogee", "main-silent",
    "behind-the-trees", "late-ejection", "early-ejection", "ballistic", "satellite-fixes",
)  # fmt: skip
Judged = Callable[..., WholeFlight]


def page_of(flight: WholeFlight, served: Served | None = None) -> str:
    return after_page(flight, after_style(), day=DAY, served=served)


def text_of(html: str) -> str:
    """What a reader sees, tags left out."""
    bare = re.sub(r"<(script|style|svg).*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare)))


def parts(html: str) -> tuple[str, str]:
    """The screen's text and the printed record's."""
    screen, record = html.split('<section class="record"')
    return text_of(screen), text_of('<section class="record"' + record)


class Tags(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_answer_comes_first_in_the_check_s_words_and_every_reason_is_there(flight_of: Judged, name: str) -> None:
    flight = flight_of(f"{name}.flight")
    screen, record = parts(page_of(flight))
    assert screen.index(headline(flight.report)) < screen.index("next time")
    assert headline(flight.report) in record
    for deployment in flight.report.deployments:
        for reason in deployment.reasons:
            assert with_feet(reason) in screen
            assert with_feet(reason) in record
    for piece in flight.report.next_time.advice:
        assert with_feet(piece.headline) in screen
    assert "local law decide" in screen


@pytest.mark.parametrize("name", ["main-silent", "behind-the-trees", "ballistic"])
def test_a_charge_not_known_to_have_fired_raises_the_caution(flight_of: Judged, name: str) -> None:
    screen, record = parts(page_of(flight_of(f"{name}.flight")))
    assert screen.index("Keep clear") < screen.index("evidence" if "evidence" in screen else "Held the fall")
    for told in (screen, record):
        assert "may still be live. Keep clear; the range safety officer and the altimeter maker's" in told
    assert "NOT REPORTED FIRED" in record


@pytest.mark.parametrize("name", ["nominal-dual", "main-at-apogee", "tangled-drogue"])
def test_where_all_charges_fired_nobody_is_told_that_they_may_walk_up(flight_of: Judged, name: str) -> None:
    flight = flight_of(f"{name}.flight")
    screen, _ = parts(page_of(flight))
    assert keep_clear(flight.report) == []
    assert "May I walk up? That is for the range safety officer to say. Both charges were reported fired" in screen


def test_a_motor_s_parachute_says_when_how_far_from_the_top_and_how_fast(flight_of: Judged) -> None:
    screen, record = parts(page_of(flight_of("late-ejection.flight")))
    assert re.search(r"It began to hold 4\.\d s after the highest point, falling at 38 ± 4 m/s", screen)
    assert re.search(r"Held the fall from 13\.\d s after liftoff, 4\.\d s after the highest point, 3\d\d m", screen)
    assert "that the parachute came out speaks for it" in screen
    assert "Drogue" not in screen
    assert "Channel" not in screen
    assert "motor ejection" in record
    assert "look for damage to the airframe and cord" in record


@pytest.mark.parametrize("name", ["late-ejection", "drogue-late"])
def test_an_opening_late_and_fast_is_no_green_tick(flight_of: Judged, name: str) -> None:
    page = page_of(flight_of(f"{name}.flight"))
    assert '<section class="answer bad"' in page
    assert "✓</span><span>" not in page
    screen, record = parts(page)
    for told in (screen, record):
        assert re.search(r"LOOK HERE: (the|every) parachute opened, but (the drogue )?late and fast", told)
        assert "held the fall, confirmed by the descent, but late and fast" in told


@pytest.mark.parametrize("name", ["main-at-apogee", "nominal-dual", "drogue-late"])
def test_how_fast_it_was_when_fired_is_told_once(flight_of: Judged, name: str) -> None:
    """The row of before says it, with its error: a second figure beside it would contradict it."""
    screen, _ = parts(page_of(flight_of(f"{name}.flight")))
    assert re.search(r"Fired \d+\.\d s after liftoff, \d+ m \([\d,]+ ft\) up Held the fall", screen)


@pytest.mark.parametrize("name", FLIGHTS)
def test_a_drawing_and_its_table_say_the_same_rate(flight_of: Judged, name: str) -> None:
    page = page_of(flight_of(f"{name}.flight"))
    screen, _ = parts(page)
    for said in re.findall(r'class="rate-name"[^>]*>(?:before|after|rate): ([^<]+)<', page):
        assert with_feet(said.replace(" ± ", " m/s ± ")) in screen


@pytest.mark.parametrize(("name", "dashed", "full"), [
    ("nominal-dual", 1, 1), ("late-ejection", 0, 1), ("tangled-drogue", 1, 1), ("ballistic", 0, 0),
])  # fmt: skip
def test_only_lines_that_are_drawn_are_explained_and_once(flight_of: Judged, name: str, dashed: int, full: int) -> None:
    screen, _ = parts(page_of(flight_of(f"{name}.flight")))
    assert (screen.count("Dashed: when the altimeter said"), screen.count("Full: from when")) == (dashed, full)


@pytest.mark.parametrize("name", FLIGHTS)
def test_no_line_is_drawn_over_a_name(flight_of: Judged, name: str) -> None:
    for drawing in re.findall(r'<svg class="(?:evidence|flight)[^>]*>.*?</svg>', page_of(flight_of(f"{name}.flight"))):
        names = [drawing.find('class="rate-name"'), drawing.find('class="mark-name')]
        first = min((at for at in names if at >= 0), default=len(drawing))
        assert max(drawing.rfind("<polyline"), drawing.rfind('<path class="mark ')) < first


def test_of_a_live_charge_the_caution_comes_before_what_to_do(flight_of: Judged) -> None:
    page = page_of(flight_of("main-silent.flight"))
    advice = text_of(page[page.index('id="next-time"') :])
    assert advice.index("It may still be live. Keep clear") < advice.index("find out why") < advice.index("Test it on")


@pytest.mark.parametrize("name", FLIGHTS)
def test_no_speed_has_its_feet_twice(flight_of: Judged, name: str) -> None:
    assert not re.search(r"ft(/s)?\)\)? \(", page_of(flight_of(f"{name}.flight")))


def test_a_hard_landing_is_said_with_what_to_look_at(flight_of: Judged) -> None:
    screen, record = parts(page_of(flight_of("main-silent.flight")))
    for told in (screen, record):
        assert re.search(r"It landed hard, at 1\d m/s \(\d+ ft/s\): the airframe, the electronics and the motor", told)


def test_a_motor_s_charge_that_shows_no_parachute_keeps_people_away(flight_of: Judged) -> None:
    """The late ejection, heard no longer than to its highest point."""
    lines = read_flight_file(SAMPLES / "late-ejection.flight").lines
    flight = flight_of("late-ejection.flight")
    assert flight.liftoff_arrival_us is not None
    until_us = flight.liftoff_arrival_us + 11_000_000
    cut = whole_flight([(line, at) for line, at in lines if (at or 0) < until_us], file="cut")
    screen, _ = parts(page_of(cut))
    assert "CANNOT SAY" in screen
    assert "motor’s ejection charge is not known to have fired, and may still go off. Keep clear" in screen


def test_what_was_not_judged_is_said_with_its_reason(cut_off: WholeFlight) -> None:
    screen, _ = parts(page_of(cut_off))
    left_out = screen[screen.index("What was not judged") :]
    assert "Because there was no flight plan, not judged: which parachutes were meant" in left_out
    assert "The main's height was not seen to be reached." in left_out
    assert "The landing was not observed." in left_out


def test_a_simulation_is_drawn_and_compared() -> None:
    t_s = np.array([0.0, 1.5, 9.5, 11.0, 60.0])
    height_m = np.array([0.0, 80.0, 470.0, 460.0, 0.0])
    prediction = prediction_of(t_s, height_m, None, file="sim.csv", columns="t, h")
    lines = read_flight_file(SAMPLES / "nominal-dual.flight").lines
    page = page_of(whole_flight(lines, file="x", prediction=prediction))
    assert 'class="predicted"' in page
    screen, _ = parts(page)
    # 470 m was predicted and about 425 m flown (expected.json): 45 m lower.
    assert re.search(r"Apogee 42\d ± \d+ m \(.*?\) 470 m \(1542 ft\) -4\d m \(-1[45]\d ft\)", screen)


def test_without_one_nothing_is_compared(nominal: WholeFlight) -> None:
    assert "predicted" not in text_of(page_of(nominal).split("</style>")[1])


def test_the_place_is_told_and_drawn(flight_of: Judged) -> None:
    page = page_of(flight_of("satellite-fixes.flight"))
    screen, record = parts(page)
    assert "m (902 ft) from the pad, south-west (223°)" in screen
    assert "from the pad, south-west (223°)" in record
    assert 'class="ground"' in page


def test_the_record_certifies_nothing_and_leaves_the_signatures_blank(nominal: WholeFlight) -> None:
    _, record = parts(page_of(nominal))
    assert CERTIFIES_NOTHING in record
    # What the virtual rocket truly did, by expected.json.
    for row, truth, give in (
        (r"Highest, above the pad (\d+) m", 424.9, 5.0),
        (r"Fastest (\d+) m/s", 99.4, 2.0),
        (r"Highest point after ([\d.]+) s", 9.3, 0.1),
        (r"Landing speed ([\d.]+) ±", 5.26, 0.3),
        (r"In the air ([\d.]+) s", 47.8, 0.3),
    ):
        (told,) = re.findall(row, record)
        assert float(told) == pytest.approx(truth, abs=give)
    assert "2031-05-04 09:30" in record
    assert re.search(r"Flyer\s+Witness\s+Range safety officer\s+Date", record)


def test_the_record_has_the_plan_s_rocket_and_motor() -> None:
    """160 N s end class G and 320 N s class H; H asks for level 1 (NAR, high-power certification procedures)."""
    plan = FlightPlan(rocket_name="Little Comet", rocket_mass_kg=1.5, motor_name="H-1", total_impulse_ns=200.0)
    lines = read_flight_file(SAMPLES / "nominal-dual.flight").lines
    _, record = parts(page_of(whole_flight(lines, file="x", plan=plan)))
    for told in ("Little Comet", "1.5 kg", "H-1", "200 N s (45 lbf s), class H, asks for level 1"):
        assert told in record


def test_a_rocket_s_name_is_text_wherever_it_stands(flight_of: Judged) -> None:
    tags = Tags(page_of(flight_of("nominal-dual.flight", HOSTILE))).found
    assert [tag for tag, _ in tags].count("script") == 1
    assert "img" not in [tag for tag, _ in tags]
    assert not [name for _, attributes in tags for name in attributes if name.startswith("on")]


def test_nothing_in_it_asks_anybody_for_anything_and_only_its_own_parts_run(nominal: WholeFlight) -> None:
    """Content Security Policy, level 3: a hash is that of the element's text."""
    page = page_of(nominal, Served("/", still_listening=True))
    for tag, attributes in Tags(page).found:
        for name in ("src", "href", "srcset", "action", "data"):
            assert attributes.get(name) in (None, "data:,", "/", ""), (tag, attributes)
    assert not re.findall(r"https?://|@import|url\(", page.replace("http://www.w3.org/2000/svg", ""))
    for part in (PRINT_SCRIPT, after_style()):
        assert f"'sha256-{b64encode(sha256(part.encode()).digest()).decode()}'" in page


def test_a_served_page_leads_back_and_says_that_more_may_come(nominal: WholeFlight) -> None:
    listening, over = (page_of(nominal, Served("/", still_listening=on)) for on in (True, False))
    assert ">Live page</a>" in listening
    assert ">Live page</a>" in over
    assert "more may have been heard since" in listening
    assert "more may have been heard since" not in over
    assert "Live page" not in page_of(nominal)


def test_a_waiting_page_says_why_as_text() -> None:
    page = waiting_page("Still <b>listening</b>.", after_style(), "/", "/after?so_far=yes")
    assert "Still &lt;b&gt;listening" in page
    assert 'href="/after?so_far=yes"' in page
