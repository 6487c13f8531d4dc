import gzip

import pytest
from flask import Flask, Response

from dashboard.compression import Gzip

LONG = "altitude " * 1000


@pytest.fixture
def client():
    server = Flask("test", static_folder=None)
    Gzip(server)
    made = {"count": 0}

    @server.get("/page")
    def page():
        return Response(LONG, mimetype="text/html")

    @server.get("/assets/one.js")
    def script():
        made["count"] += 1
        response = Response(LONG, mimetype="text/javascript")
        response.set_etag("abc")
        return response

    @server.get("/short")
    def short():
        return Response("{}", mimetype="application/json")

    @server.get("/stream")
    def stream():
        return Response(iter([LONG.encode()]), mimetype="text/event-stream")

    @server.get("/picture")
    def picture():
        return Response(LONG.encode(), mimetype="image/png")

    return server.test_client()


def test_long_text_goes_out_small_and_comes_back_whole(client):
    answer = client.get("/page", headers={"Accept-Encoding": "gzip, br"})
    assert answer.headers["Content-Encoding"] == "gzip"
    assert int(answer.headers["Content-Length"]) == len(answer.data) < len(LONG) / 10
    assert gzip.decompress(answer.data).decode() == LONG
    assert "Accept-Encoding" in answer.headers["Vary"]


def test_a_client_that_cannot_unpack_gets_it_plain(client):
    assert client.get("/page").text == LONG


@pytest.mark.parametrize("path", ["/short", "/stream", "/picture"])
def test_what_is_short_streamed_or_packed_already_is_left_alone(client, path):
    assert "Content-Encoding" not in client.get(path, headers={"Accept-Encoding": "gzip"}).headers


def test_packed_and_plain_form_have_different_etags(client):
    packed = client.get("/assets/one.js", headers={"Accept-Encoding": "gzip"}).headers["ETag"]
    plain = client.get("/assets/one.js").headers["ETag"]
    assert packed != plain


def test_the_same_script_is_the_same_bytes_every_time(client):
    headers = {"Accept-Encoding": "gzip"}
    assert client.get("/assets/one.js", headers=headers).data == client.get("/assets/one.js", headers=headers).data
