"""The drawing as a PNG picture, read back by Pillow."""

from io import BytesIO

import pytest
from PIL import Image, ImageFont

from station.renditions import png
from station.renditions.drawing import Anchor, Area, Drawing, Line, Text
from station.renditions.png import png_bytes
from station.renditions.still import still
from station.renditions.units import METRES
from station.whole_flight import WholeFlight


def picture(*shapes: Line | Area | Text) -> Image.Image:
    drawing = Drawing(100, 50, "#ffffff", "title", "description", shapes)
    return Image.open(BytesIO(png_bytes(drawing))).convert("RGB")


def ink(image: Image.Image) -> tuple[int, int, int, int] | None:
    """The box around what is not paper."""
    return image.convert("L").point(lambda value: 255 if value < 200 else 0).getbbox()


def test_shapes_are_drawn_where_they_lie_in_their_colour() -> None:
    image = picture(Area(((10, 10), (30, 10), (30, 20), (10, 20)), "#d55e00"))
    assert image.size == (100, 50)
    assert image.getpixel((20, 15)) == (0xD5, 0x5E, 0x00)
    assert image.getpixel((50, 40)) == (255, 255, 255)
    left, top, right, bottom = ink(image) or (0, 0, 0, 0)
    assert (left, top) == (pytest.approx(10, abs=1), pytest.approx(10, abs=1))
    assert (right, bottom) == (pytest.approx(31, abs=1), pytest.approx(21, abs=1))


def test_a_dashed_line_has_holes() -> None:
    row = [picture(Line(((0, 25), (99, 25)), "#000000", 3, dashed=True)).getpixel((x, 25)) for x in range(100)]
    assert (0, 0, 0) in row
    assert (255, 255, 255) in row


@pytest.mark.parametrize("has_fonts", [True, False])
def test_text_stands_at_its_point_with_or_without_fonts_of_the_system(
    monkeypatch: pytest.MonkeyPatch, has_fonts: bool
) -> None:
    if not has_fonts:
        monkeypatch.setattr(png, "_font_name", lambda _bold: None)
    box = ink(picture(Text(95, 40, "Żółw 3", 20, "#000000", anchor=Anchor.END, bold=True)))
    assert box is not None
    assert box[2] == pytest.approx(95, abs=4)
    assert 20 < box[1] < box[3] <= 46


def test_a_long_name_is_made_to_fit() -> None:
    box = ink(picture(Text(5, 40, "A rather long name", 30, "#000000", most=80)))
    assert box is not None
    assert box[2] - box[0] <= 82


def test_letters_that_the_spare_font_lacks_lose_their_accents_and_nothing_breaks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(png, "_font_name", lambda _bold: None)
    text, font = png._fitting("Éclair ракета", False, 20)
    assert text == "Eclair "
    assert isinstance(font, ImageFont.FreeTypeFont)


def test_the_whole_still_is_a_picture_of_a_fair_size(nominal: WholeFlight) -> None:
    data = png_bytes(still(nominal, METRES))
    assert Image.open(BytesIO(data)).size == (1200, 630)
    assert len(data) < 300_000
