"""Lines on the ellipsoid against published ones.

Karney's table: "Algorithms for geodesics", Journal of Geodesy 87 (2013), and the documentation and test set of
GeographicLib, which quote the same lines. Flinders Peak to Buninyong: Geocentric Datum of Australia Technical Manual,
whose worked example it is (an ellipsoid within 0.1 mm of WGS 84 over 55 km).
"""

from math import atan2, degrees, hypot, radians, sin, sqrt, tau

import pytest

from station.geodesy import Line, Position, line_between, place_along


def dms(degrees_: int, minutes: int, seconds: float) -> float:
    sign = -1.0 if degrees_ < 0 else 1.0
    return sign * (abs(degrees_) + minutes / 60.0 + seconds / 3600.0)


@pytest.mark.parametrize(
    ("start", "end", "range_m", "bearing_deg"),
    [
        # The example in geographiclib's own documentation, nearly from pole to pole.
        (Position(-41.32, 174.81), Position(40.96, -5.50), 19_959_679.26735382, 161.06766998616),
        # A short line (Karney's test of very short ones, quoted from memory; computed with geographiclib 2.1).
        (Position(-30.12345, 0.0), Position(-30.12344, 0.00005), 4.944208, 77.04353354),
        # The first line of geographiclib's test set.
        (Position(35.60777, -139.44815), Position(-11.17491, -69.95921), 8_935_244.5604818305, 111.098748429560326),
    ],
)
def test_published_lines_of_the_geodesic_library(
    start: Position, end: Position, range_m: float, bearing_deg: float
) -> None:
    line = line_between(start, end)
    assert line.range_m == pytest.approx(range_m, abs=1e-6)
    assert line.bearing_deg == pytest.approx(bearing_deg, abs=1e-8)


def test_flinders_peak_to_buninyong() -> None:
    flinders = Position(dms(-37, 57, 3.72030), dms(144, 25, 29.52440))
    buninyong = Position(dms(-37, 39, 10.15610), dms(143, 55, 35.38390))
    there, back = line_between(flinders, buninyong), line_between(buninyong, flinders)
    assert there.range_m == pytest.approx(54_972.271, abs=0.001)
    assert there.bearing_deg == pytest.approx(dms(306, 52, 5.37), abs=1e-5)
    assert back.bearing_deg == pytest.approx(dms(127, 10, 25.07), abs=1e-5)


def test_the_published_direct_line() -> None:
    """Latitude 40, 10 000 km to 30 degrees: Karney's table, from memory; computed with geographiclib 2.1."""
    end = place_along(Position(40.0, 0.0), Line(10_000_000.0, 30.0))
    assert end.latitude_deg == pytest.approx(41.79331020506, abs=1e-9)
    assert end.longitude_deg == pytest.approx(137.84490004377, abs=1e-9)


WALKS = [
    (Position(35.0, -117.8), Position(35.01, -117.79), 1436.6749, 39.4449),
    (Position(35.0, -117.8), Position(35.002, -117.803), 352.4645, 309.0151),
    (Position(52.0, 0.0), Position(52.01, 0.01), 1307.5192, 31.6775),
]


@pytest.mark.parametrize(("start", "end", "range_m", "bearing_deg"), WALKS)
def test_a_walk_to_the_rocket(start: Position, end: Position, range_m: float, bearing_deg: float) -> None:
    """Computed with geographiclib 2.1; the plane of the radii of curvature, worked here by hand, agrees."""
    line = line_between(start, end)
    assert line.range_m == pytest.approx(range_m, abs=1e-3)
    assert line.bearing_deg == pytest.approx(bearing_deg, abs=1e-4)
    # WGS 84: a = 6 378 137 m, e^2 = 0.00669438; radii of curvature at the latitude halfway.
    middle = radians((start.latitude_deg + end.latitude_deg) / 2.0)
    bent = 1.0 - 0.00669437999014 * sin(middle) ** 2
    north = radians(end.latitude_deg - start.latitude_deg) * 6_378_137.0 * (1 - 0.00669437999014) / bent**1.5
    east = radians(end.longitude_deg - start.longitude_deg) * 6_378_137.0 / sqrt(bent) * sqrt(1 - sin(middle) ** 2)
    assert line.range_m == pytest.approx(hypot(north, east), abs=1e-3)
    assert line.bearing_deg == pytest.approx(degrees(atan2(east, north) % tau), abs=0.01)


@pytest.mark.parametrize(("start", "end", "range_m", "bearing_deg"), WALKS)
def test_the_way_along_a_line_leads_to_its_end(
    start: Position, end: Position, range_m: float, bearing_deg: float
) -> None:
    found = place_along(start, line_between(start, end))
    assert found.latitude_deg == pytest.approx(end.latitude_deg, abs=1e-11)
    assert found.longitude_deg == pytest.approx(end.longitude_deg, abs=1e-11)


def test_bearings_run_from_0_to_360_and_the_date_line_is_no_wall() -> None:
    # 0.02 degrees on the equator: the ellipsoid's equatorial radius times the angle.
    line = line_between(Position(0.0, 179.99), Position(0.0, -179.99))
    assert line.range_m == pytest.approx(radians(0.02) * 6_378_137.0, abs=1e-6)
    assert line.bearing_deg == pytest.approx(90.0)
    assert line_between(Position(0.0, -179.99), Position(0.0, 179.99)).bearing_deg == pytest.approx(270.0)


def test_a_line_falls_apart_into_north_and_east() -> None:
    line = Line(100.0, 210.0)
    assert (line.north_m, line.east_m) == pytest.approx((-86.602540, -50.0))


def test_no_way_at_all_is_no_distance() -> None:
    assert line_between(Position(37.5, -41.25), Position(37.5, -41.25)).range_m == 0.0
