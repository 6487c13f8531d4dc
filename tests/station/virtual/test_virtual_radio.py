from itertools import groupby, pairwise

import pytest

from station.records import SampleRecord, SignalRecord
from station.virtual.radio import CLEAR, Radio, SentLine, receive
from station.wire import decode_line, encode

SENT = [
    (k * 20 / 1000, encode(SampleRecord(k % 65536, 1000 + 20 * k, 98_000.0 + k % 7, 20.0, 9.8))) for k in range(20_000)
]


def heard(
    radio: Radio, silences: tuple[tuple[float, float], ...] = (), distance_m: float = 500.0, seed: int = 2
) -> list[SentLine]:
    return receive(SENT, radio, [distance_m] * len(SENT), silences, seed)


def test_a_clear_link_gives_everything_as_it_was_sent() -> None:
    assert [(line.t_s, line.data) for line in heard(CLEAR)] == SENT


def test_the_asked_share_is_lost_in_bursts_of_the_asked_length() -> None:
    # Gilbert's channel: the share lost is p/(p + r), a burst is 1/r lines long on average.
    got = {line.data for line in heard(Radio(0.2, 5.0, 0.0, 0.0, signal_reports=False))}
    lost = [data not in got for _, data in SENT]
    bursts = [len(list(run)) for gone, run in groupby(lost) if gone]
    assert sum(lost) / len(SENT) == pytest.approx(0.2, abs=0.02)
    assert sum(bursts) / len(bursts) == pytest.approx(5.0, abs=0.5)


def test_nothing_is_heard_in_a_silence_and_everything_around_it() -> None:
    lines = heard(CLEAR, ((10.0, 20.0), (300.0, float("inf"))))
    assert not [line for line in lines if 10.0 <= line.t_s < 20.0 or line.t_s >= 300.0]
    assert len(lines) == (300 - 10) * 50


def test_lines_come_out_in_order_and_never_before_they_were_sent() -> None:
    lines = heard(Radio(0.0, 1.0, 0.0, 0.0, 0.05, 0.03, signal_reports=False))
    times = [line.t_s for line in lines]
    assert times == sorted(times)
    late = [line.t_s - t for line, (t, _) in zip(lines, SENT, strict=True)]
    assert min(late) >= 0.05 - 1e-6
    assert max(late) > 0.1


def test_the_asked_share_of_lines_is_spoilt() -> None:
    got = [line.data for line in heard(Radio(0.0, 1.0, 0.03, 0.0, signal_reports=False))]
    good = {data for _, data in SENT}
    spoilt = [data for data in got if data not in good]
    assert len(spoilt) / len(SENT) == pytest.approx(0.03, abs=0.005)


def test_a_spoilt_line_is_never_read_as_another_sample() -> None:
    sent = {decode_line(data.removesuffix(b"\n")) for _, data in SENT}
    for line in heard(Radio(0.0, 1.0, 0.03, 0.01, signal_reports=False)):
        for piece in line.data.split(b"\n"):
            record = decode_line(piece)
            assert not isinstance(record, SampleRecord) or record in sent


def test_noise_comes_before_some_lines() -> None:
    got = [line.data for line in heard(Radio(0.0, 1.0, 0.0, 0.02, signal_reports=False))]
    noisy = [data for (_, clean), data in zip(SENT, got, strict=True) if data != clean]
    assert len(noisy) / len(SENT) == pytest.approx(0.02, abs=0.004)
    assert all(len(data) > 25 and data.rpartition(b"@")[2].endswith(b"\n") for data in noisy)


def test_the_receiver_adds_its_own_line_at_most_once_a_second() -> None:
    reports = [
        (line.t_s, record)
        for line in heard(Radio(0.05, 2.0, 0.0, 0.0), distance_m=800.0)
        if isinstance(record := decode_line(line.data.removesuffix(b"\n")), SignalRecord)
    ]
    assert len(reports) == pytest.approx(390, abs=10)
    assert min(b[0] - a[0] for a, b in pairwise(reports)) > 0.9


def test_the_signal_gets_weaker_with_distance() -> None:
    def mean_dbm(distance_m: float) -> float:
        records = [decode_line(line.data.removesuffix(b"\n")) for line in heard(Radio(), distance_m=distance_m)]
        levels = [r.signal_dbm for r in records if isinstance(r, SignalRecord) and r.signal_dbm is not None]
        return sum(levels) / len(levels)

    # Ten times the distance is 20 dB less in free space.
    assert mean_dbm(100.0) - mean_dbm(1000.0) == pytest.approx(20.0, abs=1.0)


def test_losing_everything_is_refused() -> None:
    with pytest.raises(ValueError, match="fraction under 1"):
        Radio(loss_fraction=1.0)
