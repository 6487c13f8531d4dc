import json
import threading

from dashboard.publisher import MOST_WAITING, Publisher


def body(message: bytes) -> dict:
    return json.loads(next(line[6:] for line in message.decode().splitlines() if line.startswith("data: ")))


def test_state_is_there_as_soon_as_it_has_started(stage):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    try:
        assert publisher.state()["unit"]["name"] == "PEBBLE-1"
    finally:
        publisher.stop()


def test_every_point_reaches_a_viewer_once_whatever_the_pace(stage):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    stream = publisher.messages("")
    next(stream)  # the whole, before there is any point: a later one would bring the history thinned
    feeder = threading.Thread(target=stage.add_points, args=(20_000,))
    feeder.start()
    seen: list[float] = []
    last = 10_000 + 20 * 19_999
    try:
        for message in stream:
            for line in message.decode().split("\n\n"):
                if line:
                    seen += [row[0] for row in body(f"{line}\n".encode()).get("rows", [])]
            if seen and seen[-1] >= last:
                break
    finally:
        feeder.join()
        publisher.stop()
    assert seen == [10_000 + 20 * index for index in range(20_000)]


def test_a_viewer_that_fell_far_behind_gets_the_whole(stage, until):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    try:
        stream = publisher.messages("")
        next(stream)
        for _ in range(MOST_WAITING + 1):
            publisher._publish()
        late = next(stream).decode()
        assert "event: whole" in late
        assert late.count("data: ") == 1
    finally:
        publisher.stop()


def test_changes_are_sent_once_the_whole_has_been_fetched(stage, until):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    sent: list[bytes] = []
    fetched: list[bytes] = []

    def send(message: bytes) -> bool:
        sent.append(message)
        return len(seen()) < 100

    def seen() -> list[float]:
        return [row[0] for message in [*fetched, *sent] for row in body(message).get("rows", [])]

    stream = publisher.messages("", send)
    fetched.append(next(stream))
    stage.add_points(30)
    until(lambda: publisher.state()["points"] == 30)
    reader = threading.Thread(target=lambda: fetched.extend(stream))
    reader.start()
    try:
        until(lambda: len(seen()) == 30 and sent)
        stage.add_points(70)
        reader.join(timeout=30)  # what cannot be sent any more ends the stream
        assert not reader.is_alive()
        assert seen() == [10_000 + 20 * index for index in range(100)]
    finally:
        publisher.stop()


def test_viewers_are_counted_and_bounded(stage):
    publisher = Publisher(stage.session, None, most_viewers=2)
    assert publisher.admit()
    assert publisher.admit()
    assert not publisher.admit()
    publisher.leave()
    assert publisher.admit()


def test_stopping_ends_every_stream(stage):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    stream = publisher.messages("")
    next(stream)
    rest: list[bytes] = []
    reader = threading.Thread(target=lambda: rest.extend(stream))
    reader.start()
    publisher.stop()
    reader.join(timeout=30)
    assert not reader.is_alive()
    assert not publisher.admit()


def test_a_session_that_begins_again_is_told_as_a_whole(stage, until):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    try:
        stage.add_points(30)
        until(lambda: publisher.state()["points"] == 30)
        first = publisher.state()["session"]
        fresh = type(stage.pipeline)()
        stage.session.restart(fresh)
        until(lambda: publisher.state()["session"] != first)
        assert publisher.state()["points"] == 0
    finally:
        publisher.stop()


def test_a_reading_that_fails_does_not_end_the_page(stage, until, caplog):
    publisher = Publisher(stage.session, None, most_viewers=2)
    publisher.start()
    try:
        shown = stage.pipeline.shown
        stage.pipeline.shown = None
        stage.add_points(1)
        until(lambda: "could not be brought up to date" in caplog.text)
        stage.pipeline.shown = shown
        stage.add_points(1)
        until(lambda: publisher.state()["points"] == 2)
    finally:
        publisher.stop()
