"""What every page server of the station has in common: whom it answers, and how it refuses."""

from typing import Any

from flask import Flask, Response, jsonify, request

from dashboard.access import is_operator, is_same_origin, may_look

CONTENT_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'"
)
"""Nothing may be asked of another host. Inline script is Dash's own starter, inline style is Plotly's."""


class Refused(Exception):  # noqa: N818
    """A request that will not be carried out: the reason and the HTTP status."""

    def __init__(self, reason: str, status: int) -> None:
        super().__init__(reason)
        self.status = status


def guard(server: Flask, own_names: frozenset[str]) -> None:
    """Add the checks that every request passes, and the headers that every answer has."""

    @server.before_request
    def _refuse_foreign_names() -> Response | None:
        if may_look(request.host, own_names):
            return None
        return _said("ask for this page by the address that the station printed", 400)

    @server.after_request
    def _harden(response: Response) -> Response:
        response.headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        response.headers.setdefault("Referrer-Policy", "no-referrer")
        return response

    @server.errorhandler(Refused)
    def _say_why(refused: Refused) -> Response:
        return _said(str(refused), refused.status)


def asked_by_operator(served_on: str) -> dict[str, Any]:
    """The JSON object of a request that may change something. Raises Refused unless this machine's own page sent it."""
    if not is_operator(request.remote_addr or "", served_on):
        raise Refused("only the laptop that runs the station may do this: others can only look", 403)
    headers = request.headers
    if not is_same_origin(request.scheme, request.host, headers.get("Origin"), headers.get("Sec-Fetch-Site")):
        raise Refused("only the station's own page may do this", 403)
    body = request.get_json(silent=True) if request.is_json else None
    if not isinstance(body, dict):
        raise Refused("send a JSON object, with Content-Type: application/json", 400)
    return body


def done() -> Response:
    """The answer to what was carried out."""
    return Response(status=204)


def _said(reason: str, status: int) -> Response:
    response = jsonify({"error": reason})
    response.status_code = status
    if status == 503:
        response.headers["Retry-After"] = "5"
    return response
