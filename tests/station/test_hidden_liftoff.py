"""A silence of the radio over the liftoff: how fast it is, and what is told of it, stays what the readings bear out."""

from dataclasses import replace
from math import atan, cos, log, sqrt

import pytest

from station.after_landing import judge_pipeline
from station.atmosphere import G0_MPS2
from station.flight_state import EventName
from station.hidden_liftoff import state_after_hidden_liftoff
from station.pipeline import Pipeline
from station.virtual.random_flights import random_flight, random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup
from station.wire import LineFramer

# Ten readings a second with an accelerometer, over a second of silence from before the liftoff on.
SEED = 43055


def test_the_top_speed_after_a_liftoff_in_a_silence_is_not_made_up() -> None:
    flight = random_flight(SEED, "restart")
    pipeline = Pipeline()
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    report = judge_pipeline(pipeline, file="virtual")
    # By the end of the burn the filter knew it to a third; before, 282 m/s was told without a word of that.
    assert report.summary.max_speed_mps is None
    assert flight.truth.max_velocity_mps == pytest.approx(255.7, abs=0.1)


def heard_but_for(flight: VirtualFlight, from_s: float, until_s: float) -> Pipeline:
    pipeline = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c)
    for line, arrival_us in flight.heard():
        if not from_s <= arrival_us / 1e6 < until_s:
            pipeline.take_line(line, arrival_us)
    return pipeline


@pytest.mark.parametrize(
    ("seed", "fault", "from_s", "until_s"),
    [(5011, "motor-ejection", 18.6, 21.7), (5035, "motor-ejection", 12.1, 13.2), (5097, "drogue-late", 13.5, 16.5)],
)
def test_no_top_speed_is_told_that_nothing_showed(seed: int, fault: str, from_s: float, until_s: float) -> None:
    """Past the speed of sound in a silence: 700 to 970 m/s were told where it flew 354 to 425."""
    flight = random_flight(seed, fault)
    report = judge_pipeline(heard_but_for(flight, from_s, until_s), file="virtual")
    assert report.summary.max_speed_mps is None
    apogee = next(event for event in report.events if event.name is EventName.APOGEE)
    assert flight.truth.apogee_t_s is not None
    error_s = (apogee.t_ms - flight.truth.t_ms_of(flight.truth.apogee_t_s)) / 1000.0
    assert abs(error_s) < 3.0 * apogee.sigma_s


def test_whom_a_silence_hid_until_it_hung_under_its_drogue_is_not_warned_of() -> None:
    """It was taken to climb at 341 m/s, near the speed of sound, so that no height counted for eight seconds."""
    flight = random_flight(174, "link-lost")
    pipeline, framer = Pipeline(air_temperature_c=flight.setup.day.pad_temperature_c), LineFramer()
    apogee_s = flight.truth.apogee_t_s
    assert apogee_s is not None
    speeds = []
    for sent in flight.lines:
        for line in framer.feed(sent.data):
            # All of the climb and the opening, from before the liftoff on, and again later.
            if not 21.5 <= sent.t_s < 51.15 and not 58.9 <= sent.t_s < 61.9:
                pipeline.take_line(line, round(sent.t_s * 1e6))
        if 52.0 < sent.t_s < 80.0 and pipeline.tracker.estimate is not None:
            speeds.append(pipeline.tracker.estimate.velocity_mps)
            assert not any(alert.code == "fast_descent" for alert in pipeline.snapshot().alerts)
    assert min(speeds) > -45.0
    assert max(speeds) < 0.0


@pytest.mark.parametrize("terminal_mps", [60.0, 90.0, 200.0])
@pytest.mark.parametrize("start_mps", [60.0, 200.0, 450.0])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 1.2])
def test_heights_of_a_coast_are_believed_however_soon_it_slowed_down(terminal_mps, start_mps, share):
    """Against the closed form of a coast with drag v^2: v = v_t tan(p0 - g t / v_t), from any text on ballistics."""
    phase0 = atan(start_mps / terminal_mps)

    def height_m(t_s: float) -> float:
        return terminal_mps**2 / G0_MPS2 * log(cos(phase0 - G0_MPS2 * t_s / terminal_mps) / cos(phase0))

    seen_s = share * phase0 * terminal_mps / G0_MPS2
    heights = [(1000.0 * (seen_s + n * 0.05), height_m(seen_s + n * 0.05)) for n in range(5)]
    state = state_after_hidden_liftoff(heights, 500.0 * seen_s, 1000.0 * seen_s, None)
    truth_mps = (heights[-1][1] - heights[0][1]) / 0.2
    assert state.v == pytest.approx(truth_mps, abs=1e-6)


def test_a_fall_of_the_heights_so_soon_after_liftoff_is_the_shock():
    """Up to 474 m within two seconds, and heights that sink by 12 m in a fifth of one: no rocket turns round so."""
    heights = [(2000.0, 474.0), (2100.0, 468.0), (2200.0, 462.0)]
    state = state_after_hidden_liftoff(heights, 1000.0, 2000.0, None)
    assert state.v - 2.0 * sqrt(state.pvv) > 0.0
    assert state.v + 2.0 * sqrt(state.pvv) > 474.0 / 2.0


@pytest.mark.parametrize(
    ("seed", "fault", "from_s", "until_s"),
    [
        (990_577, "motor-ejection", 19.55, 21.5),
        (5062, None, 16.44, 20.18),
        (5190, None, 8.63, 11.80),
    ],
)
def test_no_apogee_is_called_while_the_shock_passes_the_ports(seed, fault, from_s, until_s):
    """A silence ended near the speed of sound: the first heights sank, and the top was said to be past."""
    flight = random_flight(seed, fault, apogee_m=(1500.0, 6500.0) if fault is None else (150.0, 6500.0))
    apogee = heard_but_for(flight, from_s, until_s).tracker.event(EventName.APOGEE)
    assert apogee is not None
    assert flight.truth.apogee_t_s is not None
    assert apogee.called_t_ms > flight.truth.t_ms_of(flight.truth.apogee_t_s - 0.3)


@pytest.mark.parametrize(
    ("seed", "accelerometer", "share"),
    [
        (8028, True, 0.4),
        (8012, True, 0.6),
        (8001, True, 0.2),
        (8014, False, 0.2),
        (8000, False, 0.2),
    ],
)
def test_no_live_figure_outgrows_a_climb_whose_start_a_silence_hid(seed, accelerometer, share):
    """Taken to climb as fast as if it still burnt, or its slowing carried back to a burnout that nobody heard.

    678 m/s were told where it flew 353, and 1214 m where it rose to 1171.
    """
    flight = random_flight(seed, "none", accelerometer=accelerometer)
    seen = heard_from(flight, share).snapshot()
    assert seen.fastest_mps < 1.1 * flight.truth.max_velocity_mps
    assert seen.highest_m == pytest.approx(flight.truth.apogee_m, abs=10.0)


def test_nor_of_one_that_is_heard_first_in_the_shock():
    """At 400 m/s; taken for 260, no height counted for nine seconds: 3818 m were told for 3335."""
    setup = random_setup(20_003, "none", accelerometer=True)
    setup = replace(setup, altimeter=replace(setup.altimeter, sample_period_ms=20))
    flight = fly_setup(setup, 20_003, "none")
    assert heard_from(flight, 0.15).snapshot().highest_m == pytest.approx(flight.truth.apogee_m, abs=10.0)


def heard_from(flight: VirtualFlight, share: float) -> Pipeline:
    """Nothing from a second before liftoff on, until this share of the climb's time."""
    truth = flight.truth
    assert truth.liftoff_t_s is not None
    assert truth.apogee_t_s is not None
    until_s = truth.liftoff_t_s + share * (truth.apogee_t_s - truth.liftoff_t_s)
    return heard_but_for(flight, truth.liftoff_t_s - 1.0, until_s)
