"""The pad, the last known place and the way on from it, against worked walks and against virtual flights."""

from dataclasses import replace
from functools import cache
from math import atan2, degrees, hypot, radians

import numpy as np
import pytest

from station.drift import Main
from station.flight_state import Estimate, Phase
from station.geodesy import Line, Position, line_between, place_along
from station.ground_track import GroundTrack, quality_of
from station.pipeline import Pipeline
from station.records import FixRecord
from station.virtual import SCENARIOS, VirtualFlight, fly_setup
from station.virtual.satellites import FieldPlace, SatelliteReceiver
from station.whereabouts import FixQuality, PlaceKind, Whereabouts

PAD = Position(35.0, -117.8)


def at(north_m: float, east_m: float = 0.0) -> Position:
    way = Line(hypot(north_m, east_m), degrees(atan2(east_m, north_m)))
    return place_along(PAD, way)


class Fixes:
    """A ground track fed by hand: times in seconds, liftoff at 100 s."""

    LIFTOFF_MS = 100_000.0

    def __init__(self) -> None:
        self.track = GroundTrack()

    def take(
        self,
        t_s: float,
        position: Position | None,
        phase: Phase = Phase.DESCENT,
        *,
        satellites: int | None = 9,
        altitude_m: float | None = None,
    ) -> None:
        place = (None, None) if position is None else (position.latitude_deg, position.longitude_deg)
        estimate = None if altitude_m is None else Estimate(1000.0 * t_s, altitude_m, 0.0, 0.0, 0.1, 0.1, 0.1)
        self.track.take(1000.0 * t_s, FixRecord(0, 0, *place, 180.0, satellites), phase, estimate, None)

    def wait_at(self, position: Position, *, until_s: float = 99.0, seconds: int = 10) -> None:
        for k in range(seconds):
            self.take(until_s - seconds + k, position, Phase.WAITING)

    def place(self, now_s: float, touchdown_s: float | None = None, main: Main | None = None):
        touchdown_ms = None if touchdown_s is None else 1000.0 * touchdown_s
        return self.track.place(1000.0 * now_s, self.LIFTOFF_MS, touchdown_ms, main)


# -- the pad -------------------------------------------------------------------------------------------------


def test_the_pad_is_the_mean_of_the_fixes_while_waiting() -> None:
    fixes = Fixes()
    for k, (north, east) in enumerate([(3.0, 0.0), (-1.0, 2.0), (-2.0, -2.0), (4.0, 4.0)]):
        fixes.take(90.0 + k, at(north, east), Phase.WAITING)
    pad = fixes.track.pad(None)
    assert pad is not None
    off = line_between(PAD, Position(pad.latitude_deg, pad.longitude_deg))
    assert (off.north_m, off.east_m) == pytest.approx((1.0, 1.0), abs=1e-3)
    assert (pad.fixes, pad.sigma_m) == (4, 3.5)


def test_the_scatter_of_the_fixes_is_the_sigma_when_it_is_greater() -> None:
    fixes = Fixes()
    for k, north in enumerate([9.0, -9.0] * 5):
        fixes.take(80.0 + k, at(north, north), Phase.WAITING)
    pad = fixes.track.pad(None)
    assert pad is not None
    assert pad.sigma_m == pytest.approx(9.0, rel=1e-3)


def test_the_way_to_the_pad_does_not_count_and_nor_does_what_comes_after_liftoff() -> None:
    fixes = Fixes()
    for k in range(40):
        fixes.take(50.0 + k, at(-400.0 + 10.0 * k), Phase.WAITING)
    fixes.wait_at(PAD)
    fixes.take(101.0, at(60.0), Phase.COAST)
    pad = fixes.track.pad(Fixes.LIFTOFF_MS)
    assert pad is not None
    assert line_between(PAD, Position(pad.latitude_deg, pad.longitude_deg)).range_m < 3.0


def test_a_receiver_that_found_its_satellites_only_in_flight_gives_a_place_and_no_range() -> None:
    fixes = Fixes()
    fixes.take(110.0, at(200.0))
    assert fixes.track.pad(Fixes.LIFTOFF_MS) is None
    place = fixes.place(111.0)
    assert place is not None
    assert (place.range_m, place.bearing_deg, place.range_sigma_m, place.bearing_sigma_deg) == (None,) * 4
    assert place.latitude_deg == pytest.approx(at(200.0).latitude_deg)


def test_on_the_pad_there_is_no_last_place() -> None:
    fixes = Fixes()
    fixes.wait_at(PAD)
    assert fixes.track.place(99_000.0, None, None) is None
    assert fixes.track.way_over_ground(None) == ()
    assert fixes.place(101.0) is None  # after liftoff, before the first fix of the flight


# -- the last known place --------------------------------------------------------------------------------------


def test_range_and_bearing_of_a_worked_walk() -> None:
    """35.0, -117.8 to 35.002, -117.803: 352.4645 m, 309.0151 degrees (computed with geographiclib 2.1)."""
    fixes = Fixes()
    fixes.wait_at(PAD)
    for k in range(10):
        fixes.take(150.0 + k, Position(35.002, -117.803), Phase.DOWN)
    place = fixes.place(160.0, touchdown_s=140.0)
    assert place is not None
    assert place.kind is PlaceKind.LANDED
    assert place.range_m == pytest.approx(352.4645, abs=0.001)
    assert place.bearing_deg == pytest.approx(309.0151, abs=0.001)
    assert place.range_sigma_m == pytest.approx(hypot(3.5, 3.5))
    assert place.bearing_sigma_deg == pytest.approx(degrees(atan2(hypot(3.5, 3.5), 352.4645)))
    assert (place.fixes, place.age_s, place.onward) == (10, 1.0, None)


def test_after_touchdown_the_mean_of_the_resting_place_counts_not_the_way_there() -> None:
    fixes = Fixes()
    fixes.wait_at(PAD)
    for k in range(20):
        fixes.take(120.0 + k, at(5.0 * k), altitude_m=100.0 - 5.0 * k)
    for k in range(8):
        fixes.take(140.0 + k, at(100.0 + (2.0 if k % 2 else -2.0)), Phase.DOWN)
    place = fixes.place(150.0, touchdown_s=139.0)
    assert place is not None
    assert (place.kind, place.fixes) == (PlaceKind.LANDED, 6)
    assert place.range_m == pytest.approx(100.0, abs=0.01)
    assert place.age_s == pytest.approx(3.0)


def test_a_last_fix_in_the_air_is_told_with_its_age_and_height() -> None:
    fixes = Fixes()
    fixes.wait_at(PAD)
    fixes.take(130.0, at(0.0, 200.0), altitude_m=60.0, satellites=5)
    place = fixes.place(142.5)
    assert place is not None
    assert (place.kind, place.age_s, place.altitude_m) == (PlaceKind.LAST_SEEN, 12.5, 60.0)
    assert (place.satellites, place.quality, place.sigma_m) == (5, FixQuality.FAIR, 7.0)
    assert place.range_m == pytest.approx(200.0, abs=1e-3)
    assert place.bearing_deg == pytest.approx(90.0, abs=1e-3)


def test_a_touchdown_without_a_fix_after_it_leaves_the_last_one_before() -> None:
    fixes = Fixes()
    fixes.wait_at(PAD)
    fixes.take(130.0, at(200.0), altitude_m=20.0)
    place = fixes.place(150.0, touchdown_s=134.0)
    assert place is not None
    assert (place.kind, place.age_s) == (PlaceKind.LAST_SEEN, 20.0)


def test_too_near_the_pad_no_direction_means_anything() -> None:
    fixes = Fixes()
    fixes.wait_at(PAD)
    fixes.take(150.0, at(6.0))
    place = fixes.place(150.0)
    assert place is not None
    assert place.range_m == pytest.approx(6.0, abs=1e-3)
    assert place.bearing_sigma_deg is None


@pytest.mark.parametrize(
    ("satellites", "quality"),
    [(12, "good"), (7, "good"), (6, "fair"), (5, "fair"), (4, "poor"), (None, "fair")],
)
def test_how_good_a_fix_is_by_its_satellites(satellites: int | None, quality: str) -> None:
    assert quality_of(satellites) == quality


# -- onward ----------------------------------------------------------------------------------------------------


def drifting(*, altitude_m: float, sinks_mps: float, east_mps: float) -> Fixes:
    fixes = Fixes()
    fixes.wait_at(PAD)
    for k in range(11):
        left = 10 - k
        fixes.take(120.0 + k, at(0.0, 200.0 - east_mps * left), altitude_m=altitude_m + sinks_mps * left)
    return fixes


def test_a_rocket_lost_in_the_air_is_carried_on_as_it_drifted() -> None:
    """60 m up, coming down at 5 m/s and drifting at 4 m/s: 12 s and 48 m more, by hand."""
    place = drifting(altitude_m=60.0, sinks_mps=5.0, east_mps=4.0).place(150.0, main=Main(150.0, 5.0))
    assert place is not None
    onward = place.onward
    assert onward is not None
    assert (onward.time_s, onward.further_m) == pytest.approx((12.0, 48.0), abs=0.01)
    assert onward.range_m == pytest.approx(248.0, abs=0.01)
    assert onward.bearing_deg == pytest.approx(90.0, abs=0.01)
    assert onward.sigma_m == pytest.approx(hypot(0.3 * 48.0, 3.5), abs=0.01)


def test_one_lost_under_its_drogue_is_carried_on_between_a_main_that_opens_and_one_that_does_not() -> None:
    """300 m up at 20 m/s: 15 s to the ground, or 9 s and then 120 m at 5 m/s, 33 s; halfway 24 s, 96 m at 4 m/s."""
    place = drifting(altitude_m=300.0, sinks_mps=20.0, east_mps=4.0).place(150.0, main=Main(120.0, 5.0))
    assert place is not None
    assert place.onward is not None
    assert (place.onward.time_s, place.onward.further_m) == pytest.approx((24.0, 96.0), abs=0.01)


def test_what_does_not_come_down_or_was_hardly_followed_is_not_carried_on() -> None:
    for fixes in (drifting(altitude_m=60.0, sinks_mps=0.2, east_mps=4.0), Fixes()):
        fixes.take(131.0, at(0.0, 204.0), altitude_m=60.0 if fixes.track.points else 50.0)
        place = fixes.place(150.0)
        assert place is not None
        assert place.onward is None


def test_without_pressure_nothing_is_carried_on() -> None:
    fixes = Fixes()
    for k in range(10):
        fixes.take(120.0 + k, at(4.0 * k))
    place = fixes.place(150.0)
    assert place is not None
    assert (place.altitude_m, place.onward) == (None, None)


# -- the way over the ground ------------------------------------------------------------------------------------


def test_the_way_is_told_north_and_east_of_the_pad_and_thinned() -> None:
    fixes = Fixes()
    fixes.wait_at(at(10.0, 10.0))
    for k in range(1000):
        fixes.take(120.0 + 0.1 * k, at(10.0, 10.0 + 0.5 * k))
    points = fixes.track.way_over_ground(Fixes.LIFTOFF_MS)
    assert 80 < len(points) <= 120
    assert points[-1] == pytest.approx((0.0, 499.5), abs=0.01)
    assert all(north == pytest.approx(0.0, abs=0.01) for north, _ in points)
    assert [east for _, east in points] == sorted(east for _, east in points)


def test_without_a_pad_the_way_begins_at_its_first_point() -> None:
    fixes = Fixes()
    fixes.take(120.0, at(50.0))
    fixes.take(121.0, at(60.0))
    first, second = fixes.track.way_over_ground(Fixes.LIFTOFF_MS)
    assert first == (0.0, 0.0)
    assert second == pytest.approx((10.0, 0.0), abs=1e-3)


# -- whole flights ----------------------------------------------------------------------------------------------


@cache
def flown(name: str, seed: int, latitude: float, longitude: float) -> tuple[VirtualFlight, Whereabouts]:
    setup = SCENARIOS[name].setup(seed)
    unit = replace(setup.altimeter, satellites=SatelliteReceiver(period_s=0.5))
    place = replace(setup.place, latitude_deg=latitude, longitude_deg=longitude)
    flight = fly_setup(replace(setup, altimeter=unit, place=place), seed)
    pipeline = Pipeline()
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    return flight, pipeline.snapshot(over=True).whereabouts


FIELDS = ((37.5, -41.25), (-50.0, -130.0), (12.0, 179.9999), (70.0, 3.0))


@pytest.mark.parametrize("seed", range(1, 9))
def test_where_a_virtual_rocket_landed_is_found_within_its_error(seed: int) -> None:
    flight, found = flown("satellite-fixes", seed, *FIELDS[seed % 4])
    assert flight.truth.landing is not None
    range_m, bearing_deg = flight.truth.landing
    place = found.place
    assert place is not None
    assert place.kind is PlaceKind.LANDED
    assert place.range_m is not None
    assert place.bearing_deg is not None
    assert place.range_sigma_m is not None
    assert place.bearing_sigma_deg is not None
    assert abs(place.range_m - range_m) < 3.0 * place.range_sigma_m
    assert abs((place.bearing_deg - bearing_deg + 180.0) % 360.0 - 180.0) < 3.0 * place.bearing_sigma_deg
    assert place.age_s < 3.0


def test_the_errors_told_fit_the_errors_made() -> None:
    """Over seeds the misses are of the size of their sigmas, in range and across: neither brag nor bluff."""
    misses = []
    for seed in range(1, 9):
        flight, found = flown("satellite-fixes", seed, *FIELDS[seed % 4])
        place = found.place
        assert flight.truth.landing is not None
        assert place is not None
        assert place.range_m is not None
        assert place.bearing_deg is not None
        assert place.range_sigma_m is not None
        across = radians((place.bearing_deg - flight.truth.landing[1] + 180.0) % 360.0 - 180.0) * place.range_m
        misses += [(place.range_m - flight.truth.landing[0]) / place.range_sigma_m, across / place.range_sigma_m]
    assert 0.2 < np.sqrt(np.mean(np.square(misses))) < 1.5


@pytest.mark.parametrize("name", ["behind-the-trees", "ballistic"])
def test_a_rocket_lost_before_the_ground_is_carried_on_to_where_it_lies(name: str) -> None:
    flight, found = flown(name, 8, *FIELDS[0])
    place = found.place
    assert place is not None
    assert place.kind is PlaceKind.LAST_SEEN
    assert place.onward is not None
    assert flight.truth.landing is not None
    field: FieldPlace = flight.setup.place
    pad = Position(field.latitude_deg, field.longitude_deg)
    lies = place_along(pad, Line(*flight.truth.landing))
    reckoned = Position(place.onward.latitude_deg, place.onward.longitude_deg)
    assert line_between(lies, reckoned).range_m < 3.0 * place.onward.sigma_m


def test_wild_fixes_never_get_onto_the_track() -> None:
    setup = SCENARIOS["satellite-fixes"].setup(1)
    wild = replace(setup.altimeter, satellites=SatelliteReceiver(period_s=0.2, wild_share=0.15))
    flight = fly_setup(replace(setup, altimeter=wild), 1)
    pipeline = Pipeline()
    for line, arrival_us in flight.heard():
        pipeline.take_line(line, arrival_us)
    field = flight.setup.place
    way = radians(field.wind_from_deg + 180.0)
    pad = Position(field.latitude_deg, field.longitude_deg)
    for point in pipeline.ground.points:
        downrange = float(
            np.interp(point.t_ms, [flight.truth.t_ms_of(t) for t in flight.truth.t_s], flight.truth.downrange_m)
        )
        true = place_along(pad, Line(abs(downrange), degrees(way) + (0.0 if downrange >= 0.0 else 180.0)))
        assert line_between(true, point.position).range_m < 160.0
    refused = dict(pipeline.ground.refused)
    assert refused["jump"] > 20
    assert refused["no position"] > 5


def test_a_restart_of_the_altimeter_does_not_tear_the_track() -> None:
    _, found = flown("restart-in-flight", 16, *FIELDS[0])
    assert found.place is not None
    assert found.place.kind is PlaceKind.LANDED
    assert dict(found.refused).get("jump", 0) < 5
