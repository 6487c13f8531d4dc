"""From lines to what is known: whole virtual flights through the pipeline, live and in any cut."""

import random
import re
from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
import pytest

from station.flight_state import EventName, Phase, Snapshot, Verdict
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.records import ChannelRecord, ChannelState, FixRecord, Role, SampleRecord, SignalRecord, UnitRecord
from station.virtual import SCENARIOS, fly
from station.virtual.virtual_flight import VirtualFlight
from station.wire import LineFramer, crc16, encode

Line = tuple[bytes, int | None]
ORDER = [EventName.LIFTOFF, EventName.BURNOUT, EventName.APOGEE, EventName.DROGUE, EventName.MAIN, EventName.TOUCHDOWN]


def fed(lines: Iterable[Line], pipeline: Pipeline | None = None) -> Pipeline:
    pipeline = pipeline or Pipeline()
    for line, arrival_us in lines:
        pipeline.take_line(line, arrival_us)
    return pipeline


def wire(record: SampleRecord | UnitRecord | ChannelRecord | FixRecord | SignalRecord) -> bytes:
    return encode(record).rstrip(b"\n")


@pytest.fixture(scope="module")
def flight() -> VirtualFlight:
    return fly(SCENARIOS["nominal-dual"], 3)


def test_the_phases_come_in_order_and_each_event_once(flight: VirtualFlight) -> None:
    pipeline = Pipeline()
    phases = [Phase.WAITING]
    called: list[EventName] = []
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
        if pipeline.tracker.phase is not phases[-1]:
            phases.append(pipeline.tracker.phase)
            called = [event.name for event in pipeline.snapshot().events]
            assert len(called) == len(set(called))
    assert phases == [Phase.WAITING, Phase.THRUST, Phase.COAST, Phase.DESCENT, Phase.DOWN]
    assert [event.name for event in pipeline.snapshot(over=True).events] == ORDER


def test_live_events_are_called_soon_after_they_happen_and_never_before(flight: VirtualFlight) -> None:
    truth = flight.truth
    events = {event.name: event for event in fed(flight.heard()).snapshot(over=True).events}
    for name, t_s, latest_s in (
        (EventName.LIFTOFF, truth.liftoff_t_s, 0.3),
        (EventName.BURNOUT, truth.burnout_t_s, 0.3),
        (EventName.APOGEE, truth.apogee_t_s, 0.5),
        (EventName.DROGUE, truth.drogue.took_hold_t_s, 2.5),
        (EventName.MAIN, truth.main.took_hold_t_s, 1.5),
        (EventName.TOUCHDOWN, truth.touchdown_t_s, 4.0),
    ):
        assert t_s is not None
        late_s = (events[name].called_t_ms - truth.t_ms_of(t_s)) / 1000.0
        assert -0.3 < late_s < latest_s, name


def test_the_curve_follows_the_flight(flight: VirtualFlight) -> None:
    pipeline = fed(flight.heard(), Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c))
    truth = flight.truth
    t = np.array([(e.t_ms - truth.first_t_ms) / 1000.0 for e in pipeline.track])
    height = np.array([e.altitude_m for e in pipeline.track])
    error = height - np.interp(t, truth.t_s, truth.altitude_m)
    assert float(np.percentile(np.abs(error), 95)) < 1.5
    assert np.all(np.diff(t) > 0.0)
    assert len(pipeline.track) > 2000


def test_a_snapshot_may_be_taken_after_any_line_and_changes_nothing(flight: VirtualFlight) -> None:
    watched, alone = Pipeline(), Pipeline()
    confirmed: list[tuple[Verdict | None, ...]] = []
    for k, (line, arrival_us) in enumerate(flight.heard()):
        watched.take_line(line, arrival_us)
        alone.take_line(line, arrival_us)
        if k % 7 == 0:
            snapshot = watched.snapshot()
            assert all(a.t_ms <= b.t_ms for a, b in pairwise(snapshot.events))
            verdicts = tuple(d.verdict for d in snapshot.deployments)
            if not confirmed or confirmed[-1] != verdicts:
                confirmed.append(verdicts)
    assert watched.snapshot(over=True) == alone.snapshot(over=True)
    assert watched.track == alone.track
    # Open, then one after the other, and what was said was never taken back.
    assert confirmed[0] == (None, None)
    assert confirmed[-1] == (Verdict.CONFIRMED, Verdict.CONFIRMED)
    assert len(confirmed) == 3


def test_the_values_of_a_snapshot_while_it_flies(flight: VirtualFlight) -> None:
    truth = flight.truth
    assert truth.apogee_t_s is not None
    before = fed([line for line in flight.heard() if line[1] < (truth.apogee_t_s - 1.0) * 1e6])
    snapshot: Snapshot = before.snapshot()
    assert snapshot.phase is Phase.COAST
    assert snapshot.estimate is not None
    assert 5.0 < snapshot.estimate.velocity_mps < 15.0
    assert snapshot.flight_time_s == pytest.approx(truth.apogee_t_s - 1.0 - (truth.liftoff_t_s or 0.0), abs=0.1)
    assert snapshot.highest_m == pytest.approx(snapshot.estimate.altitude_m, abs=0.5)
    assert snapshot.fastest_mps == pytest.approx(truth.max_velocity_mps, rel=0.03)
    assert snapshot.unit is not None
    assert snapshot.unit.name == "SWIFT-2"
    assert snapshot.channels is not None
    assert snapshot.channels.channel_1_state is ChannelState.READY
    assert [d.role for d in snapshot.deployments] == [Role.DROGUE, Role.MAIN]
    assert [d.verdict for d in snapshot.deployments] == [None, None]
    assert snapshot.pad_pressure_pa == pytest.approx(
        flight.setup.day.pad_pressure_pa + flight.setup.barometer.offset_pa, abs=4.0
    )


def test_nothing_of_a_flight_is_known_before_the_first_line() -> None:
    snapshot = Pipeline().snapshot()
    assert snapshot.phase is Phase.WAITING
    assert snapshot.events == ()
    assert (snapshot.estimate, snapshot.liftoff_t_ms, snapshot.flight_time_s, snapshot.unit) == (None, None, None, None)
    assert (snapshot.link.lines, snapshot.link.last_t_ms, snapshot.link.loss_fraction) == (0, None, 0.0)
    over = Pipeline().snapshot(over=True)
    assert {d.verdict for d in over.deployments} == {Verdict.NOT_OBSERVED}


# -- how the bytes come -------------------------------------------------------------------------------------


def test_the_result_is_the_same_to_the_last_bit_however_the_bytes_are_cut(flight: VirtualFlight) -> None:
    stream = b"".join(sent.data for sent in flight.lines)
    whole = fed((line, None) for line in LineFramer().feed(stream))
    rng = random.Random(5)
    for _ in range(3):
        framer, pieces, at = LineFramer(), Pipeline(), 0
        while at < len(stream):
            size = rng.choice([1, 2, 17, 64, 5000])
            fed(((line, None) for line in framer.feed(stream[at : at + size])), pieces)
            at += size
        assert pieces.snapshot(over=True) == whole.snapshot(over=True)
        assert pieces.track == whole.track


def test_bad_lines_are_counted_by_reason_and_do_not_move_the_flight(flight: VirtualFlight) -> None:
    rng = random.Random(8)
    lines = list(flight.heard())
    spoiled: list[Line] = []
    for line, arrival_us in lines:
        spoiled.append((line, arrival_us))
        if rng.random() < 0.05:
            spoiled.append((rng.randbytes(rng.randrange(1, 200)).replace(b"\n", b"?"), arrival_us))
        if rng.random() < 0.02:
            spoiled.append((line[:-1] + b"#", arrival_us))
    clean, dirty = fed(lines), fed(spoiled)
    assert dirty.track == clean.track
    assert dirty.snapshot(over=True).events == clean.snapshot(over=True).events
    link = dirty.snapshot().link
    assert link.rejected == len(spoiled) - len(lines) + clean.snapshot().link.rejected
    assert sum(count for _, count in link.rejected_by_reason) == link.rejected
    assert link.lines == link.good + link.rejected
    assert link.good == clean.snapshot().link.good


def test_noise_before_a_line_is_dropped_and_counted(flight: VirtualFlight) -> None:
    lines = list(flight.heard())
    noisy = [
        (b"\xff\x00zz" + line, at) if k % 10 == 0 and line[:1] == b"@" else (line, at)
        for k, (line, at) in enumerate(lines)
    ]
    clean, dirty = fed(lines), fed(noisy)
    assert dirty.track == clean.track
    assert dirty.snapshot().link.noise_bytes > clean.snapshot().link.noise_bytes + 4 * len(lines) // 20


def test_a_quarter_of_the_lines_lost_in_bursts_leaves_the_story_as_it_was(flight: VirtualFlight) -> None:
    rng = random.Random(9)
    kept, lost = [], 0
    burst = 0
    for line in flight.heard():
        if burst == 0 and rng.random() < 0.06:
            burst = rng.randrange(1, 10)
        if burst:
            burst -= 1
            lost += 1
        else:
            kept.append(line)
    snapshot = fed(kept).snapshot(over=True)
    assert [event.name for event in snapshot.events] == ORDER
    assert [d.verdict for d in snapshot.deployments] == [Verdict.CONFIRMED, Verdict.CONFIRMED]
    assert snapshot.link.loss_fraction == pytest.approx(lost / (lost + len(kept)), abs=0.04)


def test_double_and_swapped_lines_change_nothing_in_the_verdicts(flight: VirtualFlight) -> None:
    lines = list(flight.heard())
    rng = random.Random(10)
    mixed = list(lines)
    for k in range(0, len(mixed) - 1, 25):
        mixed[k], mixed[k + 1] = mixed[k + 1], mixed[k]
    mixed = [line for line in mixed for _ in range(2 if rng.random() < 0.05 else 1)]
    clean, dirty = fed(lines).snapshot(over=True), fed(mixed).snapshot(over=True)
    assert [event.name for event in dirty.events] == ORDER
    assert [d.verdict for d in dirty.deployments] == [Verdict.CONFIRMED, Verdict.CONFIRMED]
    assert dirty.link.lost == clean.link.lost
    assert dirty.link.restarts == 0


def test_without_host_times_the_flight_is_the_same(flight: VirtualFlight) -> None:
    lines = list(flight.heard())
    with_times, without = fed(lines), fed((line, None) for line, _ in lines)
    assert with_times.track == without.track
    assert without.snapshot().link.last_heard_us is None


# -- what is kept of other lines ----------------------------------------------------------------------------


def test_every_kind_of_line_leaves_what_it_says() -> None:
    pipeline = fed(
        (wire(record), 1_000_000 * (k + 1))
        for k, record in enumerate(
            (
                UnitRecord(0, 100, 1, "TERN_03", 50, Role.MAIN, Role.NONE, 90.0),
                ChannelRecord(1, 110, 3900, ChannelState.READY, None, ChannelState.OFF, None),
                FixRecord(2, 120, 37.5, -41.25, 180.0, 9),
                SignalRecord(-97.0, 6.5),
                SampleRecord(3, 130, None, 21.0, None),
            )
        )
    )
    snapshot = pipeline.snapshot()
    assert snapshot.unit is not None
    assert (snapshot.unit.name, snapshot.unit.sample_period_ms, snapshot.unit.main_altitude_m) == ("TERN_03", 50, 90.0)
    assert snapshot.channels is not None
    assert (snapshot.channels.battery_mv, snapshot.channels.t_ms) == (3900, 110.0)
    assert snapshot.fix is not None
    assert (snapshot.fix.latitude_deg, snapshot.fix.longitude_deg, snapshot.fix.satellites) == (37.5, -41.25, 9)
    assert (snapshot.link.signal_dbm, snapshot.link.snr_db) == (-97.0, 6.5)
    assert (snapshot.link.good, snapshot.link.lost, snapshot.link.last_heard_us) == (5, 0, 5_000_000)
    assert [d.role for d in snapshot.deployments] == [Role.MAIN]
    assert snapshot.estimate is None


def test_a_kind_from_a_later_protocol_is_counted_and_no_error() -> None:
    body = b"WND,7,900,3.5"
    pipeline = fed([(b"@%s*%04X" % (body, crc16(body)), 1)])
    link = pipeline.snapshot().link
    assert (link.unknown_kinds, link.good, link.rejected) == (1, 1, 0)


def test_a_low_battery_and_an_unconnected_igniter_are_seen_before_the_flight() -> None:
    low = fed([(wire(ChannelRecord(1, 100, 6200, ChannelState.OPEN, None, ChannelState.READY, None)), 1)]).snapshot()
    assert [alert.code for alert in low.alerts] == ["battery_low"]
    assert low.channels is not None
    assert low.channels.channel_1_state is ChannelState.OPEN
    good = fed([(wire(ChannelRecord(1, 100, 7900, ChannelState.READY, None, ChannelState.READY, None)), 1)]).snapshot()
    assert good.alerts == ()


@pytest.mark.parametrize("given_c", [None, 31.0])
def test_the_days_temperature_is_the_sensors_unless_the_user_gives_one(
    flight: VirtualFlight, given_c: float | None
) -> None:
    by_hand = fed(flight.heard(), Pipeline(air_temperature_c=given_c)).snapshot()
    by_plan = fed(flight.heard(), Pipeline(plan=FlightPlan(air_temperature_c=given_c))).snapshot()
    assert by_hand == by_plan
    assert by_hand.temperature_is_given == (given_c is not None)
    expected = 31.0 if given_c is not None else flight.setup.day.pad_temperature_c
    assert by_hand.air_temperature_c == pytest.approx(expected, abs=1.2)
    assert by_hand.isa_to_true == pytest.approx((by_hand.air_temperature_c or 0.0) / 288.15 + 273.15 / 288.15, rel=0.02)


# -- faults ------------------------------------------------------------------------------------------------


def fast_alerts(name: str, seed: int) -> list[tuple[float, float]]:
    """(Seconds since the recording began, true descent speed) at each line while the fast-descent alert stood."""
    return fast_alerts_of(fly(SCENARIOS[name], seed))


def fast_alerts_of(flight: VirtualFlight) -> list[tuple[float, float]]:
    pipeline, found = Pipeline(), []
    for k, (line, arrival_us) in enumerate(flight.heard()):
        estimate = pipeline.take_line(line, arrival_us)
        if estimate is None or k % 5:
            continue
        if any(alert.code == "fast_descent" for alert in pipeline.snapshot().alerts):
            t = (estimate.t_ms - flight.truth.first_t_ms) / 1000.0
            found.append((t, -float(np.interp(t, flight.truth.t_s, flight.truth.velocity_mps))))
    return found


@pytest.mark.parametrize("name", ["ballistic", "drogue-silent", "drogue-stays-in"])
def test_a_rocket_that_comes_in_without_its_parachute_is_warned_of(name: str) -> None:
    for seed in (1, 2):
        warned = fast_alerts(name, seed)
        assert warned
        _, speed_mps = warned[0]
        # Within 1.5 s of passing 34 m/s, which no drogue does, 15 m/s more at most.
        assert 33.0 < speed_mps < 49.0


@pytest.mark.parametrize("name", ["nominal-dual", "past-mach-1", "main-at-apogee", "late-ejection", "both-at-once"])
def test_a_flight_whose_parachutes_hold_is_not_warned_of(name: str) -> None:
    for seed in (1, 2):
        warned = fast_alerts(name, seed)
        if name == "late-ejection":
            # It does fall that fast until the motor throws the parachute out; then the warning goes at once.
            assert all(speed > 20.0 for _, speed in warned)
        else:
            assert warned == []


@pytest.mark.parametrize("name", ["main-silent", "main-stays-in"])
def test_a_main_that_does_not_come_is_warned_of_in_time(name: str) -> None:
    """A main in time holds within 2 s of its height; the warning has 1.5 s more."""
    flight = fly(SCENARIOS[name], 1)
    truth, height_m = flight.truth, flight.setup.altimeter.main_altitude_m
    assert height_m is not None
    assert truth.apogee_t_s is not None
    warned = fast_alerts_of(flight)
    below = (truth.t_s > truth.apogee_t_s) & (truth.altitude_m < height_m / flight.setup.day.isa_altitude_m(1.0))
    passed_s = float(truth.t_s[int(np.argmax(below))])
    assert 2.0 <= warned[0][0] - passed_s < 3.5
    assert all(12.0 < speed < 25.0 for _, speed in warned)
    during = fed([one for one in flight.heard() if one[1] < 1e6 * warned[0][0] + 5e5]).snapshot()
    (alert,) = [a for a in during.alerts if a.code == "fast_descent"]
    assert alert.text.endswith("The main is not seen to hold.")


def test_a_charge_that_did_not_fire_is_named_after_landing() -> None:
    snapshot = fed(fly(SCENARIOS["main-silent"], 2).heard()).snapshot(over=True)
    (alert,) = [a for a in snapshot.alerts if a.code == "charge_not_fired"]
    assert "main charge (channel 2)" in alert.text
    assert "may still be live" in alert.text
    assert not re.search(r"\bsafe(ly)?\b", alert.text.lower())


def test_no_rocket_event_while_it_only_waits() -> None:
    for name in ("pad-gusts", "pad-lifted", "pad-car-door", "pad-sun"):
        for seed in (1,) if name == "pad-sun" else (1, 2, 3):
            snapshot = fed(fly(SCENARIOS[name], seed).heard()).snapshot(over=True)
            assert snapshot.events == (), (name, seed)
            assert snapshot.phase is Phase.WAITING


def test_the_shock_at_the_ports_calls_nothing_in_the_climb() -> None:
    for seed in (1, 2, 3):
        flight = fly(SCENARIOS["past-mach-1"], seed)
        truth = flight.truth
        assert truth.max_mach is not None
        assert truth.max_mach > 1.0
        assert truth.apogee_t_s is not None
        events = fed(flight.heard()).snapshot(over=True).events
        top = truth.t_ms_of(truth.apogee_t_s)
        late = [e for e in events if e.name not in (EventName.LIFTOFF, EventName.BURNOUT)]
        assert [e.name for e in late] == ORDER[2:]
        assert min(e.called_t_ms for e in late) > top - 300.0


def test_a_restart_in_flight_is_counted_said_and_placed() -> None:
    for seed in range(1, 9):
        flight = fly(SCENARIOS["restart-in-flight"], seed)
        pipeline = fed(flight.heard())
        snapshot = pipeline.snapshot(over=True)
        assert snapshot.link.restarts == 1
        assert "altimeter_restarted" in [alert.code for alert in snapshot.alerts]
        assert [event.name for event in snapshot.events] == ORDER
        touchdown = snapshot.events[-1]
        assert flight.truth.touchdown_t_s is not None
        # By the host's clock, so with the radio's delays in it.
        assert touchdown.t_ms == pytest.approx(flight.truth.t_ms_of(flight.truth.touchdown_t_s), abs=500.0)


def test_a_day_on_the_pad_takes_no_more_memory_than_ten_minutes(held_bytes: Callable[[object], int]) -> None:
    pipeline = Pipeline()
    rng = random.Random(3)
    sizes = []
    for k in range(90_000):
        t_ms = 200 * k
        sample = SampleRecord(k % 65_536, t_ms, round(97_000.0 + rng.gauss(0.0, 3.0), 2), 20.0, 9.8)
        pipeline.take_line(wire(sample), 1000 * t_ms)
        if k in (3_000, 89_999):
            sizes.append(held_bytes(pipeline))
    assert pipeline.snapshot().events == ()
    assert sizes[1] < 1.1 * sizes[0]
