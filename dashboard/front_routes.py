"""The start page's and the logbook's routes. Reading is open to whoever may look; all else is this machine's alone."""

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from flask import Flask, Response, jsonify, request, send_from_directory

import station
from dashboard.access import is_operator
from dashboard.guarding import Refused, asked_by_operator, done
from station.command.front_desk import FrontDesk
from station.errors import StationError
from station.logbook.choosing import SortKey, sort_flights
from station.logbook.curve import unpacked
from station.logbook.logbook_json import entry_json, logbook_json
from station.logbook.note import BadNoteError
from station.serial_link import DEFAULT_BAUD

HERE = Path(__file__).parent
PAGES = {"": "home.html", "logbook": "logbook.html", "plan": "plan.html", "learn": "learn.html"}
RECENT = 6
BAUDS = (9600, 19_200, 38_400, 57_600, 115_200, 230_400)


def add_front_routes(server: Flask, desk: FrontDesk, *, served_on: str) -> None:
    """Add the pages, their files, and what their scripts ask for."""

    def operator() -> bool:
        return is_operator(request.remote_addr or "", served_on)

    @server.errorhandler(StationError)
    def _say_error(error: StationError) -> tuple[Response, int]:
        return jsonify({"error": " ".join(str(error).split())}), 409

    for path, file in PAGES.items():
        server.add_url_rule(f"/{path}", file, view_func=lambda file=file: send_from_directory(HERE / "front", file))

    @server.get("/front/<path:name>")
    def _own_file(name: str) -> Response:
        return send_from_directory(HERE / "front", name)

    @server.get("/assets/<path:name>")
    def _shared_file(name: str) -> Response:
        return send_from_directory(HERE / "assets", name)

    @server.get("/api/front")
    def _front() -> Response:
        if operator():
            desk.refresh()
        return _fresh(_front_json(desk, operator=operator()))

    @server.get("/api/logbook")
    def _logbook() -> Response:
        if operator():
            desk.refresh()
        book = desk.book()
        entries = [] if book is None else sort_flights(book.entries(), SortKey.DATE)
        told = logbook_json(entries, [] if book is None else book.problems())
        told |= {
            "folder": str(desk.logs.absolute()),
            "progress": desk.progress(),
            "index_problem": None if book is None else book.index_problem,
            "operator": operator(),
        }
        return _fresh(told)

    @server.get("/api/logbook/curve/<name>")
    def _curve(name: str) -> Response:
        book = desk.book()
        packed = None if book is None else book.curve(name)
        if packed is None:
            raise Refused(f"{name} has no curve: no liftoff was observed in it", 404)
        curve = unpacked(packed)
        columns = {key: _numbers(getattr(curve, key)) for key in ("t_s", "altitude_m", "velocity_mps")}
        return jsonify({"file": name, **columns})

    @server.post("/api/logbook/note")
    def _note() -> Response:
        match asked_by_operator(served_on):
            case {"file": str() as name, "changes": dict() as changes} if changes:
                try:
                    desk.change_note(name, changes)
                except BadNoteError as error:
                    raise Refused(str(error), 400) from error
                return done()
        raise Refused('send {"file": "NAME.flight", "changes": {"remarks": "..."}}', 400)

    @server.get("/after/<name>")
    def _after(name: str) -> Response:
        return _own_policy(desk.after_landing(name))

    @server.get("/share/<name>")
    def _share(name: str) -> Response:
        response = _own_policy(desk.page_to_share(name))
        response.headers.set("Content-Disposition", "attachment", filename=f"{Path(name).stem}.html")
        return response

    @server.post("/api/open")
    def _open() -> Response:
        match asked_by_operator(served_on):
            case {"do": "replay", "file": str() as name}:
                told = desk.open_replay(name)
            case {"do": "live", "port": str() as port, "baud": int() as baud, "plan": str() | None as plan} if (
                port.strip() and port.isprintable() and 0 < baud <= 10_000_000
            ):
                told = desk.open_live(port.strip(), baud, plan)
            case {"do": "demo"}:
                told = desk.open_demo()
            case {"do": "close", "number": int() as number}:
                desk.close(number)
                return done()
            case {"do": "end"}:
                desk.end()
                return done()
            case _:
                raise Refused(
                    'send {"do": "replay", "file": NAME}, {"do": "live", "port": NAME, "baud": N, "plan": NAME or '
                    'null}, {"do": "demo"}, {"do": "close", "number": N} or {"do": "end"}',
                    400,
                )
        return jsonify(asdict(told))

    @server.get("/favicon.ico")
    def _no_icon() -> Any:
        return Response(status=204)


def _front_json(desk: FrontDesk, *, operator: bool) -> dict[str, Any]:
    book = desk.book()
    entries = [] if book is None else sort_flights(book.entries(), SortKey.DATE)
    ports, ports_problem = [], None
    try:
        ports = [
            {"name": port.name, "description": port.description, "likely": port.is_likely} for port in desk.ports()
        ]
    except StationError as error:
        ports_problem = str(error)
    return {
        "software": f"station {station.__version__}",
        "operator": operator,
        "folder": str(desk.logs.absolute()),
        "progress": desk.progress(),
        "flights": len(entries),
        "recent": [entry_json(entry) for entry in entries[:RECENT]],
        "ports": ports,
        "ports_problem": ports_problem,
        "bauds": BAUDS,
        "baud": DEFAULT_BAUD,
        "plans": desk.plans(),
        "running": [asdict(told) for told in desk.running()],
    }


def _own_policy(html: str) -> Response:
    """The page brings a stricter policy of its own, which lets run its one script and nothing else."""
    response = Response(html, mimetype="text/html")
    response.headers["Content-Security-Policy"] = "frame-ancestors 'self'"
    return response


def _numbers(values: Any) -> list[float | None]:
    return [round(float(value), 3) if np.isfinite(value) else None for value in values]


def _fresh(told: dict[str, Any]) -> Response:
    response = jsonify(told)
    response.headers["Cache-Control"] = "no-store"
    return response
