"""The worked figures that the trade goes by, through the whole check.

A mean of 7.8 g over 0.75 s makes 57.4 m/s (128 mph); the delay wanted is the time from burnout to apogee; 15 mph is
6.7 m/s: common practice, no source.
"""

import random

import pytest

from station.after_landing import CheckReport, judge_lines
from station.atmosphere import G0_MPS2, isa_pressure_pa
from station.check_report import report_text
from station.flight_state import EventName
from station.quantity import SPEED, parse_quantity
from station.records import SampleRecord
from station.wire import encode

GAIN_MPS2 = 7.8 * G0_MPS2
BURN_S = 0.75
TOP_MPS = GAIN_MPS2 * BURN_S
PAD_S = 10.0


def height_m(t_s: float) -> float:
    """At rest, 7.8 g of gain for 0.75 s, and then up without drag and down again at 20 m/s."""
    if t_s <= 0.0:
        return 0.0
    if t_s <= BURN_S:
        return 0.5 * GAIN_MPS2 * t_s**2
    since = t_s - BURN_S
    burnout_m = 0.5 * GAIN_MPS2 * BURN_S**2
    fall_s = TOP_MPS / G0_MPS2 + 20.0 / G0_MPS2
    if since <= fall_s:
        return burnout_m + TOP_MPS * since - 0.5 * G0_MPS2 * since**2
    turned = burnout_m + TOP_MPS * fall_s - 0.5 * G0_MPS2 * fall_s**2
    return max(0.0, turned - 20.0 * (since - fall_s))


def force_mps2(t_s: float) -> float:
    """What the accelerometer reads: one g at rest, thrust, nothing in the coast without drag."""
    if t_s <= 0.0:
        return G0_MPS2
    return GAIN_MPS2 + G0_MPS2 if t_s <= BURN_S else 0.0


def flown(*, with_force: bool) -> CheckReport:
    rng = random.Random(1)
    lines = []
    for k in range(2000):
        t = 0.02 * k - PAD_S
        axial = round(force_mps2(t) + rng.gauss(0.0, 0.3), 2) if with_force else None
        pressure = round(isa_pressure_pa(height_m(t)) + rng.gauss(0.0, 2.0), 2)
        lines.append((encode(SampleRecord(k, 20 * k, pressure, 15.0, axial)).rstrip(b"\n"), None))
    return judge_lines(lines, file="worked", air_temperature_c=15.0)


def test_by_hand() -> None:
    assert pytest.approx(57.4, abs=0.05) == TOP_MPS
    assert pytest.approx(128.0, abs=0.5) == TOP_MPS / 0.44704


@pytest.mark.parametrize(("with_force", "share"), [(True, 0.011), (False, 0.024)])
def test_a_mean_of_7_8_g_over_three_quarters_of_a_second_makes_128_mph(with_force: bool, share: float) -> None:
    report = flown(with_force=with_force)
    summary = report.summary
    assert summary.max_speed_mps == pytest.approx(TOP_MPS, rel=share)
    assert summary.burn_time_s == pytest.approx(BURN_S, abs=0.05)
    assert summary.mean_thrust_acceleration_mps2 == pytest.approx(GAIN_MPS2, rel=0.06)
    assert summary.mean_thrust_acceleration_mps2 is not None
    assert summary.burn_time_s is not None
    made = summary.mean_thrust_acceleration_mps2 * summary.burn_time_s
    assert made == pytest.approx(57.4, rel=share)
    if with_force:
        assert "57 m/s (128 mph)" in report_text(report)


@pytest.mark.parametrize("with_force", [True, False])
def test_the_delay_wanted_is_the_time_from_burnout_to_apogee(with_force: bool) -> None:
    report = flown(with_force=with_force)
    at_s = {event.name: event.t_ms / 1000.0 for event in report.events}
    assert report.summary.coast_time_s == pytest.approx(at_s[EventName.APOGEE] - at_s[EventName.BURNOUT], abs=1e-9)
    # Without drag: the speed gained over g.
    assert report.summary.coast_time_s == pytest.approx(TOP_MPS / G0_MPS2, abs=0.06)
    assert report.summary.apogee_m == pytest.approx(0.5 * TOP_MPS * BURN_S + TOP_MPS**2 / (2.0 * G0_MPS2), abs=0.5)


def test_fifteen_miles_an_hour_is_6_7_metres_a_second() -> None:
    assert parse_quantity("15 mph", SPEED) == pytest.approx(6.7, abs=0.01)
