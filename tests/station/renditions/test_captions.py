"""Captions, read back by libraries of other people: pysubs2 (SRT) and webvtt-py (WebVTT)."""

from io import StringIO
from itertools import pairwise

import numpy as np
import pysubs2
import pytest
import webvtt

from station.flight_state import EventName
from station.renditions.captions import flight_cues, left_out_words, srt
from station.renditions.captions import webvtt as webvtt_text
from station.renditions.units import FEET, METRES
from station.whole_flight import WholeFlight

LIFTOFF_S = 83.4


def milliseconds(time: str) -> int:
    """Of a WebVTT time."""
    hours, minutes, seconds = time.split(":")
    return round(3_600_000 * int(hours) + 60_000 * int(minutes) + 1000 * float(seconds))


def lines_at(text: str, film_s: float) -> str:
    """What an SRT player shows at a moment of the film."""
    (shown,) = [e for e in pysubs2.SSAFile.from_string(text, "srt") if e.start <= 1000 * film_s < e.end]
    return shown.plaintext


def test_both_forms_are_read_by_others_with_the_same_times_and_words(nominal: WholeFlight) -> None:
    cues = flight_cues(nominal, LIFTOFF_S, METRES)
    by_srt = [(e.start, e.end, e.plaintext) for e in pysubs2.SSAFile.from_string(srt(cues), "srt")]
    captions = webvtt.from_buffer(StringIO(webvtt_text(cues)))
    by_vtt = [(milliseconds(c.start), milliseconds(c.end), c.text) for c in captions]
    assert len(by_srt) == len(cues) > 100
    assert by_srt == by_vtt
    assert by_srt[0][:2] == (78_400, 78_900)  # five seconds before liftoff, half a second long


def test_captions_follow_each_other_without_overlap_or_hole(nominal: WholeFlight) -> None:
    cues = flight_cues(nominal, LIFTOFF_S, METRES)
    for cue, following in pairwise(cues):
        assert cue.end_s == pytest.approx(following.start_s)
        assert 0.05 <= cue.end_s - cue.start_s <= 1.0


def test_an_event_is_named_on_time_with_the_figures_of_its_moment(nominal: WholeFlight) -> None:
    text = srt(flight_cues(nominal, LIFTOFF_S, METRES))
    apogee = next(event for event in nominal.report.events if event.name is EventName.APOGEE)
    film_s = LIFTOFF_S + nominal.seconds(apogee)
    shown = lines_at(text, film_s + 0.01)
    assert f"{apogee.altitude_m:.0f} m" in shown
    assert f"Coming down - Apogee: {apogee.altitude_m:.0f} m" in shown
    assert "Apogee" not in lines_at(text, film_s - 0.05)
    assert "Apogee" not in lines_at(text, film_s + 4.0)


def test_flight_time_height_and_speed_are_those_of_the_curve(nominal: WholeFlight) -> None:
    shown = lines_at(srt(flight_cues(nominal, LIFTOFF_S, FEET)), LIFTOFF_S + 20.05)
    height_m = float(np.interp(20.0, nominal.curve.t_s, nominal.curve.altitude_m))
    assert shown.startswith("T+00:20.0   ")
    assert f"{height_m / 0.3048:.0f} ft" in shown
    assert shown.splitlines()[0].endswith(" mph down")


def test_where_nothing_was_heard_the_captions_say_so(cut_off: WholeFlight) -> None:
    text = srt(flight_cues(cut_off, LIFTOFF_S, METRES))
    shown = lines_at(text, LIFTOFF_S + cut_off.end_s + 1.0)
    assert "nothing heard" in shown
    assert "The record ends here" in shown
    assert "Touchdown" not in text


def test_what_lies_before_the_film_s_start_is_left_out(nominal: WholeFlight) -> None:
    cues = flight_cues(nominal, -9.8, METRES)
    assert cues[0].start_s >= 0.0
    # The apogee's own caption, of a moment before, still stands when the film begins.
    assert cues[0].lines[0].startswith("T+00:09.3")
    assert cues[1].lines[0].startswith("T+00:10")
    assert flight_cues(nominal, -500.0, METRES) == []


@pytest.mark.parametrize(
    ("film_liftoff_s", "words"),
    [
        (5.0, None),
        (4.5, "left out: 1 caption that comes before the film's start (flight time T-00:05.0 to T-00:04.5)"),
        (4.75, None),  # the first is cut short, and still read for a quarter of a second
        (4.51, "left out: 1 caption that comes before the film's start (flight time T-00:05.0 to T-00:04.5)"),
        (2.0, "left out: 6 captions that come before the film's start (flight time T-00:05.0 to T-00:02.0)"),
    ],
)
def test_what_is_left_out_is_counted(nominal: WholeFlight, film_liftoff_s: float, words: str | None) -> None:
    assert left_out_words(nominal, film_liftoff_s) == words


@pytest.mark.parametrize("film_liftoff_s", [4.5, 0.0, -10.0, -27.8])
def test_what_is_left_out_and_what_is_kept_are_all_captions(nominal: WholeFlight, film_liftoff_s: float) -> None:
    words = left_out_words(nominal, film_liftoff_s) or ""
    kept = len(flight_cues(nominal, film_liftoff_s, METRES))
    assert int(words.split()[2]) + kept == len(flight_cues(nominal, LIFTOFF_S, METRES))


def test_a_long_film_counts_its_hours(nominal: WholeFlight) -> None:
    first = srt(flight_cues(nominal, 2 * 3600.0 + 5.0, METRES)).splitlines()[1]
    assert first == "02:00:00,000 --> 02:00:00,500"


def test_captions_are_plain_ascii_that_any_player_shows(nominal: WholeFlight) -> None:
    assert srt(flight_cues(nominal, LIFTOFF_S, FEET)).isascii()
