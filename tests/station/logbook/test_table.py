"""The logbook as text."""

from collections.abc import Callable

import pytest

from station.flight_state import Verdict
from station.logbook.entry import LogbookEntry
from station.logbook.note import OwnersNote
from station.logbook.table import duration, logbook_table, shown_width, totals_table, verdict_words
from station.logbook.totals import by_rocket
from station.renditions.units import FEET, METRES

MakeEntry = Callable[..., LogbookEntry]
REMARKS = OwnersNote(remarks="Windy.\nA fin was lost, and the nose cone has a crack all along its side.")


def test_a_flight_is_a_row_in_the_reader_s_units(entry: MakeEntry) -> None:
    head, line = logbook_table([entry(note=REMARKS)], FEET, None).splitlines()
    assert head.split() == [
        "date",
        "rocket",
        "motor",
        "apogee",
        "speed",
        "drogue",
        "main",
        "landing",
        "remarks",
        "file",
    ]
    # 426.25 m = 1398.5 ft, 99.5 m/s = 222.6 mph, 11.5 m/s = 25.7 mph
    for part in ("Little Comet", "H90-9", "1,398 ft", "223 mph", "held the fall", "! too fast", "26 mph", "one.flight"):
        assert part in line
    assert "Windy. / A fin was lost" in line


@pytest.mark.parametrize("width", [60, 80, 100, 120, 200])
def test_no_line_is_wider_than_the_terminal_unless_figures_would_be_cut(entry: MakeEntry, width: int) -> None:
    flights = [entry(note=REMARKS), entry(plan_rocket="A rocket with a name that is far too long for any column")]
    lines = logbook_table(flights, METRES, width).splitlines()
    assert max(map(shown_width, lines)) <= max(width, 78)
    assert "426 m" in lines[1]
    assert any("Windy." in line for line in lines)


def test_columns_line_up_with_wide_characters_too(entry: MakeEntry) -> None:
    flights = [entry(plan_rocket="小彗星"), entry(plan_rocket="e\u0301toile")]
    lines = logbook_table(flights, METRES, None).splitlines()
    ends = {shown_width(line[: line.index("426 m")]) for line in lines[1:]}
    assert len(ends) == 1


def test_nothing_in_a_name_or_remark_can_steer_the_terminal(entry: MakeEntry) -> None:
    text = logbook_table([entry(plan_rocket="\x1b[2J", note=OwnersNote(remarks="a\x07b"))], METRES, None)
    assert "\x1b" not in text
    assert "\x07" not in text


def test_what_is_not_as_it_should_be_has_a_sign_before_it() -> None:
    assert verdict_words(Verdict.CONFIRMED) == "held the fall"
    assert verdict_words(Verdict.NOT_OBSERVED) == "? not observed"
    assert verdict_words(None) == "–"
    others = set(Verdict) - {Verdict.CONFIRMED, Verdict.NOT_OBSERVED}
    assert all(verdict_words(verdict).startswith("! ") for verdict in others)


def test_a_log_without_a_liftoff_says_so(entry: MakeEntry) -> None:
    text = logbook_table([entry(has_liftoff=False, apogee_m=None)], METRES, None)
    assert "Little Comet (no liftoff)" in text


def test_totals_name_what_is_not_known(entry: MakeEntry) -> None:
    flights = [entry(), entry(), entry(plan_rocket=None, unit_name=None, total_impulse_ns=None)]
    head, comet, unnamed = totals_table("by rocket", by_rocket(flights), "not named", METRES, None).splitlines()
    assert head.startswith("by rocket")
    assert "341 N s" in comet
    assert "1 min 36 s" not in comet  # 95.5 s
    assert "96 s" in comet
    assert unnamed.startswith("not named")


@pytest.mark.parametrize(
    ("seconds", "words"), [(47.4, "47 s"), (99.6, "1 min 40 s"), (3599.0, "59 min 59 s"), (3840.0, "1 h 4 min")]
)
def test_times_are_told_as_one_would(seconds: float, words: str) -> None:
    assert duration(seconds) == words
