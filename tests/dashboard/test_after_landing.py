"""The page after landing of a session: when it comes, of what, and what stands there until then."""

from pathlib import Path

import pytest

from dashboard.after_landing import FAULT, NOT_RECORDED, STILL_LISTENING, WORKING, AfterLanding
from station.flight_log import EntryKind, FlightFile, LogEntry
from station.flight_state import Phase


@pytest.fixture
def landed(make_flight):
    flight = make_flight("main-silent", 4)
    flight.feed_rest()
    return flight


def saved(flight) -> FlightFile:
    entries = tuple(LogEntry(EntryKind.LINE, at_us, line) for at_us, line in flight.lines)
    return FlightFile("one.flight", None, entries, torn=False, damaged=0)


def test_while_it_flies_the_page_says_that_the_station_listens(make_flight):
    flight = make_flight()
    flight.feed_to(Phase.COAST)
    answer = AfterLanding(flight.session, lambda: pytest.fail("read while it flies")).answer()
    assert STILL_LISTENING in answer.html
    assert answer.again_s is not None


def test_on_the_ground_the_whole_record_is_judged_while_the_asker_waits_for_nothing(landed, until):
    after = AfterLanding(landed.session, lambda: saved(landed))
    first = after.answer()
    assert WORKING in first.html
    assert first.again_s is not None
    until(lambda: "LOOK HERE" in after.answer().html)
    answer = after.answer()
    assert answer.again_s is None
    assert "Keep clear" in answer.html


def test_what_is_known_so_far_can_be_asked_for(make_flight, until):
    flight = make_flight()
    flight.feed_to(Phase.DOWN)
    other = make_flight()
    other.feed_to(Phase.DESCENT)
    after = AfterLanding(other.session, lambda: saved(flight))
    until(lambda: "May I walk up?" in after.answer(so_far=True).html)


def test_a_log_that_cannot_be_read_is_said_to_be_so(landed, until):
    landed.session.set_recording(str(Path("gone") / "one.flight"))
    after = AfterLanding(landed.session)
    until(lambda: "does not exist" in after.answer().html)


def test_without_a_recording_the_page_says_so(landed):
    landed.session.set_recording(None)
    assert NOT_RECORDED in AfterLanding(landed.session).answer().html


def test_a_fault_of_the_station_is_not_the_reader_s(landed, until, caplog):
    def broken() -> FlightFile:
        raise ZeroDivisionError

    after = AfterLanding(landed.session, broken)
    until(lambda: FAULT in after.answer().html)
    assert "could not be made" in caplog.text
