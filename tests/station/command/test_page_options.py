"""Where the page is served, and opening a browser on it."""

import webbrowser
from threading import Event
from typing import ClassVar

import click
import pytest

from station.command.page import announce, open_browser, page_options, served_page, share_option
from station.errors import PageError
from station.pipeline import Pipeline
from station.session import FlightSession


class FakePage:
    """A page server whose first ports are taken."""

    taken: frozenset[int] = frozenset()
    running: ClassVar[set[int]] = set()

    def __init__(self, _session: FlightSession, host: str, port: int, **_extras: object) -> None:
        self.host, self.port = host, port

    def start(self) -> str:
        if self.port in self.taken:
            raise PageError(f"{self.host}:{self.port}: taken")
        self.running.add(self.port)
        return f"http://{self.host}:{self.port}/"

    def stop(self) -> None:
        self.running.remove(self.port)


@pytest.fixture
def session() -> FlightSession:
    return FlightSession(Pipeline(), "test", lambda: 0)


@pytest.fixture(autouse=True)
def _fresh(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FakePage, "taken", frozenset())
    monkeypatch.setattr(FakePage, "running", set())


def parsed(*arguments: str) -> dict[str, object]:
    command = page_options(click.Command("show"))
    return command.make_context("show", list(arguments)).params


@pytest.mark.parametrize(
    ("written", "address"),
    [
        ("127.0.0.1:8050", ("127.0.0.1", 8050)),
        ("localhost:0", ("localhost", 0)),
        ("0.0.0.0:65535", ("0.0.0.0", 65535)),
        ("[::1]:8050", ("::1", 8050)),
    ],
)
def test_an_address_is_host_and_port(written: str, address: tuple[str, int]) -> None:
    assert parsed("--page", written)["page"] == address


@pytest.mark.parametrize(
    "written", ["8050", ":8050", "host:", "host:http", "host:-1", "host:65536", "::1:8050", "", "h:٣"]
)
def test_anything_else_is_refused(written: str) -> None:
    with pytest.raises(click.BadParameter, match="HOST:PORT"):
        parsed("--page", written)


def test_the_page_is_served_only_while_wanted(session: FlightSession) -> None:
    with served_page(FakePage, session, ("127.0.0.1", 9000)) as address:
        assert address == "http://127.0.0.1:9000/"
        assert FakePage.running == {9000}
    assert FakePage.running == set()


def test_without_a_wish_the_next_free_port_is_taken(session: FlightSession, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FakePage, "taken", frozenset({8050, 8051}))
    with served_page(FakePage, session, None) as address:
        assert address == "http://127.0.0.1:8052/"


def test_a_wish_that_cannot_be_met_is_an_error(session: FlightSession, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FakePage, "taken", frozenset({8050}))
    with pytest.raises(PageError, match="8050"), served_page(FakePage, session, ("127.0.0.1", 8050)):
        pass


def test_when_ten_ports_are_taken_it_says_so(session: FlightSession, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FakePage, "taken", frozenset(range(8050, 8060)))
    with pytest.raises(PageError, match="8059"), served_page(FakePage, session, None):
        pass


def test_a_browser_is_opened_when_there_is_a_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    done = Event()

    def open_it(address: str) -> bool:
        opened.append(address)
        done.set()
        raise webbrowser.Error("could not locate a browser")

    monkeypatch.setattr(webbrowser, "open", open_it)
    monkeypatch.setenv("DISPLAY", ":0")
    open_browser("http://127.0.0.1:8050/")
    assert done.wait(timeout=30.0)
    assert opened == ["http://127.0.0.1:8050/"]


def test_no_open_opens_nothing_and_prints_the_address_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("station.command.page.open_browser", opened.append)
    announce("http://127.0.0.1:8050/", no_open=True)
    announce("http://127.0.0.1:8051/", no_open=False)
    assert capsys.readouterr().out == "page: http://127.0.0.1:8050/\npage: http://127.0.0.1:8051/\n"
    assert opened == ["http://127.0.0.1:8051/"]


class SharedPage(FakePage):
    """One that others can reach, unless it is served to this machine alone."""

    def share_lines(self) -> list[str]:
        return [] if self.host == "127.0.0.1" else ["spectators: http://10.0.0.2:8050/watch"]


@pytest.mark.parametrize(
    ("arguments", "host", "said"),
    [
        ([], "127.0.0.1", ""),
        (["--share"], "0.0.0.0", "spectators: http://10.0.0.2:8050/watch\n"),
        (["--share", "--page", "10.0.0.2:8050"], "10.0.0.2", "spectators: http://10.0.0.2:8050/watch\n"),
        (["--share", "--page", "127.0.0.1:8050"], "127.0.0.1", "Nobody else can reach the page: join a network"),
    ],
)
def test_a_shared_page_is_served_to_the_network_and_says_how_to_find_it(
    session: FlightSession, arguments: list[str], host: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    command = share_option(page_options(click.Command("show")))
    with (
        command.make_context("show", arguments) as ctx,
        served_page(SharedPage, session, ctx.params["page"]) as address,
    ):
        assert address == f"http://{host}:8050/"
    assert capsys.readouterr().out.startswith(said)
    assert "share" not in ctx.params
