from typing import Any, cast

from station.pipeline import Pipeline
from station.session import FlightSession


class CountingPipeline:
    """Counts its lines; a snapshot is that number, and whether no more will come."""

    def __init__(self) -> None:
        self.track: list[Any] = []
        self.taken_back: list[Any] = []

    def take_line(self, line: bytes, arrival_us: int | None) -> None:
        self.track.append((line, arrival_us))

    def snapshot(self, *, over: bool = False) -> Any:
        return (len(self.track), over)


def new_pipeline() -> Pipeline:
    return cast(Pipeline, CountingPipeline())


def seen(session: FlightSession) -> Any:
    return session.snapshot()[1]


def test_a_restart_gives_a_new_id_no_points_and_no_marks() -> None:
    session = FlightSession(new_pipeline(), "file", lambda: 7)
    first_id = session.session_id
    session.take_line(b"@", 1)
    session.mark(2, "look")
    session.set_recording("log", "full")
    session.end_of_lines()
    version = session.snapshot()[0]
    assert seen(session) == (1, True)
    session.restart(new_pipeline())
    newer, _, status = session.snapshot()
    assert session.session_id != first_id
    assert newer > version
    assert seen(session) == (0, False)
    assert session.points(0) == []
    assert status.marks == ()
    assert (status.recording_to, status.recording_error, status.now_us) == ("log", "full", 7)


def test_the_end_of_lines_is_news_once() -> None:
    session = FlightSession(new_pipeline(), "file", lambda: 0)
    session.end_of_lines()
    version, _, _ = session.snapshot()
    session.end_of_lines()
    assert session.snapshot()[0] == version


def test_viewers_wait_for_something_newer() -> None:
    session = FlightSession(new_pipeline(), "file", lambda: 0)
    version, _, _ = session.snapshot()
    assert session.wait_newer(version, 0.0) == version
    session.take_line(b"@", None)
    assert session.wait_newer(version, 60.0) == version + 1
