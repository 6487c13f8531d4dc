"""What goes to a phone: GPX and KML, read back by libraries that are not ours, KML against the OGC's schema too."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.resources import as_file, files
from io import BytesIO
from xml.etree import ElementTree

import gpxpy
import pytest
from lxml import etree
from pykml import parser as pykml_parser

from station.fix_gate import TrackPoint
from station.flight_log import parse_flight
from station.geodesy import Position, line_between
from station.gpx import gpx_document
from station.kml import kml_document
from station.phone_track import PhoneTrack, phone_track, printable
from station.pipeline import Pipeline
from station.virtual.saved_flight import OPENED, flight_log
from station.virtual.scenarios import SCENARIOS
from station.virtual.virtual_flight import fly
from station.whereabouts import FixQuality, Onward, PadPlace, Place, PlaceKind, Whereabouts

START = datetime(2031, 5, 4, 9, 30, tzinfo=UTC)
PAD = PadPlace(37.5, -41.25, 3.5, 12)
SEEN = Place(
    PlaceKind.LAST_SEEN, 22_000.0, 3.0, 37.501, -41.249, 3.5, 8, FixQuality.GOOD, 1, 62.0, 142.0, 38.5, 4.9, 2.0,
    Onward(37.5014, -41.2486, 57.0, 28.7, 11.0, 199.0, 38.6),
)  # fmt: skip


def point(t_s: float, north: int, *, height_m: float | None = 240.0, arrived: bool = True) -> TrackPoint:
    position = Position(37.5 + 0.0001 * north, -41.25)
    arrival_us = round(1e6 * (t_s - 5.0)) if arrived else None
    return TrackPoint(1000.0 * t_s, position, 11.1 * north, 0.0, height_m, 8, 60.0, arrival_us)


POINTS = [point(9.0, 0), *(point(10.0 + k, k) for k in range(4)), *(point(20.0 + k, 9 + k) for k in range(3))]


def made(
    points: list[TrackPoint] = POINTS, found: Whereabouts | None = None, opened: datetime | None = START
) -> PhoneTrack:
    found = Whereabouts(pad=PAD, place=SEEN) if found is None else found
    return phone_track("a flight", points, found, liftoff_ms=10_000.0, opened=opened)


def read_kml(document: bytes) -> etree._Element:
    """Parsed by pykml and held against the schema of OGC KML 2.2 that it carries."""
    with as_file(files("pykml") / "schemas") as schemas:
        schema = etree.XMLSchema(etree.parse(schemas / "ogckml22.xsd", etree.XMLParser(no_network=True)))
    schema.assertValid(etree.fromstring(document))
    return pykml_parser.parse(BytesIO(document)).getroot()


# -- GPX -------------------------------------------------------------------------------------------------------


def test_gpx_has_the_pad_and_the_rocket_as_waypoints() -> None:
    gpx = gpxpy.parse(gpx_document(made()))
    assert gpx.version == "1.1"
    assert gpx.name == "a flight"
    found = [(way.name, way.latitude, way.longitude) for way in gpx.waypoints]
    assert found == [
        ("Pad", 37.5, -41.25),
        ("Rocket last seen", 37.501, -41.249),
        ("Rocket, reckoned", 37.5014, -41.2486),
    ]
    assert gpx.waypoints[1].description == "37.501000, -41.249000, give or take 7 m, 62 m up"
    assert gpx.waypoints[1].time == START + timedelta(seconds=17)


def test_gpx_has_the_way_since_liftoff_cut_where_the_satellites_were_lost() -> None:
    gpx = gpxpy.parse(gpx_document(made()))
    (track,) = gpx.tracks
    assert [len(segment.points) for segment in track.segments] == [4, 3]
    first = track.segments[0].points[1]
    assert (first.latitude, first.longitude, first.elevation, first.satellites) == (37.5001, -41.25, 240.0, 8)
    assert first.time == START + timedelta(seconds=6)


def test_what_is_not_known_is_left_out_of_the_gpx() -> None:
    bare = gpx_document(made([point(12.0, 1, height_m=None, arrived=False)], opened=START))
    (only,) = gpxpy.parse(bare).tracks[0].segments[0].points
    assert (only.elevation, only.time) == (None, None)
    assert b"<time>" not in bare
    assert b"<time>" not in gpx_document(made(opened=None))
    silent = replace(point(12.0, 1), satellites=None)
    assert b"<sat>" not in gpx_document(made([silent]))
    assert gpxpy.parse(gpx_document(made([]))).tracks == []


def test_the_elements_of_gpx_come_in_the_order_of_its_schema() -> None:
    """GPX 1.1, wptType: ele, time, ..., name, cmt, desc, ..., sat; gpxType: metadata, wpt, rte, trk."""
    root = ElementTree.fromstring(gpx_document(made()))
    space = "{http://www.topografix.com/GPX/1/1}"
    assert root.tag == f"{space}gpx"
    order = ["metadata", "wpt", "rte", "trk"]
    tags = [child.tag.removeprefix(space) for child in root]
    assert tags == sorted(tags, key=order.index)
    within = ["ele", "time", "name", "desc", "sat"]
    for place in [*root.iter(f"{space}wpt"), *root.iter(f"{space}trkpt")]:
        inner = [child.tag.removeprefix(space) for child in place]
        assert inner == sorted(inner, key=within.index)
        assert -180.0 <= float(place.attrib["lon"]) < 180.0


def test_the_date_line_has_one_side_in_gpx() -> None:
    there = replace(point(12.0, 1), position=Position(10.0, 180.0))
    (only,) = gpxpy.parse(gpx_document(made([there]))).tracks[0].segments[0].points
    assert only.longitude == -180.0


# -- KML -------------------------------------------------------------------------------------------------------


def test_kml_meets_its_schema_and_has_pad_rocket_and_way() -> None:
    document = read_kml(kml_document(made())).Document
    assert document.name == "a flight"
    names = [str(mark.name) for mark in document.Placemark]
    assert names == [
        "Pad",
        "Pad: give or take",
        "Rocket last seen",
        "Rocket last seen: give or take",
        "Rocket, reckoned",
        "Rocket, reckoned: give or take",
        "Way over the ground",
    ]
    assert str(document.Placemark[0].Point.coordinates) == "-41.2500000,37.5000000"
    assert str(document.Placemark[2].TimeStamp.when) == "2031-05-04T09:30:17.000Z"


def test_the_way_in_kml_stands_at_the_heights_that_were_recorded() -> None:
    lines = read_kml(kml_document(made())).Document.Placemark[-1].MultiGeometry.LineString
    assert [len(str(line.coordinates).split()) for line in lines] == [4, 3]
    assert str(lines[0].altitudeMode) == "absolute"
    assert str(lines[0].coordinates).split()[1] == "-41.2500000,37.5001000,240.0"


def test_with_a_height_missing_the_way_lies_on_the_ground() -> None:
    low = [point(12.0, 1), point(13.0, 2, height_m=None)]
    (line,) = read_kml(kml_document(made(low))).Document.Placemark[-1].MultiGeometry.LineString
    assert str(line.coordinates).split() == ["-41.2500000,37.5001000", "-41.2500000,37.5002000"]
    assert b"altitudeMode" not in kml_document(made(low))


def test_a_single_fix_is_a_point_and_no_line() -> None:
    geometry = read_kml(kml_document(made([point(12.0, 1)]))).Document.Placemark[-1].MultiGeometry
    assert str(geometry.Point.coordinates) == "-41.2500000,37.5001000,240.0"


def test_the_ring_is_closed_and_two_sigmas_wide() -> None:
    ring = str(read_kml(kml_document(made())).Document.Placemark[3].LineString.coordinates).split()
    assert ring[0] == ring[-1]
    for place in ring:
        longitude, latitude = map(float, place.split(","))
        away = line_between(Position(SEEN.latitude_deg, SEEN.longitude_deg), Position(latitude, longitude))
        assert away.range_m == pytest.approx(7.0, abs=0.02)


def test_nothing_known_is_a_document_too() -> None:
    empty = phone_track("x", [], Whereabouts(), liftoff_ms=None)
    assert read_kml(kml_document(empty)).Document.name == "x"
    assert gpxpy.parse(gpx_document(empty)).waypoints == []


def test_a_name_that_xml_cannot_hold_is_made_printable() -> None:
    assert printable("a\x00b\ud800<&>") == "a?b?<&>"
    track = phone_track("a\x07<b> & c", POINTS, Whereabouts(pad=PAD), liftoff_ms=0.0)
    assert gpxpy.parse(gpx_document(track)).name == "a?<b> & c"
    assert read_kml(kml_document(track)).Document.name == "a?<b> & c"


def test_a_recorded_flight_read_back_ends_where_the_rocket_lies() -> None:
    """Log to phone and back: the last point lies within some metres of the true landing, at the true time."""
    flight = fly(SCENARIOS["satellite-fixes"], 24)
    saved = parse_flight(flight_log(flight), "x.flight")
    pipeline = Pipeline()
    for line, arrival_us in saved.lines:
        pipeline.take_line(line, arrival_us)
    snapshot = pipeline.snapshot(over=True)
    assert saved.header is not None
    track = phone_track(
        "x",
        pipeline.ground.points,
        snapshot.whereabouts,
        liftoff_ms=snapshot.liftoff_t_ms,
        opened=saved.header.opened,
    )
    gpx = gpxpy.parse(gpx_document(track))
    last = gpx.tracks[0].segments[-1].points[-1]
    truth = flight.truth
    assert truth.landing is not None
    way = line_between(Position(37.5, -41.25), Position(last.latitude, last.longitude))
    assert way.range_m == pytest.approx(truth.landing[0], abs=10.0)
    assert last.time is not None
    assert (last.time - OPENED).total_seconds() == pytest.approx(flight.lines[-1].t_s, abs=2.0)
    read_kml(kml_document(track))
