"""What the start page and the logbook page can do on this machine: list what there is, open a replay or a live page.

Whatever is opened gets a page server of its own on a free port of this machine, and runs in a thread until it is
closed.
"""

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from station.command.demo import fly_and_listen
from station.command.judging import what_was_meant
from station.command.keeping import flown_at, kept_flight
from station.command.listening import recorded_flight
from station.command.page import DEFAULT_HOST, Pages
from station.errors import FileUnreadableError, PageError, PlanError, StationError
from station.flight_log import read_flight_file
from station.live import LiveFlight
from station.logbook.book import Logbook
from station.pipeline import Pipeline
from station.plan_file import read_plan
from station.ports import PortDescription, list_ports
from station.renditions.after_page import after_page
from station.renditions.page_parts import after_style, page_script, page_style
from station.renditions.png import png_bytes
from station.renditions.share_page import PageParts, share_page
from station.renditions.still import still
from station.renditions.units import METRES
from station.replay import Playback
from station.serial_link import DEFAULT_BAUD, SerialLink
from station.session import FlightSession
from station.virtual import SCENARIOS, fly
from station.virtual_port import open_virtual_port
from station.whole_flight import whole_flight

MOST_REPLAYS = 8
DEMO = "nominal-dual"
Opened = Callable[[str, str | None], None]
"""Told the address of a page that answers, and the name of the log that is written."""

_PATIENCE_S = 10.0


@dataclass(frozen=True, slots=True)
class Running:
    """Something that was opened: `kind` is "live", "demo" or "replay", `name` the port, scenario or log that it is of,
    `log` the name of what is written.
    """

    number: int
    kind: str
    name: str
    address: str
    log: str | None


@dataclass(slots=True)
class _Work:
    told: Running
    stop: threading.Event
    thread: threading.Thread


@dataclass(slots=True)
class _Refreshing:
    total: int
    done: int = 0
    stop: threading.Event = field(default_factory=threading.Event)


class FrontDesk:
    """Any thread may call; `end` is called when somebody wants the station to end."""

    def __init__(self, pages: Pages, logs: Path, end: Callable[[], None]) -> None:
        self.logs = logs
        self.plans_folder = Path()
        self.end = end
        self._pages = pages
        self._lock = threading.Lock()
        self._number = 0
        self._work: dict[int, _Work] = {}
        self._book: Logbook | None = None
        self._refreshing: _Refreshing | None = None

    # -- the logbook -----------------------------------------------------------------------------------------------

    def book(self) -> Logbook | None:
        """The logbook; None while there is no folder with logs."""
        with self._lock:
            if self._book is None:
                with suppress(FileUnreadableError):
                    self._book = Logbook(self.logs)
            return self._book

    def refresh(self) -> None:
        """Begin to judge new logs in the background, unless that is going on.

        Not while a flight is being recorded: its log changes all the time, and it needs the processor.
        """
        book = self.book()
        if book is None or any(told.log is not None for told in self.running()):
            return
        with self._lock:
            if self._refreshing is not None:
                return
            try:
                pending = book.pending()
            except FileUnreadableError:
                self._book = None
                return
            if not pending:
                return
            self._refreshing = _Refreshing(len(pending))
            threading.Thread(
                target=self._refresh, args=(book, pending, self._refreshing), name="logbook-refresh", daemon=True
            ).start()

    def progress(self) -> tuple[int, int] | None:
        """How many new logs are judged, of how many; None if none is waiting."""
        refreshing = self._refreshing
        return None if refreshing is None else (refreshing.done, refreshing.total)

    def _refresh(self, book: Logbook, pending: list[Path], refreshing: _Refreshing) -> None:
        def note(done: int) -> None:
            refreshing.done = done

        try:
            book.refresh(pending, note, refreshing.stop.is_set)
        finally:
            self._refreshing = None

    def change_note(self, name: str, changes: Mapping[str, Any]) -> None:
        """Change the owner's note. Raises FileUnreadableError, BadNoteError, OutputError."""
        self._log(name)
        book = self.book()
        assert book is not None
        book.change_note(name, changes)

    def after_landing(self, name: str) -> str:
        """The page after landing of a recorded flight, as `station check --page` writes it. Raises StationError."""
        file = read_flight_file(self._log(name))
        plan, prediction = what_was_meant(file, self.logs, None, None)
        flight = whole_flight(
            file.lines, file=name, torn=file.torn, unheard=file.unheard, plan=plan, prediction=prediction
        )
        return after_page(flight, after_style(), day=flown_at(file, flight))

    def page_to_share(self, name: str) -> str:
        """The page for friends and family, as `station share` writes it. Raises StationError."""
        kept = kept_flight(self._log(name), None, None)
        parts = PageParts(page_script(), page_style(), png_bytes(still(kept.flight, METRES, kept.flown_at)))
        return share_page(kept.flight, parts, day=kept.flown_at)

    def _log(self, name: str) -> Path:
        book = self.book()
        if book is None:
            raise FileUnreadableError(f"{self.logs} has no recorded flights.")
        return book.log(name)

    # -- what can be opened ----------------------------------------------------------------------------------------

    def ports(self) -> list[PortDescription]:
        """The serial ports of this machine, likely ones first."""
        return list_ports()

    def plans(self) -> list[str]:
        """The flight plans in the folder that the station was started in."""
        found = []
        for path in sorted(self.plans_folder.glob("*.toml"))[:100]:
            with suppress(FileUnreadableError, PlanError):
                read_plan(path)
                found.append(path.name)
        return found

    def running(self) -> list[Running]:
        """What was opened and still runs, in the order of opening."""
        with self._lock:
            return [work.told for work in self._work.values()]

    def open_replay(self, name: str) -> Running:
        """Play a recorded flight on a page of its own, from its beginning. Raises StationError."""
        path = self._log(name)
        saved = read_flight_file(path)
        for told in self.running():
            if told.kind == "replay" and told.name == name:
                self.close(told.number)
        replays = [told.number for told in self.running() if told.kind == "replay"]
        for number in replays[: max(0, len(replays) + 1 - MOST_REPLAYS)]:
            self.close(number)
        plan, prediction = what_was_meant(saved, self.logs, None, None)
        playback = Playback(saved, partial(Pipeline, plan=plan))
        playback.session.set_prediction(prediction)

        def work(stop: threading.Event, opened: Opened) -> None:
            server = self._pages(playback.session, DEFAULT_HOST, 0, playback=playback)
            address = server.start()
            try:
                playback.play()
                opened(address, None)
                playback.run_forever(stop)
            finally:
                server.stop()

        return self._start("replay", name, work)

    def open_live(self, port: str, baud: int, plan: str | None) -> Running:
        """Listen to a port, record, and show it; again, if that is going on already. Raises StationError."""
        for told in self.running():
            if told.kind == "live" and told.name == port:
                return told
        if plan is not None and plan not in self.plans():
            raise FileUnreadableError(f"{plan} is none of the plans in the station's folder.")

        def work(stop: threading.Event, opened: Opened) -> None:
            plan_path = None if plan is None else self.plans_folder / plan
            with self._recorded(SerialLink(port, baud), plan_path) as (address, live, _session, log):
                opened(address, log)
                live.run_forever(stop)

        return self._start("live", port, work)

    def open_demo(self) -> Running:
        """Fly an invented rocket, and record and show it as a real one. Raises StationError."""
        with self._lock:
            seed = self._number + 1

        def work(stop: threading.Event, opened: Opened) -> None:
            flight = fly(SCENARIOS[DEMO], seed)
            port = open_virtual_port()
            try:
                with self._recorded(SerialLink(port.port_name, DEFAULT_BAUD), None) as (address, live, session, log):
                    opened(address, log)
                    fly_and_listen(flight, port, 1.0, live, session, stop)
                    stop.wait()
            finally:
                port.close()

        return self._start("demo", DEMO, work)

    def close(self, number: int) -> Running | None:
        """End what was opened and wait until it is; a recording is ended in good order. None if there is no such."""
        with self._lock:
            work = self._work.get(number)
        if work is None:
            return None
        work.stop.set()
        work.thread.join(_PATIENCE_S)
        return work.told

    def close_all(self) -> None:
        """End everything."""
        refreshing = self._refreshing
        if refreshing is not None:
            refreshing.stop.set()
        for told in self.running():
            self.close(told.number)

    @contextmanager
    def _recorded(
        self, link: SerialLink, plan_path: Path | None
    ) -> Iterator[tuple[str, LiveFlight, FlightSession, str]]:
        """A flight being recorded and shown: the page's address, and the name of the log."""
        addresses: list[str] = []
        with recorded_flight(
            lambda *arguments, **named: _Noted(self._pages(*arguments, **named), addresses),
            link,
            page=(DEFAULT_HOST, 0),
            no_open=True,
            logs=self.logs,
            plan_path=plan_path,
        ) as (live, session, writer):
            yield addresses[0], live, session, writer.path.name

    def _start(self, kind: str, name: str, work: Callable[[threading.Event, Opened], None]) -> Running:
        """Run `work` in a thread. It calls `opened(address, log)` once its page answers; its errors are raised here."""
        stop, outcome = threading.Event(), SimpleQueue[tuple[str, str | None] | StationError]()
        with self._lock:
            self._number += 1
            number = self._number

        def run() -> None:
            try:
                work(stop, lambda address, log: outcome.put((address, log)))
            except StationError as error:
                outcome.put(error)
            finally:
                outcome.put(PageError(f"{name}: it could not be opened: look at what the terminal says, and try again"))
                with self._lock:
                    self._work.pop(number, None)

        thread = threading.Thread(target=run, name=f"{kind}-{number}", daemon=True)
        thread.start()
        found = outcome.get()
        if isinstance(found, StationError):
            raise found
        told = Running(number, kind, name, *found)
        with self._lock:
            if thread.is_alive():
                self._work[number] = _Work(told, stop, thread)
        return told


class _Noted:
    """A page server whose address is noted when it starts."""

    def __init__(self, page: Any, addresses: list[str]) -> None:
        self._page, self._addresses = page, addresses

    def start(self) -> str:
        address: str = self._page.start()
        self._addresses.append(address)
        return address

    def stop(self) -> None:
        self._page.stop()
