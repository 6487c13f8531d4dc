"""The page after landing of the session that is shown: worked out in a thread of its own, from the recorded lines."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from station.command.judging import what_was_meant
from station.command.keeping import flown_at
from station.errors import NoLiftoffError, StationError
from station.flight_log import FlightFile, read_flight_file
from station.flight_state import Phase
from station.plan import FlightPlan
from station.prediction import Prediction
from station.renditions.after_page import Served, after_page, waiting_page
from station.renditions.page_parts import after_style
from station.session import FlightSession
from station.whole_flight import whole_flight

LIVE_PAGE = "/"
ADDRESS = "/after"
STILL_LISTENING = (
    "Still listening. The whole answer comes here when the rocket is on the ground; until then the live page has what "
    "is known."
)
WORKING = "The whole record is being judged. That takes a few seconds."
NOT_RECORDED = "Nothing is being recorded, so there is no record to judge. The live page has what is known."
FAULT = "The page could not be made: a fault of the station itself. The live page has what is known."
SOONER_S, LATER_S = 1, 5
"""After so long a waiting browser asks again: while it is worked out, and while the rocket flies."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Answer:
    """A page, and after how many seconds to ask again; None if there is no more to wait for."""

    html: str
    again_s: int | None = None


@dataclass(frozen=True, slots=True)
class _Made:
    """What was worked out of so many good lines of one session."""

    session_id: str
    good: int
    html: str


class AfterLanding:
    """Any thread may ask. Neither the recorder nor the live page ever waits for it.

    `saved` is the flight of a replay; None for a session that is being recorded, whose file is read.
    """

    def __init__(self, session: FlightSession, saved: Callable[[], FlightFile] | None = None) -> None:
        self._session = session
        self._saved = saved
        self._lock = threading.Lock()
        self._worker: threading.Thread | None = None
        self._made: _Made | None = None

    def answer(self, *, so_far: bool = False) -> Answer:
        """The page as far as it is known; begins to work it out once the flight is over, or if `so_far` is wanted."""
        _, snapshot, status = self._session.snapshot()
        if not (status.over or snapshot.phase is Phase.DOWN or so_far):
            return Answer(waiting_page(STILL_LISTENING, after_style(), LIVE_PAGE, f"{ADDRESS}?so_far=yes"), LATER_S)
        if self._saved is None and status.recording_to is None:
            return Answer(waiting_page(NOT_RECORDED, after_style(), LIVE_PAGE))
        wanted = (self._session.session_id, snapshot.link.good)
        with self._lock:
            made = self._made
            current = made is not None and (made.session_id, made.good) == wanted
            if not current and self._worker is None:
                source = self._saved or _reader(Path(status.recording_to or ""))
                self._worker = threading.Thread(
                    target=self._work,
                    args=(source, self._session.plan, not status.over, wanted),
                    name="after-landing",
                    daemon=True,
                )
                self._worker.start()
        if made is None or made.session_id != wanted[0]:
            return Answer(waiting_page(WORKING, after_style(), LIVE_PAGE), SOONER_S)
        return Answer(made.html)

    def _work(
        self,
        read: Callable[[], FlightFile],
        plan: FlightPlan | None,
        still_listening: bool,
        wanted: tuple[str, int],
    ) -> None:
        try:
            html = _page(read(), plan, self._session.prediction, Served(LIVE_PAGE, still_listening))
        except NoLiftoffError:
            html = waiting_page("No liftoff was observed, so there is no flight to judge.", after_style(), LIVE_PAGE)
        except StationError as error:
            html = waiting_page(str(error), after_style(), LIVE_PAGE)
        except Exception:
            log.exception("The page after landing could not be made")
            html = waiting_page(FAULT, after_style(), LIVE_PAGE)
        with self._lock:
            self._made, self._worker = _Made(*wanted, html), None


def _reader(path: Path) -> Callable[[], FlightFile]:
    return lambda: read_flight_file(path)


def _page(file: FlightFile, plan: FlightPlan | None, prediction: Prediction | None, served: Served) -> str:
    plan, prediction = what_was_meant(file, Path(file.name).parent, plan, prediction)
    flight = whole_flight(
        file.lines, file=Path(file.name).name, torn=False, unheard=file.unheard, plan=plan, prediction=prediction
    )
    return after_page(flight, after_style(), day=flown_at(file, flight), served=served)
