"""The start page's and the logbook's routes: who may do what, and what is told."""

import shutil
from functools import cache

import pytest
from flask import Flask

from dashboard.front_routes import PAGES, add_front_routes
from dashboard.guarding import guard
from dashboard.plan_routes import add_plan_routes
from station.command.front_desk import FrontDesk
from station.logbook.book import Logbook
from station.virtual import SCENARIOS, fly
from station.virtual.saved_flight import flight_log

HOST = "127.0.0.1:8050"
OWN = {"Host": HOST, "Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}
LOOK = {"Host": HOST}


@cache
def log_bytes():
    return flight_log(fly(SCENARIOS["main-silent"], 1))


@pytest.fixture(scope="module")
def judged_folder(tmp_path_factory):
    """A folder with one flight and its index; copied, as judging takes a second."""
    folder = tmp_path_factory.mktemp("judged")
    (folder / "one.flight").write_bytes(log_bytes())
    book = Logbook(folder)
    book.refresh(book.pending())
    return folder


@pytest.fixture
def asked():
    return []


@pytest.fixture
def desk(tmp_path, monkeypatch, asked, judged_folder):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(judged_folder, tmp_path / "flights")
    return FrontDesk(None, tmp_path / "flights", lambda: asked.append("end"))


@pytest.fixture
def client(desk):
    server = Flask("test", static_folder=None)
    guard(server, frozenset({"field-laptop"}))
    add_front_routes(server, desk, served_on="127.0.0.1")
    add_plan_routes(server, desk, served_on="127.0.0.1")
    return server.test_client()


CHANGES = [
    ("/api/open", {"do": "end"}),
    ("/api/logbook/note", {"file": "one.flight", "changes": {"remarks": "x"}}),
    ("/api/plan", {"answers": {}, "write": "comet"}),
]


@pytest.mark.parametrize(("path", "body"), CHANGES)
def test_only_this_machine_s_own_page_may_change_something(client, asked, tmp_path, path, body):
    foreign = {"Host": HOST, "Origin": "http://elsewhere.example", "Sec-Fetch-Site": "cross-site"}
    for headers, far in ((foreign, {}), (LOOK, {}), (OWN, {"REMOTE_ADDR": "192.0.2.7"})):
        assert client.post(path, json=body, headers=headers, environ_overrides=far).status_code == 403
    assert client.post(path, data="{}", headers=OWN).status_code == 400
    assert asked == []
    assert sorted(path.name for path in tmp_path.rglob("*") if path.is_file()) == [
        "one.flight",
        "station-logbook.sqlite3",
    ]


@pytest.mark.parametrize(("path", "body"), CHANGES)
def test_what_cannot_be_understood_is_refused_with_what_would_be_right(client, path, body):
    answer = client.post(path, json={"do": "launch"}, headers=OWN)
    assert answer.status_code == 400
    assert answer.json["error"].startswith("send {")


def test_a_foreign_host_name_is_refused_everywhere(client):
    for path in ("/", "/api/front", "/api/logbook", "/after/one.flight", "/front/front.js"):
        assert client.get(path, headers={"Host": "elsewhere.example"}).status_code == 400


@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_served_and_asks_nobody_else(client, path):
    with client.get(f"/{path}", headers=LOOK) as answer:
        assert answer.status_code == 200
        assert answer.mimetype == "text/html"
        assert "http" not in answer.headers["Content-Security-Policy"]
        assert b"//" not in answer.data


def test_somebody_else_on_the_network_sees_that_he_can_only_look(client):
    far = {"REMOTE_ADDR": "192.0.2.7"}
    assert client.get("/api/front", headers=LOOK, environ_overrides=far).json["operator"] is False
    assert client.get("/api/logbook", headers=LOOK).json["operator"] is True


def test_the_logbook_tells_flights_totals_and_what_was_not_read(client, desk, tmp_path):
    (tmp_path / "flights/bad.flight").write_bytes(b"noise")
    desk.book().refresh(desk.book().pending())
    told = client.get("/api/logbook", headers=LOOK).json
    (flight,) = told["flights"]
    assert (flight["file"], flight["main"]) == ("one.flight", "not_fired")
    assert told["by_rocket"][0]["highest"]["file"] == "one.flight"
    assert told["not_read"][0]["file"] == "bad.flight"
    assert told["progress"] is None
    curve = client.get("/api/logbook/curve/one.flight", headers=LOOK).json
    assert len(curve["t_s"]) == len(curve["altitude_m"]) == len(curve["velocity_mps"]) > 100
    assert max(curve["altitude_m"]) == pytest.approx(flight["apogee_m"], abs=2.0)


def test_the_owner_s_words_are_written_beside_the_log(client, tmp_path):
    sent = {"file": "one.flight", "changes": {"remarks": "Windy."}}
    assert client.post("/api/logbook/note", json=sent, headers=OWN).status_code == 204
    assert client.get("/api/logbook", headers=LOOK).json["flights"][0]["remarks"] == "Windy."
    assert (tmp_path / "flights/one.note.json").exists()
    bad = client.post("/api/logbook/note", json={"file": "one.flight", "changes": {"day": "soon"}}, headers=OWN)
    assert bad.status_code == 400
    assert "not a day" in bad.json["error"]


@pytest.mark.parametrize("name", ["none.flight", "..%2fone.flight", "%2e%2e", "station-logbook.sqlite3"])
def test_nothing_but_logs_of_the_folder_can_be_reached(client, name):
    for path in ("/after/", "/api/logbook/curve/", "/front/", "/assets/"):
        assert client.get(path + name, headers=LOOK).status_code in (404, 409)
    sent = {"file": name, "changes": {"remarks": "x"}}
    assert client.post("/api/logbook/note", json=sent, headers=OWN).status_code == 409
    assert client.post("/api/open", json={"do": "replay", "file": name}, headers=OWN).status_code == 409


def test_a_plan_is_judged_as_it_is_answered_and_written_when_asked(client, tmp_path):
    questions = client.get("/api/plan/questions", headers=LOOK).json
    assert [table for table, _ in questions["titles"]] == ["rocket", "motor", "recovery", "field", "prediction"]
    answers = {"rocket.name": "Little Comet", "motor.total_impulse": "200"}
    told = client.post("/api/plan", json={"answers": answers, "write": "comet"}, headers=OWN).json
    assert "unit" in told["problems"]["motor.total_impulse"]
    assert told["written"] is None
    answers["motor.total_impulse"] = "200 N s"
    told = client.post("/api/plan", json={"answers": answers, "write": None}, headers=OWN).json
    assert told["problems"] == {}
    assert "class H" in told["follows"]
    told = client.post("/api/plan", json={"answers": answers, "write": "comet"}, headers=OWN).json
    assert told["written"] == "comet.toml"
    assert client.get("/api/front", headers=LOOK).json["plans"] == ["comet.toml"]
    again = client.post("/api/plan", json={"answers": answers, "write": "comet"}, headers=OWN)
    assert again.status_code == 409
    for name in ("../comet", "", "a/b", ".hidden"):
        assert client.post("/api/plan", json={"answers": answers, "write": name}, headers=OWN).status_code == 400


def test_the_station_can_be_ended(client, asked):
    assert client.post("/api/open", json={"do": "end"}, headers=OWN).status_code == 204
    assert asked == ["end"]
