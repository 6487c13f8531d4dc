"""What the page says of an opening is said once: not taken back and said again, nor moved to another moment.

Nor does it say that a parachute had no effect while that may still be coming. Seeded virtual flights on which it did:
charges' blows on the pressure, gusts, silences of the radio.
"""

from dataclasses import replace
from itertools import pairwise

import pytest

from station.flight_state import EventName, Role, Snapshot, Verdict
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup
from station.wire import LineFramer

LOOKS_PER_S = 5
MOVES_S = 1.0


def looks_at(flight: VirtualFlight) -> list[Snapshot]:
    """What the page is given from apogee on."""
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    framer = LineFramer()
    next_look_s = 0.0
    looks = []
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
        if pipeline.tracker.event(EventName.APOGEE) is not None and sent.t_s >= next_look_s:
            next_look_s = sent.t_s + 1.0 / LOOKS_PER_S
            looks.append(pipeline.snapshot())
    return looks


@pytest.mark.parametrize(
    ("seed", "fault"),
    [
        (16, "channels-unknown"),
        (21, "link-lost"),
        (24, "main-stays-in"),
        (32, "tangled-main"),
        (37, "front-then-flown"),
        (459, "front-then-flown"),
        (473, "drogue-stays-in"),
        (475, "main-at-apogee"),
        (623, "main-at-apogee"),
        (1333, "tangled-drogue"),
        (4634, "tangled-drogue"),
        (50_072, "drogue-stays-in"),
        (50_435, "tangled-main"),
        (400_371, "drogue-silent"),
        (401_322, "drogue-stays-in"),
        (401_429, "no-continuity"),
        (402_974, "drogue-stays-in"),
        (800_985, "tangled-drogue"),
        (801_724, "drogue-stays-in"),
        (802_134, "tangled-drogue"),
        (802_634, "tangled-drogue"),
        (802_935, "tangled-main"),
        (960_236, "tangled-main"),
        (980_671, "drogue-late"),
        (1_002_031, "restart"),
        (1_101_576, "main-stays-in"),
        (1_201_288, "front-then-flown"),
        (1_203_523, "main-at-apogee"),
        (2_000_178, "tangled-main"),
        (2_000_299, "tangled-main"),
        (2_001_499, "drogue-stays-in"),
        (2_010_431, "tangled-main"),
        (2_011_742, "main-at-apogee"),
        (2_012_633, "main-at-apogee"),
        (2_012_895, "tangled-main"),
        (2_013_204, "drogue-stays-in"),
        (2_013_473, "drogue-late"),
        (2_020_035, "one-parachute"),
        (2_031_387, "one-parachute"),
        (2_031_706, "link-lost"),
        (2_032_016, "drogue-silent"),
        (2_300_220, "channels-unknown"),
    ],
)
def test_an_opening_is_called_once_and_at_one_moment(seed, fault):
    flight = random_flight(seed, fault)
    shown: list[dict[EventName, float]] = [{}]
    shown += [{event.name: event.t_ms for event in look.events} for look in looks_at(flight)]
    assert any(EventName.DROGUE in look or EventName.MAIN in look for look in shown)
    for name in (EventName.DROGUE, EventName.MAIN):
        calls = sum(name in now and name not in before for before, now in pairwise(shown))
        assert calls <= 1, name
        moments = [look[name] for look in shown if name in look]
        assert not moments or max(moments) - min(moments) <= 1000.0 * MOVES_S, name


@pytest.mark.parametrize(
    ("seed", "fault", "role"),
    [
        (379, "none", Role.MAIN),
        (50_026, "motor-ejection", Role.MAIN),
        (50_029, "one-parachute", Role.MAIN),
        (50_522, "link-lost", Role.MAIN),
        (60_123, "link-lost", Role.MAIN),
        (50_070, "drogue-late", Role.DROGUE),
        (60_472, "drogue-late", Role.DROGUE),
    ],
)
def test_a_parachute_that_opens_is_never_said_to_have_had_no_effect(seed, fault, role):
    looks = looks_at(random_flight(seed, fault))
    verdicts = [d.verdict for look in looks for d in look.deployments if d.role is role]
    assert verdicts[-1] is Verdict.CONFIRMED
    assert Verdict.NO_EFFECT not in verdicts


def test_a_main_that_stays_in_is_said_so_before_the_ground_and_to_the_end():
    looks = looks_at(random_flight(72, "main-stays-in"))
    said = [(look, d.verdict) for look in looks for d in look.deployments if d.role is Role.MAIN]
    first = next(n for n, (_, verdict) in enumerate(said) if verdict is Verdict.NO_EFFECT)
    estimate = said[first][0].estimate
    assert estimate is not None
    assert estimate.altitude_m > 100.0
    assert {verdict for _, verdict in said[first:]} == {Verdict.NO_EFFECT}


@pytest.mark.parametrize(
    ("seed", "fault", "role", "last"),
    [
        (401_868, "channels-unknown", Role.DROGUE, Verdict.CONFIRMED),
        (400_470, "channels-unknown", Role.DROGUE, Verdict.TOO_FAST),
        (404_620, "drogue-late", Role.DROGUE, Verdict.CONFIRMED),
        (400_120, "drogue-late", Role.MAIN, Verdict.CONFIRMED),
        (400_084, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (400_135, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (401_435, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (404_322, "drogue-stays-in", Role.DROGUE, Verdict.NO_EFFECT),
        (800_985, "tangled-drogue", Role.DROGUE, Verdict.NO_EFFECT),
        (900_101, "drogue-silent", Role.DROGUE, Verdict.NOT_FIRED),
        (900_104, "drogue-silent", Role.DROGUE, Verdict.NOT_FIRED),
        (960_985, "tangled-drogue", Role.DROGUE, Verdict.NOT_OBSERVED),
        (970_135, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (980_783, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (981_469, "both-at-once", Role.MAIN, Verdict.EARLY),
        (1_002_031, "restart", Role.MAIN, Verdict.CONFIRMED),
        (1_001_376, "main-stays-in", Role.MAIN, Verdict.NO_EFFECT),
        (991_272, "link-lost", Role.DROGUE, Verdict.CONFIRMED),
        (7248, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (7258, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (7131, "tangled-main", Role.MAIN, Verdict.TOO_FAST),
        (7250, "tangled-main", Role.MAIN, Verdict.NO_EFFECT),
        (7005, "tangled-drogue", Role.DROGUE, Verdict.TOO_FAST),
        (7067, "tangled-drogue", Role.DROGUE, Verdict.TOO_FAST),
        (7090, "channels-unknown", Role.DROGUE, Verdict.TOO_FAST),
        (6017, "drogue-stays-in", Role.DROGUE, Verdict.NO_EFFECT),
        (2_000_585, "tangled-main", Role.MAIN, Verdict.NO_EFFECT),
        (2_001_586, "tangled-main", Role.MAIN, Verdict.NO_EFFECT),
        (2_001_904, "tangled-drogue", Role.DROGUE, Verdict.TOO_FAST),
        (2_023_685, "drogue-silent", Role.DROGUE, Verdict.NOT_FIRED),
        (2_300_931, "one-parachute", Role.MAIN, Verdict.NO_EFFECT),
        (2_301_629, "none", Role.DROGUE, Verdict.CONFIRMED),
    ],
)
def test_a_verdict_once_given_in_flight_is_not_taken_back_and_given_again(seed, fault, role, last):
    looks = looks_at(random_flight(seed, fault))
    given = [d.verdict for look in looks for d in look.deployments if d.role is role]
    changes = [after for before, after in pairwise([None, *given]) if after is not None and after is not before]
    assert changes[-1] is last
    assert len(changes) == len(set(changes)), changes


@pytest.mark.parametrize(("seed", "least_m"), [(6006, 20.0), (6020, 45.0), (6085, 150.0), (2_000_299, 15.0)])
def test_a_tangled_main_is_said_while_there_is_time_to_move(seed, least_m):
    """That it is near what a main may come down at does not hold the word back for long."""
    looks = looks_at(random_flight(seed, "tangled-main"))
    said = [look for look in looks for d in look.deployments if d.role is Role.MAIN and d.verdict is Verdict.TOO_FAST]
    assert said[0].estimate.altitude_m > least_m


def test_a_bare_fall_past_the_mains_height_is_said_to_be_one_before_the_ground():
    """Once the main was due, nothing later was looked at: it was said after the touchdown."""
    looks = looks_at(random_flight(6283, "channels-unknown"))
    said = [look for look in looks for d in look.deployments if d.role is Role.DROGUE and d.verdict is not None]
    assert {d.verdict for look in said for d in look.deployments if d.role is Role.DROGUE} == {Verdict.NO_EFFECT}
    assert said[0].estimate.altitude_m > 60.0


def test_what_begins_long_after_a_tangled_drogues_firing_is_not_its_hold():
    """A gust, and the main, slowed a fall that had settled at 33 m/s: "confirmed"."""
    looks = looks_at(random_flight(7057, "tangled-drogue"))
    assert [d.verdict for d in looks[-1].deployments if d.role is Role.DROGUE] == [Verdict.TOO_FAST]


def test_nothing_bad_is_said_of_a_sound_main_that_is_heard_seldom():
    """While it fills, a mean over a second is that of a tangled one."""
    looks = looks_at(at_five_readings_a_second(20_001, "none"))
    assert {d.verdict for look in looks for d in look.deployments if d.role is Role.MAIN} == {None, Verdict.CONFIRMED}


@pytest.mark.parametrize("seed", [2_000_080, 2_012_203])
def test_nothing_bad_is_said_of_a_sound_main_near_its_limit_or_out_of_a_dive(seed):
    """Held at 9.1 m/s in the end, 9.5 +- 0.3 at first; and 5.8 m/s out of 190, which a mean over it made 15."""
    looks = looks_at(random_flight(seed, "drogue-stays-in"))
    assert {d.verdict for look in looks for d in look.deployments if d.role is Role.MAIN} == {None, Verdict.CONFIRMED}


def test_what_looks_unslowed_while_the_main_fills_is_not_said_to_be_without_effect():
    looks = looks_at(at_five_readings_a_second(20_003, "tangled-main"))
    assert {d.verdict for look in looks for d in look.deployments if d.role is Role.MAIN} == {None, Verdict.TOO_FAST}


def at_five_readings_a_second(seed: int, fault: str) -> VirtualFlight:
    setup = random_setup(seed, fault)
    return fly_setup(replace(setup, altimeter=replace(setup.altimeter, sample_period_ms=200)), seed, fault)
