"""The virtual satellite receiver: near the truth, silent where a real one is, and the same again by seed."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from math import cos, hypot, radians, sin
from pathlib import Path
from subprocess import CompletedProcess

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from station.records import FixRecord, SampleRecord
from station.virtual import SCENARIOS, VirtualFlight, fly, fly_setup
from station.virtual.satellites import FieldPlace, SatelliteReceiver, landing_of


def told(flight: VirtualFlight) -> list[tuple[float, FixRecord]]:
    return [(t, record) for t, record in flight.records if isinstance(record, FixRecord)]


def with_receiver(seed: int, receiver: SatelliteReceiver, name: str = "nominal-dual") -> VirtualFlight:
    setup = SCENARIOS[name].setup(seed)
    return fly_setup(replace(setup, altimeter=replace(setup.altimeter, satellites=receiver)), seed)


TAME = SatelliteReceiver(period_s=0.2, wild_share=0.0)


def miss_m(flight: VirtualFlight, t: float, fix: FixRecord) -> tuple[float, float]:
    """(Sideways, upwards) from the truth, by the geodesic library."""
    truth, place = flight.truth, flight.setup.place
    downrange = float(np.interp(t, truth.t_s, truth.downrange_m))
    assert fix.latitude_deg is not None
    assert fix.longitude_deg is not None
    assert fix.height_m is not None
    line = Geodesic.WGS84.Inverse(place.latitude_deg, place.longitude_deg, fix.latitude_deg, fix.longitude_deg)
    to, way = radians(line["azi1"]), radians(place.wind_from_deg + 180.0)
    north, east = line["s12"] * cos(to), line["s12"] * sin(to)
    up = fix.height_m - place.height_m - float(np.interp(t, truth.t_s, truth.altitude_m))
    return hypot(north - downrange * cos(way), east - downrange * sin(way)), up


def test_fixes_come_as_often_as_asked_and_lie_within_some_metres_of_the_rocket() -> None:
    flight = with_receiver(3, TAME)
    fixes = told(flight)
    assert [round(b[0] - a[0], 6) for a, b in pairwise(fixes)] == [0.2] * (len(fixes) - 1)
    misses = np.array([miss_m(flight, t, fix) for t, fix in fixes if fix.satellites is not None and fix.satellites > 7])
    assert len(misses) > 200
    assert np.abs(misses[:, 0]).max() < 10.0
    assert 1.0 < np.sqrt(np.mean(misses[:, 0] ** 2)) < 4.0
    assert np.abs(misses[:, 1]).max() < 15.0


def test_the_satellites_are_lost_while_the_motor_burns_and_found_again_on_the_way_up() -> None:
    flight = with_receiver(3, TAME)
    liftoff, burnout, apogee = flight.truth.liftoff_t_s, flight.truth.burnout_t_s, flight.truth.apogee_t_s
    assert liftoff is not None
    assert burnout is not None
    assert apogee is not None
    during = [fix for t, fix in told(flight) if liftoff + 0.1 < t < burnout + 0.5]
    assert len(during) > 5
    for fix in during:
        assert (fix.latitude_deg, fix.longitude_deg, fix.height_m) == (None, None, None)
        assert fix.satellites in (0, 1, 2, 3)
    assert any(fix.latitude_deg is not None for t, fix in told(flight) if burnout < t < apogee)


def test_no_position_is_told_before_the_first_fix() -> None:
    for t, fix in told(with_receiver(3, TAME)):
        if t < TAME.first_fix_s:
            assert fix.latitude_deg is None


def test_some_fixes_are_wild_and_then_the_satellites_are_few() -> None:
    flight = with_receiver(3, SatelliteReceiver(period_s=0.1, wild_share=0.05))
    wild = [fix for t, fix in told(flight) if fix.latitude_deg is not None and miss_m(flight, t, fix)[0] > 100.0]
    assert 10 < len(wild) < 60
    assert all(fix.satellites is not None and fix.satellites <= 5 for fix in wild)


def test_the_same_seed_makes_the_same_fixes_and_another_seed_others() -> None:
    first, again, other = (fly(SCENARIOS["satellite-fixes"], seed) for seed in (5, 5, 6))
    assert told(first) == told(again)
    assert told(first) != told(other)


def test_a_receiver_aboard_changes_nothing_that_the_altimeter_measures() -> None:
    def measured(flight: VirtualFlight) -> list[tuple[float, float | None, float | None]]:
        return [(t, r.pressure_pa, r.axial_mps2) for t, r in flight.records if isinstance(r, SampleRecord)]

    assert measured(with_receiver(3, TAME)) == measured(fly(SCENARIOS["nominal-dual"], 3))


def test_without_power_the_receiver_is_silent_and_then_looks_for_its_satellites_again() -> None:
    flight = with_receiver(16, TAME, "restart-in-flight")
    back = flight.truth.restart_t_s
    assert back is not None
    assert not [t for t, _ in told(flight) if back - 1.0 <= t < back]
    assert {fix.latitude_deg for t, fix in told(flight) if back <= t < back + TAME.again_s} == {None}


def test_a_flight_on_the_pad_stays_where_it_is() -> None:
    flight = with_receiver(3, TAME, "pad-gusts")
    assert flight.truth.landing is None
    assert all(miss_m(flight, t, fix)[0] < 40.0 for t, fix in told(flight) if fix.latitude_deg is not None)


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(0.0, -30.0), (37.5, -41.25), (-52.0, -140.0), (68.0, -5.0), (-30.0, 179.999)]
)
def test_positions_agree_with_the_geodesic_library(latitude: float, longitude: float) -> None:
    place = FieldPlace(latitude, longitude)
    for north, east in ((1000.0, 0.0), (0.0, -800.0), (-600.0, 700.0)):
        line = Geodesic.WGS84.Inverse(latitude, longitude, *place.position(north, east))
        assert line["s12"] * cos(radians(line["azi1"])) == pytest.approx(north, abs=0.3)
        assert line["s12"] * sin(radians(line["azi1"])) == pytest.approx(east, abs=0.3)


def test_the_wind_carries_it_to_the_side_where_the_wind_goes() -> None:
    from_the_west = FieldPlace(wind_from_deg=270.0)
    assert landing_of(from_the_west, 300.0) == pytest.approx((300.0, 90.0))
    assert landing_of(from_the_west, -40.0) == pytest.approx((40.0, 270.0))


def test_the_emulate_command_puts_a_receiver_into_any_flight(
    run_station: Callable[..., CompletedProcess[bytes]], tmp_path: Path
) -> None:
    done = run_station("emulate", "main-silent", "--fixes", "5", "--pace", "0", "--loss", "0", "--to", "x.txt")
    assert done.returncode == 0
    lines = (tmp_path / "x.txt").read_bytes().splitlines()
    seconds = sum(line.startswith(b"@CHN") for line in lines)
    assert sum(b"@FIX" in line for line in lines) == pytest.approx(5 * seconds, rel=0.1)
    assert run_station("emulate", "main-silent", "--fixes", "50", "--to", "y.txt").returncode == 2
