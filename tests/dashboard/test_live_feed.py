import itertools
import json
from dataclasses import replace

import numpy as np

from dashboard.live_feed import LiveFeed, Moment
from station.flight_state import LinkSecond, Outlook, Phase
from station.prediction import Prediction, prediction_of


def told(message: bytes) -> tuple[str, str, dict]:
    """(event name, id, body) of one message, which must be one well-formed server-sent event."""
    text = message.decode()
    assert text.endswith("\n\n")
    fields = dict(line.split(": ", 1) for line in text.strip().split("\n"))
    return fields.get("event", ""), fields["id"], json.loads(fields["data"])


def moment(make, *, session="s1", points=(), now_us=5_250_000, snapshot=None, marks=(), at_rest=False):
    return Moment(session, snapshot or make.snapshot(), make.status(now_us=now_us, marks=marks), points, at_rest)


def test_first_message_is_the_whole(make):
    feed = LiveFeed()
    name, identifier, body = told(feed.take(moment(make, points=[make.estimate(0), make.estimate(1)])))
    assert (name, identifier) == ("whole", "s1:2")
    assert body["state"] == feed.state
    assert (body["from"], len(body["rows"])) == (0, 2)


def test_a_change_carries_new_points_and_nothing_that_was_told(make):
    feed = LiveFeed()
    feed.take(moment(make, points=[make.estimate(0)]))
    name, identifier, body = told(feed.take(moment(make, points=[make.estimate(1), make.estimate(2)])))
    assert (name, identifier) == ("", "s1:3")
    assert body == {"age_ms": 250, "from": 1, "rows": [[10_020, 0.5, 12.5, -9.81, 0.4, 0.3, 0.2], body["rows"][1]]}


def test_what_changed_is_told_whole_and_once(make):
    feed = LiveFeed()
    feed.take(moment(make))
    later = make.snapshot(phase=Phase.DESCENT, highest_m=151.0)
    _, _, body = told(feed.take(moment(make, snapshot=later)))
    assert body["set"] == {"phase": "descent", "highest_m": 151}
    _, _, body = told(feed.take(moment(make, snapshot=later)))
    assert "set" not in body


def test_counters_that_change_with_every_line_are_told_in_every_twentieth_message(make):
    feed = LiveFeed()
    feed.take(moment(make))
    told_at = []
    for number in range(1, 101):
        snapshot = make.snapshot(link=make.link(lines=100 + number))
        _, _, body = told(feed.take(moment(make, snapshot=snapshot)))
        if "link" in body.get("set", {}):
            told_at.append(number)
    assert len(told_at) == 5
    assert {later - earlier for earlier, later in itertools.pairwise(told_at)} == {20}


def test_counters_are_up_to_date_as_soon_as_nothing_more_happens(make):
    feed = LiveFeed()
    feed.take(moment(make))
    changed = make.snapshot(link=make.link(lines=101))
    assert "set" not in told(feed.take(moment(make, snapshot=changed)))[2]
    assert told(feed.take(moment(make, snapshot=changed, at_rest=True)))[2]["set"]["link"]["lines"] == 101


def test_only_new_or_grown_seconds_of_the_last_minute_are_told(make):
    feed = LiveFeed()
    early, growing, grown, new = LinkSecond(4, 50, 0), LinkSecond(5, 20, 1), LinkSecond(5, 48, 2), LinkSecond(6, 3, 0)
    feed.take(moment(make, snapshot=make.snapshot(link=make.link(last_minute=(early, growing)))))
    later = make.snapshot(link=make.link(last_minute=(early, grown, new)))
    _, _, body = told(feed.take(moment(make, snapshot=later, at_rest=True)))
    assert body["set"]["last_minute"] == [[5, 48, 2], [6, 3, 0]]
    assert feed.state["last_minute"] == [[4, 50, 0], [5, 48, 2], [6, 3, 0]]


def test_what_is_still_to_come_is_told_at_once_when_it_begins_and_ends_to_be_known(make):
    feed = LiveFeed()
    feed.take(moment(make))
    soon, sooner = Outlook(20_000.0, 0.4, 300.0, 5.0), Outlook(20_100.0, 0.3, 301.0, 4.0)
    assert "outlook" in told(feed.take(moment(make, snapshot=make.snapshot(outlook=soon))))[2]["set"]
    assert "set" not in told(feed.take(moment(make, snapshot=make.snapshot(outlook=sooner))))[2]
    assert told(feed.take(moment(make)))[2]["set"] == {"outlook": None}


def simulated() -> Prediction:
    t_s = np.array([0.0, 1.0, 2.0, 3.0, 4.0])
    height_m = np.array([0.0, 40.125, 60.0, 30.0, 0.0])
    return prediction_of(t_s, height_m, None, file="simulation.csv", columns="")


def test_a_simulated_course_is_told_once_and_whole(make):
    feed = LiveFeed()
    first = moment(make)
    feed.take(first)
    with_course = replace(first, prediction=simulated())
    told_now = told(feed.take(with_course))[2]["set"]["prediction"]
    assert told_now["altitude_m"] == [0, 40.12, 60, 30, 0]
    assert len(told_now["t_s"]) == len(told_now["velocity_mps"]) == 5
    assert "set" not in told(feed.take(with_course))[2]
    assert told(feed.whole())[2]["state"]["prediction"] == told_now


def test_changes_put_together_make_the_state(make):
    feed = LiveFeed()
    _, _, body = told(feed.take(moment(make, now_us=0)))
    known = body["state"]
    for step in range(1, 61):
        phase = Phase.COAST if step < 30 else Phase.DOWN
        snapshot = make.snapshot(phase=phase, highest_m=150.0 + step // 20, link=make.link(lines=100 + step // 40))
        _, _, body = told(feed.take(moment(make, now_us=50_000 * step, snapshot=snapshot)))
        known |= body.get("set", {})
    _, _, body = told(feed.take(moment(make, now_us=50_000 * 61, snapshot=snapshot, at_rest=True)))
    known |= body.get("set", {})
    known["now_us"] = feed.state["now_us"]
    assert known == feed.state


def test_a_new_session_begins_with_the_whole_and_counts_from_nothing(make):
    feed = LiveFeed()
    feed.take(moment(make, points=[make.estimate(i) for i in range(9)]))
    name, identifier, body = told(feed.take(moment(make, session="s2", points=[make.estimate(0)])))
    assert (name, identifier, body["from"], len(body["rows"])) == ("whole", "s2:1", 0, 1)


def test_resuming_gives_exactly_what_was_missed(make):
    feed = LiveFeed()
    feed.take(moment(make, points=[make.estimate(i) for i in range(50)]))
    _, _, body = told(feed.whole("s1:47"))
    assert (body["from"], [row[0] for row in body["rows"]]) == (47, [10_940, 10_960, 10_980])


def test_an_id_of_another_session_or_no_id_at_all_gets_the_whole_curve(make):
    feed = LiveFeed()
    feed.take(moment(make, points=[make.estimate(i) for i in range(50)]))
    for strange in ("s0:47", "", "s1", ":", "s1:x", "s1:-4", "s1:51", "s1:٣", "\n\n"):
        _, _, body = told(feed.whole(strange))
        assert (body["from"], len(body["rows"])) == (0, 50), strange


def test_age_counts_from_the_last_line_on_the_sessions_clock(make):
    feed = LiveFeed()
    _, _, body = told(feed.take(moment(make, now_us=8_000_000)))
    assert body["age_ms"] == 3000
    silent = make.snapshot(link=make.link(last_heard_us=None))
    _, _, body = told(feed.take(moment(make, now_us=8_000_000, snapshot=silent)))
    assert body["age_ms"] is None


def test_a_mark_is_placed_on_the_flights_time_line_when_it_is_first_seen(make):
    feed = LiveFeed()
    feed.take(moment(make))
    # Line T_MS 12,000 was heard at 5.0 s of the recorder's clock, the mark made at 5.2 s; liftoff was at 10,000.
    _, _, body = told(feed.take(moment(make, marks=((5_200_000, "bang"),))))
    assert body["set"]["marks"] == [{"at_us": 5_200_000, "t_s": 2.2, "text": "bang"}]
    later = make.snapshot(link=make.link(last_heard_us=9_000_000, last_t_ms=16_100.0))
    _, _, body = told(feed.take(moment(make, snapshot=later, marks=((5_200_000, "bang"),))))
    assert "marks" not in body.get("set", {})


def test_a_late_viewer_gets_a_long_flight_in_a_small_message(make):
    feed = LiveFeed()
    feed.take(moment(make))
    for start in range(0, 30_000, 100):
        feed.take(moment(make, points=[make.estimate(i) for i in range(start, start + 100)]))
    assert len(feed.whole()) < 300_000


def test_fifty_samples_a_second_take_less_than_five_kilobytes_a_second(make):
    feed = LiveFeed()
    feed.take(moment(make, now_us=0))
    sent = 0
    for step in range(1, 201):  # ten seconds: twenty messages a second, two or three points each
        points = [make.estimate(i) for i in range(2 * step + step // 2, 2 * step + 2 + (step + 1) // 2)]
        now_us = 50_000 * step
        link = make.link(lines=100 + step, last_heard_us=now_us)
        snapshot = make.snapshot(highest_m=150.0 + step, estimate=points[-1], link=link)
        sent += len(feed.take(moment(make, now_us=now_us, points=points, snapshot=snapshot)))
    assert sent / 10 < 5000
