"""The page's routes for programs, on Dash's own Flask server: the state, the stream, marks and the replay's controls.

Documented for their readers in `dashboard/LIVE_API.md`.
"""

import math
from collections.abc import Callable, Iterator
from typing import Any

from flask import Flask, Response, jsonify, request, send_from_directory

from dashboard.app import ASSETS
from dashboard.guarding import Refused, asked_by_operator, done, guard
from dashboard.playback import SPEEDS, Playback
from dashboard.publisher import Publisher
from dashboard.qr_code import qr_modules
from dashboard.serving import Outlet
from dashboard.sharing import shared_addresses

LONGEST_MARK = 120


def add_routes(
    server: Flask,
    publisher: Publisher,
    *,
    own_names: frozenset[str],
    served_on: str,
    playback: Playback | None,
    on_mark: Callable[[str], None] | None,
) -> None:
    """Add them, and the checks that every request passes."""

    guard(server, own_names)

    @server.get("/api/state")
    def _state() -> Response:
        response = jsonify(publisher.state())
        response.headers["Cache-Control"] = "no-store"
        return response

    @server.get("/api/stream")
    def _stream() -> Response:
        resume_from = request.headers.get("Last-Event-ID") or request.args.get("from", "")
        if not publisher.admit():
            raise Refused("as many viewers as this laptop can serve are looking already: try again shortly", 503)
        outlet = Outlet.of(request.environ)
        messages = publisher.messages(resume_from, None if outlet.write is None else outlet.send)
        response = Response(_sent(messages, outlet), mimetype="text/event-stream")
        response.call_on_close(publisher.leave)
        response.headers["Cache-Control"] = "no-store"
        return response

    @server.get("/api/share")
    def _share() -> Response:
        addresses = shared_addresses(served_on, int(request.environ["SERVER_PORT"]))
        rows = qr_modules(addresses[0]) if addresses else ()
        return jsonify({"addresses": addresses, "qr": ["".join("01"[dark] for dark in row) for row in rows]})

    @server.get("/watch")
    def _watch() -> Response:
        return send_from_directory(ASSETS, "watch.html")

    @server.get("/overlay")
    def _overlay() -> Response:
        return send_from_directory(ASSETS, "overlay.html")

    @server.post("/api/mark")
    def _mark() -> Response:
        body = asked_by_operator(served_on)
        if on_mark is None:
            raise Refused("marks are only taken while a flight is being received", 409)
        text = body.get("text")
        if not isinstance(text, str) or not text.strip() or not text.isprintable() or len(text) > LONGEST_MARK:
            raise Refused(f'send {{"text": "..."}}: one line of 1 to {LONGEST_MARK} printable characters', 400)
        on_mark(text.strip())
        return done()

    @server.post("/api/playback")
    def _playback() -> Response:
        body = asked_by_operator(served_on)
        if playback is None:
            raise Refused("this is not a replay", 409)
        _steer(playback, body)
        return done()


def _sent(messages: Iterator[bytes], outlet: Outlet) -> Iterator[bytes]:
    for message in messages:
        if outlet.is_stuck():
            outlet.drop()
            return
        yield message


def _steer(playback: Playback, body: dict[str, Any]) -> None:
    match body:
        case {"do": "play"}:
            playback.play()
        case {"do": "pause"}:
            playback.pause()
        case {"do": "speed", "speed": int() | float() as speed} if speed in SPEEDS:
            playback.set_speed(float(speed))
        case {"do": "seek", "position_us": int() | float() as position} if math.isfinite(position):
            playback.seek(min(max(int(position), 0), playback.duration_us))
        case _:
            speeds = ", ".join(f"{speed:g}" for speed in SPEEDS)
            raise Refused(
                'send {"do": "play"}, {"do": "pause"}, {"do": "speed", "speed": X} with X one of '
                f'{speeds}, or {{"do": "seek", "position_us": N}}',
                400,
            )
