"""The front desk with a real folder and real flights; pages are stand-ins that only note what they are asked."""

import threading
from collections.abc import Callable, Iterator
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from station.command.front_desk import MOST_REPLAYS, FrontDesk
from station.errors import FileUnreadableError, NoLiftoffError, PageError, PortError
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log
from station.virtual_port import LocalSocket

PATIENCE_S = 30.0


class StandInPages:
    """Makes pages that answer at once."""

    def __init__(self) -> None:
        self.open: list[str] = []
        self.numbers = count(1)
        self.fail = False

    def __call__(self, session: Any, host: str, port: int, **named: Any) -> "StandInPages.Page":
        return self.Page(self)

    def front(self, *arguments: Any, **named: Any) -> "StandInPages.Page":
        raise AssertionError("not asked for here")

    class Page:
        def __init__(self, pages: "StandInPages") -> None:
            self.pages = pages

        def start(self) -> str:
            if self.pages.fail:
                raise PageError("no port is free")
            self.address = f"http://page-{next(self.pages.numbers)}/"
            self.pages.open.append(self.address)
            return self.address

        def stop(self) -> None:
            self.pages.open.remove(self.address)


@cache
def log_bytes(scenario: str) -> bytes:
    return flight_log(fly(SCENARIOS[scenario], 1))


@pytest.fixture
def pages() -> StandInPages:
    return StandInPages()


@pytest.fixture
def desk(tmp_path: Path, pages: StandInPages, monkeypatch: pytest.MonkeyPatch) -> Iterator[FrontDesk]:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "flights").mkdir()
    (tmp_path / "flights/one.flight").write_bytes(log_bytes("main-silent"))
    (tmp_path / "flights/waiting.flight").write_bytes(log_bytes("main-silent")[:4000])
    desk = FrontDesk(pages, tmp_path / "flights", lambda: None)
    yield desk
    desk.close_all()


def until(condition: Callable[[], object]) -> None:
    never = threading.Event()
    for _ in range(int(PATIENCE_S / 0.02)):
        if condition():
            return
        never.wait(0.02)
    pytest.fail("it never came true")


def test_new_logs_are_judged_in_the_background(desk: FrontDesk) -> None:
    desk.refresh()
    assert desk.progress() is not None
    until(lambda: desk.progress() is None)
    book = desk.book()
    assert book is not None
    assert [entry.row.has_liftoff for entry in book.entries()] == [True, False]
    desk.refresh()
    assert desk.progress() is None


def test_a_folder_that_comes_later_is_found(tmp_path: Path, pages: StandInPages) -> None:
    desk = FrontDesk(pages, tmp_path / "later", lambda: None)
    desk.refresh()
    assert desk.book() is None
    with pytest.raises(FileUnreadableError, match="has no recorded flights"):
        desk.open_replay("one.flight")
    (tmp_path / "later").mkdir()
    assert desk.book() is not None


def test_a_replay_is_opened_on_a_page_of_its_own_and_closed_again(desk: FrontDesk, pages: StandInPages) -> None:
    told = desk.open_replay("one.flight")
    assert (told.kind, told.name, told.log) == ("replay", "one.flight", None)
    assert pages.open == [told.address]
    assert desk.running() == [told]
    desk.close(told.number)
    assert (pages.open, desk.running()) == ([], [])
    assert desk.close(told.number) is None


def test_a_flight_is_replayed_once_and_only_so_many_are(desk: FrontDesk, pages: StandInPages, tmp_path: Path) -> None:
    first, again = desk.open_replay("one.flight"), desk.open_replay("one.flight")
    assert pages.open == [again.address]
    assert first.number != again.number
    for number in range(MOST_REPLAYS):
        (tmp_path / f"flights/n{number}.flight").write_bytes(log_bytes("main-silent")[:4000])
        desk.open_replay(f"n{number}.flight")
    assert len(pages.open) == MOST_REPLAYS
    assert again.address not in pages.open


def test_what_cannot_be_opened_says_why_and_leaves_nothing_behind(desk: FrontDesk, pages: StandInPages) -> None:
    with pytest.raises(FileUnreadableError):
        desk.open_replay("../one.flight")
    with pytest.raises(PortError):
        desk.open_live("no-such-port", 57_600, None)
    with pytest.raises(FileUnreadableError, match="none of the plans"):
        desk.open_live("no-such-port", 57_600, "../comet.toml")
    pages.fail = True
    with pytest.raises(PageError):
        desk.open_replay("one.flight")
    assert (pages.open, desk.running()) == ([], [])


def test_a_live_flight_is_recorded_with_its_plan_until_it_is_closed(desk: FrontDesk, tmp_path: Path) -> None:
    (tmp_path / "comet.toml").write_text('[rocket]\nname = "Little Comet"\n')
    (tmp_path / "other.toml").write_text("[tool]\nname = 1\n")
    assert desk.plans() == ["comet.toml"]
    port = LocalSocket()
    try:
        told = desk.open_live(port.port_name, 57_600, "comet.toml")
        assert port.wait_for_reader(threading.Event().wait)
        assert desk.open_live(port.port_name, 57_600, None) == told
        port.send(b"@SMP,7,490,101312.4,,*0933\n", 1.0)
        assert told.log is not None
        log = tmp_path / "flights" / told.log
        until(lambda: b"@SMP,7,490" in log.read_bytes())
        assert b'plan: [rocket]\\x0Aname = "Little Comet"' in log.read_bytes()
        # Its log changes all the time: nothing is judged meanwhile.
        desk.refresh()
        assert desk.progress() is None
        desk.close(told.number)
        assert desk.running() == []
    finally:
        port.close()


def test_the_pages_of_a_flight_tell_it_and_refuse_what_is_none(desk: FrontDesk) -> None:
    assert "<title>SWIFT-2: after landing</title>" in desk.after_landing("one.flight")
    assert "<title>SWIFT-2: a rocket flight</title>" in desk.page_to_share("one.flight")
    for page in (desk.after_landing, desk.page_to_share):
        with pytest.raises(NoLiftoffError):
            page("waiting.flight")
        with pytest.raises(FileUnreadableError):
            page("../flights/one.flight")


def test_the_owner_s_words_are_kept_beside_the_log(desk: FrontDesk, tmp_path: Path) -> None:
    desk.change_note("one.flight", {"remarks": "Windy."})
    assert "Windy." in (tmp_path / "flights/one.note.json").read_text(encoding="utf-8")
    with pytest.raises(FileUnreadableError):
        desk.change_note("none.flight", {"remarks": "Windy."})
