"""What was shown live, what the saved log replays to and what the bytes give however cut: the same to the last bit."""

import os
import random
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from station.flight_log import FlightLogWriter, LogHeader, read_flight_file
from station.flight_state import Estimate, EventName, Snapshot
from station.live import LiveFlight, start_clock
from station.pipeline import Pipeline
from station.replay import Playback
from station.serial_link import SerialLink
from station.session import FlightSession
from station.virtual import SCENARIOS, fly
from station.wire import LineFramer

Outcome = tuple[Snapshot, list[Estimate]]


def outcome(pipeline: Pipeline) -> Outcome:
    return pipeline.snapshot(over=True), list(pipeline.track)


@pytest.fixture(scope="module")
def received() -> bytes:
    """A flight as it comes out of the receiver with 5 % of its lines lost and some corrupted."""
    rng = random.Random(6)
    kept = bytearray()
    for line in fly(SCENARIOS["nominal-dual"], 3).lines:
        data = line.data
        if rng.random() < 0.05:
            continue
        if rng.random() < 0.02:
            place = rng.randrange(len(data))
            data = data[:place] + rng.randbytes(rng.randrange(3)) + data[place + 1 :]
        kept += data
    return bytes(kept)


@pytest.fixture(scope="module")
def flown_live(received: bytes, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Outcome]:
    """The flight sent through a real pseudo-terminal in odd pieces: its log, and what was seen live."""
    if not hasattr(os, "openpty"):
        pytest.skip("no pseudo-terminals on this system")
    rng = random.Random(7)
    far_end, near_end = os.openpty()
    link = SerialLink(os.ttyname(near_end))
    link.open()
    clock_us = start_clock()
    writer = FlightLogWriter(tmp_path_factory.mktemp("flights"), LogHeader(None, "test", "station", "monotonic"))
    pipeline = Pipeline()
    session = FlightSession(pipeline, "test", clock_us)
    stop = threading.Event()
    thread = threading.Thread(target=LiveFlight(link, writer, session, clock_us).run_forever, args=(stop,))
    thread.start()
    rest = received
    while rest:
        rest = rest[os.write(far_end, rest[: rng.randrange(1, 300)]) :]
    wanted = _last_t_ms(received)
    version = -1
    while session.snapshot()[1].link.last_t_ms != wanted:
        newer = session.wait_newer(version, 60.0)
        assert newer != version, "the flight came to a halt"
        version = newer
    stop.set()
    thread.join(60.0)
    os.close(far_end)
    os.close(near_end)
    return writer.path, outcome(pipeline)


def _last_t_ms(received: bytes) -> float | None:
    pipeline = Pipeline()
    for line in LineFramer().feed(received):
        pipeline.take_line(line, None)
    return pipeline.snapshot().link.last_t_ms


def test_the_flight_is_heard_with_losses_and_still_tells_its_story(flown_live: tuple[Path, Outcome]) -> None:
    snapshot, track = flown_live[1]
    assert 0.03 < snapshot.link.loss_fraction < 0.12
    assert snapshot.link.rejected > 10
    assert {event.name for event in snapshot.events} == set(EventName)
    assert len(track) > 2000


@pytest.mark.parametrize("speed", [0.25, 1.0, 7.3, 1e6])
def test_the_log_replays_to_what_was_seen_live_at_any_speed(flown_live: tuple[Path, Outcome], speed: float) -> None:
    path, live = flown_live
    pipelines: list[Pipeline] = []
    now_s = 0.0

    def make() -> Pipeline:
        pipelines.append(Pipeline())
        return pipelines[-1]

    playback = Playback(read_flight_file(path), make, clock_s=lambda: now_s)
    playback.set_speed(speed)
    playback.play()
    while (wait_s := playback.step()) is not None:
        now_s += wait_s + 1e-6
    assert outcome(pipelines[-1]) == live


def test_jumps_in_the_replay_do_not_change_it(flown_live: tuple[Path, Outcome]) -> None:
    path, live = flown_live
    pipelines: list[Pipeline] = []

    def make() -> Pipeline:
        pipelines.append(Pipeline())
        return pipelines[-1]

    playback = Playback(read_flight_file(path), make, clock_s=lambda: 0.0)
    for share in (0.6, 0.2, 0.9, 0.4, 0.7, 1.0):
        playback.seek(round(share * playback.duration_us))
        while playback.step() == 0.0:
            pass
    assert len(pipelines) > 1
    assert outcome(pipelines[-1]) == live


def random_cut(rng: random.Random) -> int:
    return rng.choice([1, 3, 64, 700])


@pytest.mark.parametrize("cut", [lambda _rng: 1, lambda _rng: 4096, random_cut], ids=["bytes", "blocks", "random"])
def test_the_outcome_does_not_depend_on_how_the_bytes_were_cut(
    received: bytes, cut: Callable[[random.Random], int]
) -> None:
    rng = random.Random(2)
    whole, pieces = Pipeline(), Pipeline()
    framer = LineFramer()
    for line in framer.feed(received) + framer.flush():
        whole.take_line(line, None)
    framer, rest = LineFramer(), memoryview(received)
    while rest:
        size = cut(rng)
        for line in framer.feed(bytes(rest[:size])):
            pieces.take_line(line, None)
        rest = rest[size:]
    for line in framer.flush():
        pieces.take_line(line, None)
    assert outcome(pieces) == outcome(whole)
