"""A ground track as KML 2.2, the open XML format of OGC 07-147r2. Pure.

The way stands at its heights above mean sea level if every fix of it has one, else it lies on the ground. Around each
place is a ring of two standard deviations.
"""

from collections.abc import Sequence
from xml.etree import ElementTree

from station.geodesy import Line, Position, place_along
from station.phone_track import Landmark, PhonePoint, PhoneTrack, utc
from station.xml_tree import child, written

NAMESPACE = "http://www.opengis.net/kml/2.2"
WAY_STYLE, RING_STYLE = "way", "ring"
RING_POINTS = 48
RING_SIGMAS = 2.0
# Blue and vermilion of Okabe and Ito's palette (2008), as KML writes colours: alpha, blue, green, red.
_WAY_COLOUR, _RING_COLOUR = "ffb27200", "ff005ed5"


def kml_document(track: PhoneTrack) -> bytes:
    """The whole file, UTF-8."""
    root = ElementTree.Element("kml", {"xmlns": NAMESPACE})
    document = child(root, "Document")
    child(document, "name", track.name)
    _line_style(document, WAY_STYLE, _WAY_COLOUR)
    _line_style(document, RING_STYLE, _RING_COLOUR)
    for landmark in track.landmarks:
        _placemark(document, landmark)
        _ring(document, landmark)
    if track.segments:
        _way(document, track.segments)
    return written(root)


def _line_style(document: ElementTree.Element, name: str, colour: str) -> None:
    line = child(ElementTree.SubElement(document, "Style", {"id": name}), "LineStyle")
    child(line, "color", colour)
    child(line, "width", "3")


def _placemark(document: ElementTree.Element, landmark: Landmark) -> None:
    made = child(document, "Placemark")
    child(made, "name", landmark.name)
    child(made, "description", landmark.text)
    if landmark.time is not None:
        child(child(made, "TimeStamp"), "when", utc(landmark.time))
    child(child(made, "Point"), "coordinates", _coordinates(landmark.position))


def _ring(document: ElementTree.Element, landmark: Landmark) -> None:
    made = child(document, "Placemark")
    child(made, "name", f"{landmark.name}: give or take")
    child(made, "styleUrl", f"#{RING_STYLE}")
    line = child(made, "LineString")
    child(line, "tessellate", "1")
    turns = [360.0 * k / RING_POINTS for k in range(RING_POINTS)]
    ring = [place_along(landmark.position, Line(RING_SIGMAS * landmark.sigma_m, turn)) for turn in [*turns, 0.0]]
    child(line, "coordinates", " ".join(map(_coordinates, ring)))


def _way(document: ElementTree.Element, segments: Sequence[Sequence[PhonePoint]]) -> None:
    made = child(document, "Placemark")
    child(made, "name", "Way over the ground")
    child(made, "styleUrl", f"#{WAY_STYLE}")
    lines = child(made, "MultiGeometry")
    in_the_air = all(point.height_m is not None for segment in segments for point in segment)
    for segment in segments:
        line = child(lines, "LineString" if len(segment) > 1 else "Point")
        if len(segment) > 1 and not in_the_air:
            child(line, "tessellate", "1")
        if in_the_air:
            child(line, "altitudeMode", "absolute")
        heights = [point.height_m if in_the_air else None for point in segment]
        places = [point.position for point in segment]
        child(line, "coordinates", " ".join(map(_coordinates, places, heights)))


def _coordinates(position: Position, height_m: float | None = None) -> str:
    place = f"{position.longitude_deg:.7f},{position.latitude_deg:.7f}"
    return place if height_m is None else f"{place},{height_m:.1f}"
