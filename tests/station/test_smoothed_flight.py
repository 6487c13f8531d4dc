"""The whole flight as one curve, against closed-form motion and against the truth of virtual flights."""

import numpy as np
import pytest

from station.atmosphere import isa_pressure_pa
from station.flight_state import EventName
from station.liftoff import Sample
from station.smoothed_flight import Moments, SmoothedFlight, smooth_flight
from station.virtual import SCENARIOS, VirtualFlight, fly
from station.virtual.random_flights import random_flight
from station.whole_flight import WholeFlight, whole_flight

NOISE_PA = 3.0
PAD_KELVIN = 288.15
NOISE_M = NOISE_PA / 12.01  # pressure falls by 12.01 Pa a metre at sea level (U.S. Standard Atmosphere 1976: rho g)
DROGUE_S, LANDED_S, RATE_MPS, TOP_M = 10.0, 30.0, 20.0, 400.0


def height_at(t: np.ndarray) -> np.ndarray:
    """A ballistic arc to 400 m at 9 s, a steady fall from there as under a parachute, then the ground: closed form."""
    top_s = DROGUE_S - 1.0
    up = TOP_M - 0.5 * 9.80665 * (t - top_s) ** 2
    fall = TOP_M - 0.5 * 9.80665 - RATE_MPS * (t - DROGUE_S)
    return np.where(t < DROGUE_S, up, np.maximum(0.0, fall))


def samples(t: np.ndarray, seed: int = 1, added_m: np.ndarray | float = 0.0) -> list[Sample]:
    noise = np.random.default_rng(seed).normal(0.0, NOISE_M, len(t))
    heights = height_at(t) + noise + added_m
    return [
        Sample(1000.0 * ti, isa_pressure_pa(max(0.0, hi)), hi, None)
        for ti, hi in zip(t.tolist(), heights.tolist(), strict=True)
    ]


def moments(**changes: object) -> Moments:
    at_s = {EventName.BURNOUT: 0.0, EventName.APOGEE: 9.0, EventName.DROGUE: DROGUE_S}
    values: dict[str, object] = {"at_s": at_s, "fired_s": (), "noise_pa": NOISE_PA, "pad_kelvin": PAD_KELVIN}
    return Moments(**(values | changes))  # type: ignore[arg-type]


def smoothed(t: np.ndarray, flown: list[Sample], known: Moments) -> SmoothedFlight:
    return smooth_flight(flown, np.full(len(t), 50.0), 0.0, known)


T = np.arange(2.0, 28.0, 0.02)


def test_the_curve_lies_nearer_to_the_motion_than_the_samples_by_far() -> None:
    flown = samples(T)
    curve = smoothed(T, flown, moments())
    raw = np.array([sample.altitude_m for sample in flown])
    assert np.std(curve.altitude_m - height_at(T)) < 0.5 * np.std(raw - height_at(T))


def test_a_steady_fall_is_shown_at_its_own_rate_and_free_flight_under_g() -> None:
    curve = smoothed(T, samples(T), moments())
    falling = (T > DROGUE_S + 2.0) & (T < 27.0)
    assert np.mean(curve.velocity_mps[falling]) == pytest.approx(-RATE_MPS, abs=0.05)
    rising = (T > 4.0) & (T < 8.0)
    # Standard gravity, CGPM 1901.
    assert np.mean(curve.acceleration_mps2[rising]) == pytest.approx(-9.80665, abs=0.3)


def test_errors_agree_with_the_standard_deviations_that_it_claims() -> None:
    """Normalised errors squared have mean 1 (Bar-Shalom, Li and Kirubarajan 2001, section 5.4, from memory)."""
    scores = []
    for seed in range(20):
        curve = smoothed(T, samples(T, seed), moments())
        fall = slice(800, 1200, 100)
        scores += list(((curve.altitude_m - height_at(T)) / curve.altitude_sigma_m)[fall] ** 2)
    assert 0.5 < np.mean(scores) < 1.6


def test_samples_that_stray_for_a_moment_are_left_out() -> None:
    spike = np.where((T > 15.0) & (T < 15.3), 40.0, 0.0)
    curve = smoothed(T, samples(T, added_m=spike), moments())
    assert not curve.used[spike > 0.0].any()
    assert curve.used[spike == 0.0].all()
    assert np.abs(curve.altitude_m - height_at(T))[spike > 0.0].max() < 1.0


def test_the_pressure_of_a_firing_charge_is_left_out_however_small() -> None:
    curve = smoothed(T, samples(T), moments(fired_s=(15.0,)))
    assert not curve.used[(T >= 15.0) & (T <= 15.6)].any()
    assert curve.used[(T < 15.0) | (T > 15.61)].all()


def test_what_strays_for_long_is_motion_and_stays_in() -> None:
    unforeseen = np.where(T > 18.0, 15.0 * (T - 18.0), 0.0)  # from 20 m/s to 5 m/s, and nobody told of it
    curve = smoothed(T, samples(T, added_m=unforeseen), moments())
    after = (T > 21.0) & (T < 26.0)
    assert curve.used[after].all()
    assert np.mean(curve.velocity_mps[after]) == pytest.approx(-5.0, abs=0.1)


def test_near_the_speed_of_sound_pressure_does_not_count() -> None:
    flown = samples(T)
    speeds = np.where(T < 5.0, 330.0, 50.0)  # the speed of sound at 15 degC is 340 m/s (U.S. Standard Atmosphere 1976)
    curve = smooth_flight(flown, speeds, 0.0, moments())
    assert not curve.used[T < 5.0].any()
    assert curve.used[T >= 6.01].all()  # the speed is a guess: a second more


def test_across_a_gap_the_curve_grows_unsure() -> None:
    t = T[(T < 14.0) | (T > 18.0)]
    curve = smoothed(t, samples(t), moments())
    edge = int(np.searchsorted(t, 14.0)) - 1
    assert curve.velocity_sigma_mps[edge] > 2.0 * curve.velocity_sigma_mps[edge - 100]
    assert np.isfinite(curve.altitude_m).all()


def test_there_is_nothing_to_smooth_without_samples() -> None:
    with pytest.raises(ValueError, match="no samples"):
        smooth_flight([], np.zeros(0), 0.0, moments())


# -- virtual flights ---------------------------------------------------------------------------------------------------


def kept(flight: VirtualFlight) -> WholeFlight:
    return whole_flight(flight.heard(), file="virtual", air_temperature_c=flight.setup.day.pad_temperature_c)


@pytest.mark.parametrize(("fault", "seed"), [("none", 2), ("none", 3)])
def test_speeds_of_a_virtual_flight_are_right_all_the_way(fault: str, seed: int) -> None:
    # Below the speed of sound: near it pressure alone shows no speed.
    flown = random_flight(seed, fault, apogee_m=(150.0, 900.0))
    flight = kept(flown)
    truth = flown.truth
    truth_s = (np.array([truth.t_ms_of(t) for t in truth.t_s]) - flight.liftoff_ms) / 1000.0
    speeds = np.interp(flight.curve.t_s, truth_s, truth.velocity_mps)
    assert truth.max_velocity_mps is not None
    error = np.abs(flight.curve.velocity_mps - speeds)
    assert np.percentile(error, 95) < 0.03 * truth.max_velocity_mps + 1.0
    # The target for the top speed after landing (tests/benchmarks/truth_table.py), with room for pressure alone.
    assert flight.curve.velocity_mps.max() == pytest.approx(truth.max_velocity_mps, rel=0.04)


def test_curve_and_report_tell_of_one_and_the_same_flight() -> None:
    flight = kept(fly(SCENARIOS["nominal-dual"], 1))
    summary = flight.report.summary
    assert summary.apogee_m is not None
    assert summary.max_speed_mps is not None
    assert flight.curve.altitude_m.max() == pytest.approx(summary.apogee_m, abs=0.5)
    assert flight.curve.velocity_mps.max() == pytest.approx(summary.max_speed_mps, rel=0.01)
    assert np.abs(flight.curve.velocity_mps[-100:]).max() < 0.5  # it lies still


@pytest.mark.parametrize("seed", [104, 106, 114, 123, 130])
def test_past_the_speed_of_sound_by_pressure_alone_the_curve_is_led_through_burnout(seed: int) -> None:
    """Between two trusted stretches seconds apart nothing else tells the speed: it was up to a quarter too high."""
    flight = random_flight(seed, apogee_m=(1500.0, 6500.0))
    truth = flight.truth
    assert flight.setup.accelerometer is None
    assert truth.max_mach is not None
    assert truth.max_mach > 1.0
    whole = whole_flight(flight.heard(), file="a", air_temperature_c=flight.setup.day.pad_temperature_c)
    curve = whole.curve
    true_s = np.array([(truth.t_ms_of(t_s) - whole.liftoff_ms) / 1000.0 for t_s in truth.t_s.tolist()])
    fast = (curve.t_s > 0.0) & (np.interp(curve.t_s, true_s, truth.velocity_mps) > 0.8 * 340.0)
    assert not curve.used[fast].all()
    assert curve.velocity_mps.max() == pytest.approx(truth.velocity_mps.max(), rel=0.06)
    off_m = np.interp(curve.t_s[fast], true_s, truth.altitude_m) - curve.altitude_m[fast]
    assert np.sqrt(np.mean(off_m**2)) < 40.0
    # It knows how badly it is known there, and the report's highest speed lies within that.
    off_mps = np.interp(curve.t_s[fast], true_s, truth.velocity_mps) - curve.velocity_mps[fast]
    assert np.sqrt(np.mean((off_m / curve.altitude_sigma_m[fast]) ** 2)) < 2.5
    assert np.sqrt(np.mean((off_mps / curve.velocity_sigma_mps[fast]) ** 2)) < 2.0
    top = int(np.argmax(curve.velocity_mps))
    reported_mps = whole.report.summary.max_speed_mps
    assert reported_mps is not None
    assert abs(curve.velocity_mps[top] - reported_mps) <= curve.velocity_sigma_mps[top] < 0.1 * reported_mps
