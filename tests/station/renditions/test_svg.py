"""The drawing as SVG, read back by the standard library's XML parser."""

import xml.etree.ElementTree as ET

from station.renditions.drawing import Area, Drawing, Line, Text
from station.renditions.svg import svg_text

SVG = "{http://www.w3.org/2000/svg}"
SHAPES = (
    Line(((1, 2), (3.5, 4)), "#0072b2", 2.0, dashed=True),
    Area(((0, 0), (1, 0), (1, 1)), "#ffffff"),
    Text(5, 6, '<script>alert("x")</script> & co', 20, "#000000", bold=True, most=50),
)
DRAWING = Drawing(100, 50, "#ffffff", "A <b>title</b>", "What it shows\x07", SHAPES)


def test_every_shape_becomes_an_element_with_its_values() -> None:
    root = ET.fromstring(svg_text(DRAWING))
    assert root.get("viewBox") == "0 0 100 50"
    line = root.find(f"{SVG}polyline")
    area = root.find(f"{SVG}polygon")
    assert line is not None
    assert area is not None
    assert line.get("points") == "1,2 3.5,4"
    assert line.get("stroke-dasharray")
    assert area.get("fill") == "#ffffff"


def test_text_is_text_and_never_markup() -> None:
    root = ET.fromstring(svg_text(DRAWING))
    text = root.find(f"{SVG}text")
    assert text is not None
    assert text.text == '<script>alert("x")</script> & co'
    assert root.find(f".//{SVG}script") is None


def test_a_text_too_long_for_its_room_is_squeezed() -> None:
    text = ET.fromstring(svg_text(DRAWING)).find(f"{SVG}text")
    assert text is not None
    assert text.get("textLength") == "50"


def test_who_cannot_see_it_hears_what_it_shows() -> None:
    root = ET.fromstring(svg_text(DRAWING))
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == "A <b>title</b>"
    assert root.findtext(f"{SVG}desc") == "What it shows"  # without the control character, which XML forbids
