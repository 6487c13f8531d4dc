"""A ground track as GPX 1.1, the open XML format of https://www.topografix.com/GPX/1/1/. Pure.

What is not known is left out: `ele` without a height, `time` without a clock, `sat` without a number.
"""

from xml.etree import ElementTree

import station
from station.geodesy import Position
from station.phone_track import Landmark, PhonePoint, PhoneTrack, utc
from station.xml_tree import child, written

NAMESPACE = "http://www.topografix.com/GPX/1/1"


def gpx_document(track: PhoneTrack) -> bytes:
    """The whole file, UTF-8: places as `wpt`, the way as one `trk` with a `trkseg` for each stretch without a loss."""
    root = ElementTree.Element(
        "gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": f"Rocket ground station {station.__version__}"}
    )
    child(child(root, "metadata"), "name", track.name)
    for landmark in track.landmarks:
        _waypoint(root, landmark)
    if track.segments:
        way = child(root, "trk")
        child(way, "name", track.name)
        for segment in track.segments:
            stretch = child(way, "trkseg")
            for point in segment:
                _track_point(stretch, point)
    return written(root)


def _waypoint(root: ElementTree.Element, landmark: Landmark) -> None:
    made = ElementTree.SubElement(root, "wpt", _place(landmark.position))
    if landmark.time is not None:
        child(made, "time", utc(landmark.time))
    child(made, "name", landmark.name)
    child(made, "desc", landmark.text)


def _track_point(stretch: ElementTree.Element, point: PhonePoint) -> None:
    made = ElementTree.SubElement(stretch, "trkpt", _place(point.position))
    if point.height_m is not None:
        child(made, "ele", f"{point.height_m:.1f}")
    if point.time is not None:
        child(made, "time", utc(point.time))
    if point.satellites is not None:
        child(made, "sat", str(point.satellites))


def _place(position: Position) -> dict[str, str]:
    # The schema's longitudes end short of 180.
    longitude = -180.0 if position.longitude_deg >= 180.0 else position.longitude_deg
    return {"lat": f"{position.latitude_deg:.7f}", "lon": f"{longitude:.7f}"}
