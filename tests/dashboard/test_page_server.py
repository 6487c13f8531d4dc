"""The real server on real sockets."""

import contextlib
import json
import socket
import threading
import urllib.error
import urllib.request

import pytest

from dashboard import serving
from dashboard.qr_code import qr_lines
from dashboard.server import PageServer
from station.errors import PageError

PATIENCE_S = 30


def get(url: str, **headers: str) -> urllib.request.addinfourl:
    return urllib.request.urlopen(urllib.request.Request(url, headers=headers), timeout=PATIENCE_S)


def test_port_0_takes_a_free_one_and_the_address_answers(stage, serve):
    _, address = serve(stage.session)
    with get(f"{address}/api/state") as answer:
        assert json.load(answer)["session"] == stage.session.session_id


def test_a_taken_port_is_a_page_error_that_says_what_to_do(stage, serve):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(PageError, match=rf"127\.0\.0\.1:{port}: taken .* choose another port"):
            serve(stage.session, port=port)


@pytest.mark.parametrize("host", ["192.0.2.99", "no-such-machine.invalid"])
def test_an_address_that_is_not_ours_is_a_page_error(stage, serve, host):
    with pytest.raises(PageError, match=rf"{host}.* try --page 127\.0\.0\.1:0"):
        serve(stage.session, host=host)


def test_two_pages_for_two_sessions_stand_side_by_side(stage, serve):
    _, one = serve(stage.session)
    _, two = serve(stage.session)
    assert one != two
    for address in (one, two):
        with get(f"{address}/api/state") as answer:
            assert answer.status == 200


def test_stopping_gives_the_port_back_at_once(stage, serve, read_events):
    server, address = serve(stage.session)
    reader = read_events(address)
    reader.next()
    port = int(address.rpartition(":")[2])
    server.stop()
    assert reader.next() == {}
    serve(stage.session, port=port)


def test_stopping_twice_or_before_the_start_does_nothing(stage):
    server = PageServer(stage.session, "127.0.0.1", 0)
    server.stop()
    server.start()
    server.stop()
    server.stop()


def test_no_thread_is_left_after_stopping(stage, until):
    before = set(threading.enumerate())
    server = PageServer(stage.session, "127.0.0.1", 0)
    server.start()
    server.stop()
    until(lambda: not [thread for thread in set(threading.enumerate()) - before if thread.is_alive()])


def test_an_event_comes_at_once_and_not_when_a_buffer_is_full(stage, serve, read_events):
    _, address = serve(stage.session)
    reader = read_events(address)
    assert reader.headers["content-type"].startswith("text/event-stream")
    assert reader.next()["event"] == "whole"
    for number in range(1, 6):
        stage.add_points(1)
        while True:
            event = reader.next()
            if '"rows"' in event["data"]:
                break
        assert event["id"] == f"{stage.session.session_id}:{number}"


def test_a_cut_stream_taken_up_again_loses_and_doubles_nothing(stage, serve, read_events):
    _, address = serve(stage.session)
    seen: list[float] = []
    last_id = None
    for turn in range(6):
        reader = read_events(address, last_id=last_id)
        stage.add_points(25)
        while len(seen) < 25 * (turn + 1):
            event = reader.next()
            last_id = event["id"]
            seen += [row[0] for row in json.loads(event["data"]).get("rows", [])]
        reader.close()
    assert seen == [10_000 + 20 * index for index in range(150)]


def test_a_viewer_that_stops_reading_is_dropped_and_others_go_on(stage, serve, read_events, until, monkeypatch):
    monkeypatch.setattr(serving, "MOST_UNSENT_BYTES", 20_000)
    server, address = serve(stage.session)
    stuck = read_events(address)
    stuck.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    stuck.next()
    good = read_events(address)
    got = []

    def read() -> None:
        with contextlib.suppress(ConnectionError):
            while event := good.next():
                got.append(event)

    reading = threading.Thread(target=read, daemon=True)
    reading.start()
    assert server._publisher is not None
    publisher = server._publisher
    until(lambda: publisher.viewers == 2)
    pushing = threading.Event()

    def push() -> None:
        while not pushing.is_set():
            stage.add_points(400)
            pushing.wait(0.01)

    pusher = threading.Thread(target=push)
    pusher.start()
    until(lambda: publisher.viewers == 1)
    pushing.set()
    pusher.join()
    before = len(got)
    stage.add_points(1)
    until(lambda: len(got) > before)
    # No more comes on this socket, which ends the thread: it must not outlive the reader.
    good.socket.shutdown(socket.SHUT_RDWR)
    reading.join(timeout=PATIENCE_S)
    assert not reading.is_alive()


def test_a_viewer_that_leaves_is_counted_out(stage, serve, read_events, until):
    server, address = serve(stage.session)
    reader = read_events(address)
    reader.next()
    assert server._publisher is not None
    publisher = server._publisher
    assert publisher.viewers == 1
    reader.close()
    until(lambda: publisher.viewers == 0)


def test_the_page_still_answers_with_every_viewers_place_taken(stage, serve, read_events):
    _, address = serve(stage.session)
    readers = [read_events(address) for _ in range(serving.MOST_VIEWERS)]
    for reader in readers:
        assert reader.next()["event"] == "whole"
    assert read_events(address).status == 503
    with get(f"{address}/api/state") as answer:
        assert answer.status == 200


def test_first_load_is_under_one_megabyte_packed(stage, serve):
    _, address = serve(stage.session)
    with get(f"{address}/", **{"Accept-Encoding": "identity"}) as answer:
        page = answer.read().decode()
    sources = [part.split('"')[0] for part in page.split('src="')[1:]]
    sources.append("/assets/plotly-basic.min.js")
    total = 0
    for source in sources:
        with get(f"{address}{source}", **{"Accept-Encoding": "gzip"}) as answer:
            total += len(answer.read())
    assert len(sources) > 15
    assert total < 1_000_000


def test_errors_of_the_page_are_answers_and_no_tracebacks(stage, serve):
    _, address = serve(stage.session)
    with pytest.raises(urllib.error.HTTPError) as refused:
        get(f"{address}/_dash-component-suites/../../etc/passwd")
    assert refused.value.code in (400, 404, 500)
    assert b"Traceback" not in refused.value.read()
    refused.value.close()


def test_the_page_names_no_other_host(stage, serve):
    _, address = serve(stage.session)
    with get(f"{address}/") as answer:
        page = answer.read().decode()
    sources = [part.split('"')[0] for mark in ('src="', 'href="') for part in page.split(mark)[1:]]
    assert sources
    assert [source for source in sources if not source.startswith("/") or source.startswith("//")] == []


def test_a_page_for_the_network_prints_spectators_addresses_below_a_qr_code(stage, serve, monkeypatch):
    monkeypatch.setattr("dashboard.sharing.network_addresses", lambda: ["10.0.0.2", "192.168.4.2"])
    server, address = serve(stage.session, host="0.0.0.0")
    port = address.rpartition(":")[2]
    *symbol, first, second = server.share_lines()
    assert first == f"spectators: http://10.0.0.2:{port}/watch"
    assert second == f"spectators: http://192.168.4.2:{port}/watch"
    assert symbol == qr_lines(f"http://10.0.0.2:{port}/watch")
    alone, _ = serve(stage.session)
    assert alone.share_lines() == []
