"""The main job as a whole: programs of their own, a real pseudo-terminal, a bad radio link, a log on disk."""

import json
import os
import random
import signal
import subprocess
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from station.flight_log import FlightLogWriter, LogHeader, read_flight_file
from station.live import LiveFlight, start_clock
from station.pipeline import Pipeline
from station.replay import Playback
from station.serial_link import SerialLink
from station.session import FlightSession
from station.virtual import SCENARIOS, VirtualFlight, fly_setup
from station.wire import LineFramer

PATIENCE_S = 60.0
SEED = 3
LINK = ("--seed", SEED, "--loss", "5", "--corrupted", "2")

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")
needs_signals = pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGTERM to send to another program")


@pytest.fixture(scope="module")
def flight() -> VirtualFlight:
    """What `station emulate nominal-dual` sends with the options above."""
    setup = SCENARIOS["nominal-dual"].setup(SEED)
    radio = replace(setup.radio, loss_fraction=0.05, corrupt_fraction=0.02)
    return fly_setup(replace(setup, radio=radio), SEED)


def framed(flight: VirtualFlight) -> list[bytes]:
    framer = LineFramer()
    return framer.feed(b"".join(line.data for line in flight.lines)) + framer.flush()


def messages(address: str) -> Iterator[dict[str, Any]]:
    """What the page's stream tells a viewer, as it comes."""
    with urllib.request.urlopen(f"{address}api/stream", timeout=PATIENCE_S) as stream:
        for line in stream:
            if line.startswith(b"data: "):
                yield json.loads(line.removeprefix(b"data: "))


def watch(address: str, until: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The state as a viewer of the page puts it together, once `until` is true of it."""
    state: dict[str, Any] = {}
    give_up_s = time.monotonic() + PATIENCE_S
    for message in messages(address):
        assert time.monotonic() < give_up_s, f"not seen in the stream: {state}"
        state |= message.get("state", {}) | message.get("set", {})
        if state and until(state):
            return state
    raise AssertionError("the page's stream ended")


def is_down_and_judged(state: dict[str, Any]) -> bool:
    return state["phase"] == "down" and all(deployment["verdict"] for deployment in state["deployments"])


@needs_pty
@needs_signals
def test_a_flight_over_a_bad_link_is_shown_live_recorded_and_judged_right(
    start_station: Callable[..., Any],
    run_station: Callable[..., subprocess.CompletedProcess[bytes]],
    tmp_path: Path,
    flight: VirtualFlight,
) -> None:
    altimeter = start_station("emulate", "nominal-dual", *LINK, "--to", "pty", "--pace", "0")
    port = altimeter.line()
    live = start_station("live", port, "--logs", "logs", "--page", "127.0.0.1:0", "--no-open")
    first, second = live.line(), live.line()
    assert first.startswith("page: http://127.0.0.1:")
    assert second.startswith("log: ")
    address, log = first.removeprefix("page: "), Path(second.removeprefix("log: "))

    state = watch(address, is_down_and_judged)
    assert {each["role"]: each["verdict"] for each in state["deployments"]} == {
        "drogue": "confirmed",
        "main": "confirmed",
    }
    assert {event["name"] for event in state["events"]} == {
        "liftoff",
        "burnout",
        "apogee",
        "drogue",
        "main",
        "touchdown",
    }
    assert altimeter.end() == 0, altimeter.errors()
    assert live.end(signal.SIGTERM) == 0, live.errors()
    assert live.errors() == ""
    (without_a_plan,) = live.rest()
    assert without_a_plan.startswith("plan: No flight plan, so not judged: ")

    recorded = [line for line, _ in read_flight_file(log).lines]
    sent = framed(flight)
    assert len(recorded) > 0.9 * len(sent)
    # What was in the port's buffer when it was opened is thrown away, and the first line heard may be cut.
    assert recorded[1:] == sent[len(sent) - len(recorded) + 1 :]

    checked = run_station("check", log, "--json")
    assert (checked.returncode, checked.stderr) == (0, b"")
    report = json.loads(checked.stdout)
    truth = flight.truth
    assert report["verdict"] == "both_confirmed"
    # Judged right: against what the physics did. The bounds are this test's own.
    assert report["source"]["loss_fraction"] == pytest.approx(0.06, abs=0.02)
    assert report["source"]["rejected"] >= 20
    assert report["summary"]["apogee_isa_m"] == pytest.approx(truth.apogee_isa_m, abs=2.5)
    assert truth.liftoff_t_s is not None
    assert report["liftoff_ms"] == pytest.approx(truth.t_ms_of(truth.liftoff_t_s), abs=100.0)
    for deployment, really in zip(report["deployments"], (truth.drogue, truth.main), strict=True):
        assert really.fired_t_s is not None
        assert really.took_hold_t_s is not None
        assert deployment["fired_t_s"] == pytest.approx(really.fired_t_s - truth.liftoff_t_s, abs=0.12)
        assert deployment["opened_t_s"] == pytest.approx(really.took_hold_t_s - truth.liftoff_t_s, abs=1.0)
        assert deployment["rate_after_mps"] == pytest.approx(really.rate_mps, rel=0.06)


class HandClock:
    """A clock that moves a given step each time it is read."""

    def __init__(self, step_s: float) -> None:
        self.now_s = 0.0
        self.step_s = step_s

    def __call__(self) -> float:
        self.now_s += self.step_s
        return self.now_s


def replayed(log: Path, speed: float, step_s: float) -> FlightSession:
    playback = Playback(read_flight_file(log), Pipeline, clock_s=HandClock(step_s))
    playback.set_speed(speed)
    playback.play()
    while playback.step() is not None:
        pass
    return playback.session


@needs_pty
def test_the_log_replays_to_the_same_events_to_the_last_bit_at_any_speed_and_cut(
    start_station: Callable[..., Any], tmp_path: Path
) -> None:
    altimeter = start_station("emulate", "main-stays-in", *LINK, "--to", "pty", "--pace", "0")
    link = SerialLink(altimeter.line())
    link.open()
    clock_us = start_clock()
    session = FlightSession(Pipeline(), link.name, clock_us)
    writer = FlightLogWriter(tmp_path, LogHeader(None, link.name, "test", "test"))
    live = LiveFlight(link, writer, session, clock_us)
    listener = threading.Thread(target=live.run_forever, args=(threading.Event(),))
    listener.start()
    status = altimeter.end()
    live.stop()
    listener.join(timeout=PATIENCE_S)
    assert status == 0, altimeter.errors()
    session.end_of_lines()
    seen_live = session.snapshot()[1]
    assert len(seen_live.events) >= 5

    for speed, step_s in ((1.0, 0.013), (0.37, 1.7), (16.0, 0.05), (1000.0, 3.1)):
        again = replayed(writer.path, speed, step_s)
        assert again.snapshot()[1] == seen_live
        assert again.points(0) == session.points(0)

    lines = read_flight_file(writer.path).lines
    data = b"".join(line + b"\n" for line, _ in lines)
    cuts = random.Random(5)
    for largest in (1, 7, 300, 5000):
        framer, found, rest = LineFramer(), [], data
        while rest:
            size = cuts.randint(1, largest)
            found += framer.feed(rest[:size])
            rest = rest[size:]
        assert found + framer.flush() == [line for line, _ in lines]


@needs_signals
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("connection", [pytest.param("pty", marks=needs_pty), "socket"])
def test_the_demo_ends_in_good_order_when_asked_in_mid_flight(
    number: signal.Signals, connection: str, start_station: Callable[..., Any]
) -> None:
    demo = start_station("demo", "--to", connection, "--logs", "logs", "--page", "127.0.0.1:0", "--no-open")
    address, log = demo.line().removeprefix("page: "), Path(demo.line().removeprefix("log: "))
    watch(address, lambda state: state["points"] > 0 or state["link"]["good"] > 0)
    assert demo.end(number) == 0, demo.errors()
    assert demo.errors() == ""
    saved = read_flight_file(log)
    assert not saved.torn
    assert saved.damaged == 0
    assert saved.lines


def test_the_demo_flies_to_the_end_prints_the_verdict_and_leaves_its_log(
    start_station: Callable[..., Any], run_station: Callable[..., subprocess.CompletedProcess[bytes]], tmp_path: Path
) -> None:
    (tmp_path / "comet.toml").write_text('[rocket]\nname = "Comet"\n[recovery]\nmain_rate = "5.3 m/s"\n', "utf-8")
    demo = start_station(
        "demo", "main-stays-in", "--pace", "0", "--plan", "comet.toml", "--page", "127.0.0.1:0", "--no-open",
        "--exit-after-flight",
    )  # fmt: skip
    assert demo.end() == 0, demo.errors()
    page, log, *said = demo.rest()
    assert page.startswith("page: http://127.0.0.1:")
    path = Path(log.removeprefix("log: "))
    assert path.parent == tmp_path / "flights"
    saved = read_flight_file(path)
    assert saved.header is not None
    assert saved.header.plan == (tmp_path / "comet.toml").read_text("utf-8")
    checked = run_station("check", path)
    assert checked.returncode == 1
    assert checked.stdout.decode().splitlines()[1:] == said[2:]


@needs_signals
def test_a_replay_shows_the_flight_and_ends_in_good_order(
    start_station: Callable[..., Any], run_station: Callable[..., subprocess.CompletedProcess[bytes]]
) -> None:
    assert run_station("emulate", "drogue-silent", "--to", "capture.txt", "--pace", "0").returncode == 0
    replay = start_station("replay", "capture.txt", "--speed", "1000", "--page", "127.0.0.1:0", "--no-open")
    state = watch(replay.line().removeprefix("page: "), is_down_and_judged)
    assert {each["role"]: each["verdict"] for each in state["deployments"]}["drogue"] == "not_fired"
    assert replay.end(signal.SIGINT) == 0, replay.errors()
    assert replay.errors() == ""
