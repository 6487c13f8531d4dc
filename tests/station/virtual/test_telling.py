from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from station.records import (
    ChannelRecord,
    ChannelState,
    Record,
    Role,
    SampleRecord,
    UnitRecord,
)
from station.virtual.flight_setup import Faults, FlightSetup, Moment, Restart
from station.virtual.radio import CLEAR
from station.virtual.scenarios import club_rocket
from station.virtual.telling import sample_line
from station.virtual.virtual_flight import VirtualFlight, fly_setup
from station.wire import decode_line, encode


def setup(**changes: object) -> FlightSetup:
    club = replace(club_rocket(3), radio=CLEAR)
    unit = replace(club.altimeter, first_t_ms=2**32 - 20_000, first_seq=65_000)
    return replace(club, **{"altimeter": unit, **changes})  # type: ignore[arg-type]


@cache
def plain() -> VirtualFlight:
    """The club rocket with a clear link; T_MS wraps 20 s into it and SEQ within a dozen seconds."""
    return fly_setup(setup(), 3)


@cache
def restarted(*, resumes: bool = True) -> VirtualFlight:
    restart = Restart(Moment.DROGUE_FIRED, 4.0, off_s=1.0, first_t_ms=140, resumes=resumes)
    return fly_setup(setup(faults=Faults(restart=restart)), 3)


def of_kind(flight: VirtualFlight, kind: type[Record]) -> list[tuple[float, Record]]:
    return [(t, record) for t, record in flight.records if isinstance(record, kind)]


def test_every_line_decodes_to_the_record_it_was_made_from() -> None:
    flight = plain()
    decoded = [decode_line(line.data.removesuffix(b"\n")) for line in flight.lines]
    assert decoded == [record for _, record in flight.records]


@pytest.mark.parametrize(
    "record",
    [
        SampleRecord(0, 0, 101325.0, 15.0, None),
        SampleRecord(65_535, 2**32 - 1, 97_001.37, -4.06, -0.48),
        SampleRecord(7, 20, 98_000.1, 0.0, 9.6),
    ],
)
def test_the_short_way_to_a_sample_line_gives_the_same_bytes(record: SampleRecord) -> None:
    assert sample_line(record) == encode(record)


def test_seq_goes_up_by_one_with_every_line_and_wraps() -> None:
    numbers = [record.seq for _, record in plain().records]
    assert numbers[0] == 65_000
    assert all((b - a) % 65_536 == 1 for a, b in pairwise(numbers))
    assert 0 in numbers


def test_t_ms_is_the_time_of_the_line_and_wraps() -> None:
    flight = plain()
    for t, record in flight.records:
        assert record.t_ms == round(flight.truth.t_ms_of(t)) % 2**32
    assert {record.t_ms < 2**31 for _, record in flight.records} == {True, False}


def test_samples_come_at_the_sample_rate_from_the_first_moment_to_the_last() -> None:
    times = np.array([t for t, _ in of_kind(plain(), SampleRecord)])
    assert np.diff(times) == pytest.approx(0.02)
    landed = plain().truth.touchdown_t_s
    assert landed is not None
    assert times[-1] == pytest.approx(landed + plain().setup.after_s, abs=0.03)


def test_channels_are_told_every_second_and_at_once_on_a_change() -> None:
    flight = plain()
    told = [t for t, _ in of_kind(flight, ChannelRecord)]
    assert max(b - a for a, b in pairwise(told)) == pytest.approx(1.0, abs=0.01)
    for fired in (flight.truth.channel_1_fired_t_s, flight.truth.channel_2_fired_t_s):
        assert fired is not None
        assert min(abs(t - fired) for t in told) < 0.001


def test_channels_keep_telling_what_was_fired_and_when() -> None:
    flight = plain()
    _, last = of_kind(flight, ChannelRecord)[-1]
    assert isinstance(last, ChannelRecord)
    assert last.channel_1_state is last.channel_2_state is ChannelState.FIRED
    assert flight.truth.channel_1_fired_t_s is not None
    assert last.channel_1_fired_t_ms == round(flight.truth.t_ms_of(flight.truth.channel_1_fired_t_s)) % 2**32


def test_channels_are_ready_before_they_fire() -> None:
    flight = plain()
    assert flight.truth.channel_1_fired_t_s is not None
    early = [r for t, r in of_kind(flight, ChannelRecord) if t < flight.truth.channel_1_fired_t_s - 0.01]
    assert len(early) > 10
    assert all(isinstance(r, ChannelRecord) and r.channel_1_state is ChannelState.READY for r in early)
    assert all(isinstance(r, ChannelRecord) and r.channel_1_fired_t_ms is None for r in early)


def test_the_altimeter_says_who_it_is_on_the_ground_only() -> None:
    flight = plain()
    told = [t for t, _ in of_kind(flight, UnitRecord)]
    assert flight.truth.liftoff_t_s is not None
    assert flight.truth.touchdown_t_s is not None
    assert told[0] == 0.0
    assert [t for t in told if t > flight.truth.touchdown_t_s]
    assert not [t for t in told if flight.truth.liftoff_t_s + 2.0 < t < flight.truth.touchdown_t_s]


def test_an_altimeter_told_so_sends_no_channels() -> None:
    unit = replace(setup().altimeter, sends_channels=False)
    assert of_kind(fly_setup(setup(altimeter=unit), 3), ChannelRecord) == []


def test_without_an_accelerometer_the_field_is_empty() -> None:
    flight = fly_setup(setup(accelerometer=None), 3)
    assert {r.axial_mps2 for _, r in of_kind(flight, SampleRecord) if isinstance(r, SampleRecord)} == {None}
    assert b",*" in flight.lines[5].data


def test_after_a_restart_both_counts_begin_again_and_the_unit_says_who_it_is() -> None:
    flight = restarted()
    back = flight.truth.restart_t_s
    assert back is not None
    after = [(t, r) for t, r in flight.records if t >= back]
    assert isinstance(after[0][1], UnitRecord)
    assert isinstance(after[1][1], ChannelRecord | SampleRecord)
    assert after[0][1].seq == 0
    for t, record in after:
        assert record.t_ms == 140 + round(1000.0 * (t - back))
    assert not [t for t, _ in flight.records if back - 1.0 <= t < back]


def test_after_a_restart_the_channels_are_as_after_power_up() -> None:
    flight = restarted()
    back, fired = flight.truth.restart_t_s, flight.truth.channel_2_fired_t_s
    assert back is not None
    assert fired is not None
    told = [(t, r) for t, r in of_kind(flight, ChannelRecord) if t >= back and isinstance(r, ChannelRecord)]
    between = [r for t, r in told if t < fired - 0.01]
    assert {(r.channel_1_state, r.channel_1_fired_t_ms) for r in between} == {(ChannelState.OPEN, None)}
    assert {r.channel_2_state for r in between} == {ChannelState.READY}
    last = told[-1][1]
    assert last.channel_2_state is ChannelState.FIRED
    assert last.channel_2_fired_t_ms == 140 + round(1000.0 * (fired - back))


def test_an_altimeter_that_forgets_its_flight_fires_nothing_any_more_and_thinks_it_is_on_the_ground() -> None:
    flight = restarted(resumes=False)
    back = flight.truth.restart_t_s
    assert back is not None
    assert flight.truth.channel_2_fired_t_s is None
    told = [t for t, _ in of_kind(flight, UnitRecord) if back < t < back + 15.0]
    assert len(told) >= 2


def test_one_parachute_on_channel_1_is_fired_at_apogee() -> None:
    unit = replace(setup().altimeter, channel_1_role=Role.MAIN, channel_2_role=Role.NONE, main_altitude_m=None)
    club = setup()
    flight = fly_setup(replace(club, altimeter=unit, recovery=replace(club.recovery, drogue=None)), 3)
    assert flight.truth.apogee_t_s is not None
    assert flight.truth.channel_1_fired_t_s == pytest.approx(flight.truth.apogee_t_s, abs=0.8)
    assert flight.truth.main.opened
    _, told = of_kind(flight, ChannelRecord)[-1]
    assert isinstance(told, ChannelRecord)
    assert (told.channel_1_state, told.channel_2_state) == (ChannelState.FIRED, ChannelState.OFF)
