"""SEQ and T_MS: worked by hand."""

import random

import pytest

from station.unit_clock import LONG_SILENCE_MS, UnitClock

TOP_MS = 2**32


def fed(*lines: tuple[int, int], host_us: bool = False) -> UnitClock:
    """A clock that took lines (SEQ, T_MS); with host times they came 30 ms late on a clock of the host's own."""
    clock = UnitClock()
    for seq, t_ms in lines:
        clock.take(seq, t_ms, host_of(t_ms) if host_us else None)
    return clock


def host_of(t_ms: int, late_ms: float = 30.0) -> int:
    return round((t_ms + 7_000_000.0 + late_ms) * 1000.0)


def steady(clock: UnitClock, seq: int, t_ms: int, count: int, period_ms: int = 20, *, host_us: bool = True) -> None:
    for k in range(count):
        t = t_ms + k * period_ms
        clock.take((seq + k) % 65536, t % TOP_MS, host_of(t) if host_us else None)


def test_the_first_line_sets_the_time_line() -> None:
    clock = UnitClock()
    assert clock.t_ms is None
    assert clock.loss_fraction == 0.0
    assert clock.take(65_000, 123_456, None) == 123_456
    assert clock.t_ms == 123_456
    assert (clock.lost, clock.restarts) == (0, 0)


@pytest.mark.parametrize(
    ("seqs", "lost"),
    [
        ((10, 11, 12), 0),
        ((10, 11, 14), 2),
        ((10, 20, 30), 18),
        ((65_533, 65_534, 65_535, 0, 1), 0),
        ((65_534, 65_535, 0, 2), 1),
        ((65_530, 3), 8),  # 65531 to 65535 and 0 to 2
        ((0, 0, 1), 0),  # the same line twice
        ((10, 12, 11, 13), 0),  # 11 was late, not lost
        ((10, 14, 12, 15), 2),  # 11 and 13
        ((65_535, 1, 0, 2), 0),  # late over the wrap
        ((10, 11, 12, 11, 13), 0),  # 11 a second time
        ((10, 15, 15, 15, 10, 16), 4),  # none of the copies makes up for 11 to 14
        ((10, 15, 12, 12, 16), 3),  # 12 came late, and then again
    ],
)
def test_lost_lines_are_counted_by_seq(seqs: tuple[int, ...], lost: int) -> None:
    clock = fed(*((seq, 1000 + 20 * ((seq - seqs[0]) % 65_536)) for seq in seqs))
    assert clock.lost == lost
    different = len(set(seqs))
    assert clock.loss_fraction == pytest.approx(lost / (lost + different))
    assert clock.restarts == 0


def test_a_line_heard_before_the_first_one_was_sent_is_no_gain() -> None:
    clock = fed((10, 1000), (9, 980), (11, 1020), (13, 1060))
    assert clock.lost == 1


def test_a_late_line_has_its_own_time_and_does_not_turn_the_clock_back() -> None:
    clock = fed((10, 1000), (12, 1040))
    assert clock.take(11, 1020, None) == 1020
    assert clock.t_ms == 1040
    assert clock.take(13, 1060, None) == 1060
    assert clock.restarts == 0


def test_lines_of_the_same_millisecond_may_come_in_any_order() -> None:
    clock = fed((5, 1000), (7, 1020), (6, 1020), (8, 1040))
    assert (clock.lost, clock.t_ms) == (0, 1040)


def test_t_ms_goes_on_over_its_wrap() -> None:
    clock = fed((1, TOP_MS - 40), (2, TOP_MS - 20))
    assert clock.take(3, 0, None) == TOP_MS
    assert clock.take(4, 20, None) == TOP_MS + 20
    assert clock.take(6, 60, None) == TOP_MS + 60
    assert (clock.lost, clock.restarts) == (1, 0)


def test_a_late_line_from_before_the_wrap_lies_before_it() -> None:
    clock = fed((1, TOP_MS - 40), (3, 0))
    assert clock.take(2, TOP_MS - 20, None) == TOP_MS - 20
    assert clock.take(4, 20, None) == TOP_MS + 20
    assert (clock.lost, clock.restarts) == (0, 0)


@pytest.mark.parametrize("host_us", [True, False])
def test_the_wrap_is_seen_through_a_silence(host_us: bool) -> None:
    clock = UnitClock()
    steady(clock, 100, TOP_MS - 12_000, 500, host_us=host_us)  # to 2000 ms before the wrap
    after = TOP_MS + 28_000
    t = clock.take(100 + 499 + 1501, after % TOP_MS, host_of(after) if host_us else None)
    assert t == after
    assert (clock.lost, clock.restarts) == (1500, 0)


@pytest.mark.parametrize("host_us", [True, False])
@pytest.mark.parametrize("left_ms", [200, 2_000, 30_000, 1_800_000])
def test_a_restart_shortly_before_the_wrap_is_not_taken_for_it(left_ms: int, host_us: bool) -> None:
    clock = UnitClock()
    last = TOP_MS - left_ms
    steady(clock, 30_000, last - 200 * 20, 201, host_us=host_us)
    back = last + 1500
    t = clock.take(0, 140, host_of(back) if host_us else None)
    assert clock.restarts == 1
    assert clock.lost == 0
    assert t == (back if host_us else last + 1)


def test_a_restart_is_placed_by_the_hosts_clock() -> None:
    clock = UnitClock()
    steady(clock, 500, 60_000, 100)  # the last at 61 980
    # Three seconds later by the host the altimeter counts from 140 again; this line was held up by 200 ms.
    assert clock.take(0, 140, host_of(64_980, late_ms=230.0)) == 65_180
    assert clock.restarts == 1
    # What follows keeps its own spacing.
    assert clock.take(1, 160, host_of(65_000)) == 65_200
    assert clock.take(3, 200, host_of(65_040)) == 65_240
    assert clock.lost == 1


def test_the_shortest_delay_counts_for_the_place_of_a_restart() -> None:
    clock = UnitClock()
    for k, late_ms in enumerate((400.0, 30.0, 700.0, 250.0)):
        clock.take(k, 10_000 + 20 * k, host_of(10_000 + 20 * k, late_ms))
    assert clock.take(0, 90, host_of(12_000, 30.0)) == 12_000


def test_without_host_times_a_restart_follows_at_once() -> None:
    clock = fed((1, 50_000), (2, 50_020))
    assert clock.take(0, 140, None) == 50_021
    assert clock.take(1, 160, None) == 50_041
    assert clock.restarts == 1


def test_time_never_runs_backwards_over_a_restart_whatever_the_host_says() -> None:
    clock = UnitClock()
    steady(clock, 1, 90_000, 50)
    assert clock.take(0, 140, host_of(10_000)) == 90_981


def test_two_restarts_are_two() -> None:
    clock = UnitClock()
    steady(clock, 1, 90_000, 50)
    clock.take(0, 5_000, host_of(93_000))
    clock.take(1, 5_020, host_of(93_020))
    assert clock.take(0, 140, host_of(96_000)) == 96_000
    assert clock.restarts == 2


def test_a_restart_soon_after_power_up_shows_in_seq_though_t_ms_hardly_went_back() -> None:
    clock = UnitClock()
    steady(clock, 27_000, TOP_MS - 2_000, 130)  # past the wrap: T_MS is 580 now
    assert clock.take(0, 140, host_of(TOP_MS + 2_080)) == TOP_MS + 2_080
    assert clock.restarts == 1
    steady_after = [clock.take(k, 140 + 20 * k, host_of(TOP_MS + 2_080 + 20 * k)) for k in range(1, 200)]
    assert steady_after[-1] == TOP_MS + 2_080 + 20 * 199
    assert clock.lost == 0


def test_a_restart_just_after_the_wrap_shows_in_seq_though_t_ms_went_on() -> None:
    clock = UnitClock()
    steady(clock, 35_000, TOP_MS - 100, 15)  # the last at 180 after the wrap
    at_ms = TOP_MS + 180
    assert clock.restarts == 0
    assert clock.take(1, 740, host_of(at_ms + 1420)) == at_ms + 1420
    assert clock.restarts == 1
    assert clock.lost == 0
    assert clock.take(2, 760, host_of(at_ms + 1440)) == at_ms + 1440


def test_back_by_just_a_second_is_late_and_by_more_a_restart() -> None:
    clock = fed((1000, 50_000), (1060, 51_000))
    assert clock.take(1001, 50_000, None) == 50_000
    assert clock.restarts == 0
    clock.take(1002, 49_999, None)
    assert clock.restarts == 1


def test_a_silence_so_long_that_seq_went_round_is_counted_by_t_ms() -> None:
    """50 lines a second: SEQ goes round in 1310.72 s. After 4000 s 200 000 lines were sent, three rounds and 3392."""
    clock = UnitClock()
    steady(clock, 0, 0, 3000)
    last = 2999 * 20
    seq = (2999 + 200_000) % 65_536
    assert clock.take(seq, last + 4_000_000, None) == last + 4_000_000
    assert clock.lost == 199_999


def test_a_silence_of_exactly_one_round_of_seq_is_no_duplicate() -> None:
    clock = UnitClock()
    steady(clock, 7, 0, 2000, period_ms=100)
    clock.take(7 + 1999, 1999 * 100 + 65_536 * 100, None)
    assert clock.lost == 65_535


def test_a_silence_of_eight_hours_is_counted_to_a_percent_though_other_lines_come_between() -> None:
    clock = UnitClock()
    seq = 0
    for k in range(6000):  # a sample every 20 ms, and once a second a line between two of them
        clock.take(seq % 65_536, 20 * k, None)
        seq += 1
        if k % 50 == 49:
            clock.take(seq % 65_536, 20 * k + 7, None)
            seq += 1
    missed = 8 * 3600 * 51
    clock.take((seq + missed) % 65_536, 20 * 6000 + 8 * 3_600_000, None)
    assert clock.lost == pytest.approx(missed, rel=0.01)


@pytest.mark.parametrize("period_ms", [10, 200])
def test_the_rate_of_lines_is_learned_from_the_first_ones(period_ms: int) -> None:
    """Ten lines before the wrap the clock has been switched on to: still no restart is seen in it."""
    clock = UnitClock()
    steady(clock, 65_530, TOP_MS - 10 * period_ms, 10, period_ms, host_us=False)
    after = 9_000
    clock.take((65_539 + after // period_ms) % 65_536, after - period_ms, None)
    assert clock.restarts == 0
    assert clock.lost == after // period_ms - 1


def test_a_quoted_time_lies_on_the_time_line() -> None:
    clock = fed((1, 40_000), (2, 40_020))
    assert clock.place(39_500) == 39_500
    assert clock.place(40_020) == 40_020


def test_a_time_quoted_from_before_the_wrap() -> None:
    clock = fed((1, TOP_MS - 20), (2, 0), (3, 5_000))
    assert clock.t_ms == TOP_MS + 5_000
    assert clock.place(TOP_MS - 300) == TOP_MS - 300
    assert clock.place(4_000) == TOP_MS + 4_000


def test_a_time_quoted_from_before_the_wrap_when_listening_began_after_it() -> None:
    clock = fed((1, 5_000))
    assert clock.place(TOP_MS - 300) == -300


def test_a_time_quoted_after_a_restart_is_of_the_new_count() -> None:
    clock = UnitClock()
    steady(clock, 1, 90_000, 50)
    clock.take(0, 1_000, host_of(95_000))
    clock.take(1, 3_000, host_of(97_000))
    assert clock.place(2_500) == 96_500


def test_a_time_quoted_from_before_the_restart_is_of_the_old_count() -> None:
    """The altimeter remembers that it fired at 90 600; its new count has not come so far."""
    clock = UnitClock()
    steady(clock, 1, 90_000, 50)
    clock.take(0, 1_000, host_of(95_000))
    assert clock.place(90_600) == 90_600
    assert clock.place(94_000) == 90_980  # it cannot have been after the last line of the old count


def test_no_quoted_time_lies_in_the_future() -> None:
    clock = fed((1, 40_000))
    assert clock.place(70_000) == 40_000


def test_lines_that_share_one_t_ms_and_a_long_silence_after_them_stop_nothing() -> None:
    clock = fed((0, 350), (1, 350), (3000, 60_851))
    assert clock.t_ms == 60_851
    assert clock.lost >= 2998
    assert clock.take(3001, 20, None) > 60_851  # a restart after it


def take_the_long_way(clock: UnitClock, seq: int, raw_t_ms: int, arrival_us: int | None) -> int:
    """`take`, but the short way for the next line in order is passed by."""
    t_ms = clock.t_ms
    if t_ms is None or not 0 <= raw_t_ms - clock._raw_t_ms <= LONG_SILENCE_MS or seq - clock._seq != 1:
        return clock.take(seq, raw_t_ms, arrival_us)
    clock._unique += 1
    ahead_ms = raw_t_ms - clock._raw_t_ms
    clock._follow(seq, 1, ahead_ms)
    clock._raw_t_ms = raw_t_ms
    clock.t_ms = t_ms + ahead_ms
    clock._learn_latency(clock.t_ms, arrival_us)
    return clock.t_ms


@pytest.mark.parametrize("seed", range(8))
def test_the_short_way_of_the_next_line_in_order_counts_as_the_long_one(seed: int) -> None:
    chance = random.Random(seed)
    short, long = UnitClock(), UnitClock()
    seq, t_ms = chance.randrange(65536), chance.randrange(4_000_000)
    late: list[tuple[int, int]] = []
    most_lost = 0
    for _ in range(3000):
        seq, t_ms = (seq + 1) % 65536, t_ms + chance.choice((0, 19, 20, 20, 21))
        what = chance.random()
        if what < 0.05:
            late.append((seq, t_ms))  # lost, or late
            continue
        if what > 0.999:
            seq, t_ms = 0, chance.randrange(500)  # restarted
            late.clear()
        lines = [(seq, t_ms)]
        if late and chance.random() < 0.3:
            lines.append(late.pop(chance.randrange(len(late))))
        for each in lines:
            arrival_us = 1000 * (t_ms + chance.randrange(60))
            assert short.take(*each, arrival_us) == take_the_long_way(long, *each, arrival_us)
        assert (short.lost, short.restarts, short.loss_fraction) == (long.lost, long.restarts, long.loss_fraction)
        assert short.place(t_ms) == long.place(t_ms)
        most_lost = max(most_lost, short.lost)
    assert most_lost > 0
