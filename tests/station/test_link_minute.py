from station.flight_state import LinkSecond
from station.link_minute import KEPT_S, LinkMinute
from station.pipeline import Pipeline
from station.records import SampleRecord
from station.wire import encode


def test_lines_are_counted_at_the_second_they_arrived_in() -> None:
    minute = LinkMinute()
    minute.take_believed(5_000_000, 0)
    minute.take_believed(5_999_999, 2)
    minute.take_rejected(8_000_000)
    assert minute.seconds == (LinkSecond(5, 2, 2), LinkSecond(8, 0, 1))


def test_a_rejected_line_that_is_then_found_missing_counts_once() -> None:
    minute = LinkMinute()
    minute.take_rejected(1_000_000)
    minute.take_believed(2_000_000, 3)
    minute.take_believed(3_000_000, 1)
    assert minute.seconds == (LinkSecond(1, 0, 1), LinkSecond(2, 1, 2), LinkSecond(3, 1, 1))


def test_only_the_last_minute_before_the_newest_line_is_kept() -> None:
    minute = LinkMinute()
    for at_s in range(100):
        minute.take_believed(at_s * 1_000_000, 0)
    assert [second.at_s for second in minute.seconds] == list(range(100 - KEPT_S, 100))


def test_an_arrival_that_goes_back_counts_with_the_newest() -> None:
    minute = LinkMinute()
    minute.take_believed(9_000_000, 0)
    minute.take_believed(3_000_000, 0)
    assert minute.seconds == (LinkSecond(9, 2, 0),)


def test_the_pipeline_counts_believed_rejected_and_missing_lines() -> None:
    pipeline = Pipeline()

    def sample(seq: int) -> bytes:
        return encode(SampleRecord(seq, 20 * seq, 98_000.0, 20.0, None)).rstrip(b"\r\n")

    pipeline.take_line(sample(0), 1_000_000)
    pipeline.take_line(sample(1)[:-1], 1_020_000)  # its checksum is cut
    pipeline.take_line(sample(4), 2_040_000)  # 2 and 3 are missing too
    pipeline.take_line(sample(5), None)
    assert pipeline.snapshot().link.last_minute == (LinkSecond(1, 1, 1), LinkSecond(2, 1, 2))
