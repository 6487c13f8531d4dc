from pathlib import Path

import pytest

from station.flight_log import read_flight_file
from station.flight_state import EventName
from station.pipeline import Pipeline
from station.replay import Playback
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log


def test_events_lie_where_the_flown_rocket_had_them(tmp_path: Path) -> None:
    flight = fly(SCENARIOS["nominal-dual"], 1)
    path = tmp_path / "one.flight"
    path.write_bytes(flight_log(flight))
    playback = Playback(read_flight_file(path), Pipeline)
    assert playback.events == ()
    playback.find_events()
    assert [name for name, _ in playback.events] == list(EventName)
    found = {name: position_us / 1e6 for name, position_us in playback.events}
    # By the physics that made the flight. The record begins with the first line, and a line takes a moment to come;
    # the bound is this test's own.
    truth, first_s = flight.truth, flight.lines[0].t_s
    for name, t_s in (
        (EventName.LIFTOFF, truth.liftoff_t_s),
        (EventName.DROGUE, truth.drogue.took_hold_t_s),
        (EventName.MAIN, truth.main.took_hold_t_s),
    ):
        assert t_s is not None
        assert found[name] == pytest.approx(t_s - first_s, abs=1.0)
    assert playback.position_us == 0
    assert playback.session.points(0) == []


def test_a_record_without_a_flight_has_no_events(tmp_path: Path) -> None:
    path = tmp_path / "capture.txt"
    path.write_bytes(b"@RXQ,,,-64.4,47.6*27CE\n")
    playback = Playback(read_flight_file(path), Pipeline)
    playback.find_events()
    assert playback.events == ()
