"""The route of the page after landing."""

from flask import Flask, Response, request

from dashboard.after_landing import ADDRESS, AfterLanding


def add_after_route(server: Flask, after: AfterLanding) -> None:
    """Add it: whoever may look at the live page may look at this."""

    @server.get(ADDRESS)
    def _after() -> Response:
        answer = after.answer(so_far=request.args.get("so_far") == "yes")
        response = Response(answer.html, mimetype="text/html")
        response.headers["Cache-Control"] = "no-store"
        # The page brings a stricter policy of its own, which lets run its one script and nothing else.
        response.headers["Content-Security-Policy"] = "frame-ancestors 'self'"
        if answer.again_s is not None:
            response.headers["Refresh"] = str(answer.again_s)
        return response
