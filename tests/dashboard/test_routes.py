import pytest
from flask import Flask

from dashboard.publisher import Publisher
from dashboard.routes import add_routes

HOST = "127.0.0.1:8050"
OWN = {"Host": HOST, "Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}


@pytest.fixture
def client(stage, make):
    return make_client(stage)


def make_client(stage, *, playback=None, marks=True, viewers=1, served_on="127.0.0.1"):
    publisher = Publisher(stage.session, playback, most_viewers=viewers)
    publisher._publish()
    server = Flask("test")
    add_routes(
        server,
        publisher,
        own_names=frozenset({"field-laptop"}),
        served_on=served_on,
        playback=playback,
        on_mark=stage.marks.append if marks else None,
    )
    return server.test_client()


def test_state_is_served_as_json_and_never_kept(client):
    answer = client.get("/api/state", headers={"Host": HOST})
    assert answer.json["phase"] == "coast"
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_foreign_host_name_is_refused_everywhere(client):
    for path in ("/api/state", "/api/stream", "/watch", "/nowhere"):
        assert client.get(path, headers={"Host": "elsewhere.example"}).status_code == 400


def test_every_answer_forbids_asking_another_host_for_anything(client):
    policy = client.get("/api/state", headers={"Host": HOST}).headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "http" not in policy


def test_stream_begins_with_the_whole_and_resumes_from_header_or_address(stage):
    stage.add_points(40)
    client = make_client(stage, viewers=9)
    session = stage.session.session_id
    by_header = {"Host": HOST, "Last-Event-ID": f"{session}:38"}
    for path, headers, start in (
        ("/api/stream", {"Host": HOST}, 0),
        ("/api/stream", by_header, 38),
        (f"/api/stream?from={session}:37", {"Host": HOST}, 37),
        (f"/api/stream?from={session}:12", by_header, 38),
    ):
        answer = client.get(path, headers=headers, buffered=False)
        assert answer.mimetype == "text/event-stream"
        first = next(iter(answer.response)).decode()
        assert "event: whole" in first
        assert f'"from":{start},' in first
        answer.close()


def test_one_viewer_too_many_is_told_to_come_back(stage):
    client = make_client(stage, viewers=1)
    first = client.get("/api/stream", headers={"Host": HOST}, buffered=False)
    refused = client.get("/api/stream", headers={"Host": HOST})
    assert refused.status_code == 503
    assert int(refused.headers["Retry-After"]) > 0
    first.close()
    assert client.get("/api/stream", headers={"Host": HOST}, buffered=False).status_code == 200


def test_a_mark_from_the_page_reaches_the_recorder(client, stage):
    assert client.post("/api/mark", json={"text": " heard a bang "}, headers=OWN).status_code == 204
    assert stage.marks == ["heard a bang"]


@pytest.mark.parametrize("text", ["", "   ", "x" * 121, "two\nlines", 7, None])
def test_a_mark_that_is_no_line_of_text_is_refused(client, stage, text):
    answer = client.post("/api/mark", json={"text": text}, headers=OWN)
    assert answer.status_code == 400
    assert "printable" in answer.json["error"]
    assert stage.marks == []


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": HOST},
        OWN | {"Origin": "http://elsewhere.example"},
        OWN | {"Origin": "null"},
        OWN | {"Sec-Fetch-Site": "cross-site"},
    ],
)
def test_another_web_page_cannot_mark(client, stage, headers):
    assert client.post("/api/mark", json={"text": "x"}, headers=headers).status_code == 403
    assert stage.marks == []


def test_a_form_cannot_mark(client, stage):
    assert client.post("/api/mark", data={"text": "x"}, headers=OWN).status_code == 400
    assert stage.marks == []


def test_a_spectator_cannot_mark_nor_steer(stage, make):
    playback = make.playback()
    client = make_client(stage, playback=playback)
    for path, asked in (("/api/mark", {"text": "x"}), ("/api/playback", {"do": "pause"})):
        answer = client.post(path, json=asked, headers=OWN, environ_overrides={"REMOTE_ADDR": "192.168.4.7"})
        assert answer.status_code == 403
    assert stage.marks == []
    assert playback.asked == []


def test_no_mark_where_nothing_is_recorded(stage):
    answer = make_client(stage, marks=False).post("/api/mark", json={"text": "x"}, headers=OWN)
    assert answer.status_code == 409


def test_replay_is_steered(stage, make):
    playback = make.playback()
    client = make_client(stage, playback=playback)
    for asked in (
        {"do": "pause"},
        {"do": "play"},
        {"do": "speed", "speed": 4},
        {"do": "seek", "position_us": 12_000_000},
        {"do": "seek", "position_us": -5},
        {"do": "seek", "position_us": 10**12},
    ):
        assert client.post("/api/playback", json=asked, headers=OWN).status_code == 204
    assert playback.asked == [
        ("pause", 0),
        ("play", 0),
        ("speed", 4.0),
        ("seek", 12_000_000),
        ("seek", 0),
        ("seek", 60_000_000),
    ]


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"do": "stop"},
        {"do": "speed"},
        {"do": "speed", "speed": 3},
        {"do": "speed", "speed": "2"},
        {"do": "seek", "position_us": None},
        {"do": "seek", "position_us": "5"},
        ["play"],
        "play",
    ],
)
def test_a_wish_that_makes_no_sense_is_refused_with_what_does(stage, make, asked):
    playback = make.playback()
    answer = make_client(stage, playback=playback).post("/api/playback", json=asked, headers=OWN)
    assert answer.status_code == 400
    assert "send" in answer.json["error"]
    assert playback.asked == []


def test_a_position_that_is_no_number_is_refused(stage, make):
    playback = make.playback()
    client = make_client(stage, playback=playback)
    headers = OWN | {"Content-Type": "application/json"}
    answer = client.post("/api/playback", data='{"do": "seek", "position_us": Infinity}', headers=headers)
    assert answer.status_code == 400
    assert playback.asked == []


def test_there_is_nothing_to_steer_live(client):
    assert client.post("/api/playback", json={"do": "play"}, headers=OWN).status_code == 409


def test_steering_needs_a_post(client):
    assert client.get("/api/mark", headers=OWN).status_code == 405
    assert client.get("/api/playback", headers=OWN).status_code == 405


def test_a_page_for_this_machine_alone_has_no_address_to_share(client):
    assert client.get("/api/share", headers={"Host": HOST}).json == {"addresses": [], "qr": []}


def test_a_page_on_the_network_shares_its_address_with_a_qr_code(stage):
    client = make_client(stage, served_on="192.0.2.7")
    shared = client.get("/api/share", headers={"Host": HOST}, environ_overrides={"SERVER_PORT": "8050"}).json
    assert shared["addresses"] == ["http://192.0.2.7:8050/watch"]
    assert {len(row) for row in shared["qr"]} == {len(shared["qr"])}


@pytest.mark.parametrize("path", ["/watch", "/overlay"])
def test_plain_pages_ask_this_machine_alone(client, path):
    with client.get(path, headers={"Host": HOST}) as answer:
        text = answer.text
    assert '<script src="/assets/start.js">' in text
    assert "//" not in text.replace("<!DOCTYPE", "")
