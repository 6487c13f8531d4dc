"""A drawing as a PNG picture, by Pillow: drawn three times as large and made smaller, so that edges are smooth."""

import unicodedata
from functools import cache
from io import BytesIO

from PIL import Image, ImageDraw, ImageFont

from station.renditions.drawing import Anchor, Area, Drawing, Line, Points, Text

SCALE = 3
DASH = 8.0
LEAST_SIZE = 6.0
# Looked for in the system's own font folders; all but the last resort have the letters of European languages.
_FONTS = {
    True: ("DejaVuSans-Bold.ttf", "LiberationSans-Bold.ttf", "NotoSans-Bold.ttf", "segoeuib.ttf", "arialbd.ttf"),
    False: ("DejaVuSans.ttf", "LiberationSans-Regular.ttf", "NotoSans-Regular.ttf", "segoeui.ttf", "arial.ttf"),
}
_ANCHORS = {Anchor.START: "ls", Anchor.MIDDLE: "ms", Anchor.END: "rs"}
Font = ImageFont.FreeTypeFont


def png_bytes(drawing: Drawing) -> bytes:
    """The picture's file."""
    sheet = Image.new("RGB", (drawing.width * SCALE, drawing.height * SCALE), drawing.paper)
    draw = ImageDraw.Draw(sheet)
    for shape in drawing.shapes:
        match shape:
            case Line():
                for piece in _dashes(shape.points) if shape.dashed else [shape.points]:
                    draw.line(_scaled(piece), fill=shape.colour, width=round(shape.width * SCALE), joint="curve")
            case Area():
                draw.polygon(_scaled(shape.points), fill=shape.colour)
            case Text():
                _write(draw, shape)
    small = sheet.resize((drawing.width, drawing.height), Image.Resampling.LANCZOS)
    file = BytesIO()
    small.save(file, "PNG", optimize=True)
    return file.getvalue()


def _scaled(points: Points) -> list[tuple[float, float]]:
    return [(x * SCALE, y * SCALE) for x, y in points]


def _dashes(points: Points) -> list[Points]:
    """A straight line from the first point to the last, cut up."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    count = max(1, int(length / (2.0 * DASH)))
    pieces: list[Points] = []
    for k in range(count):
        a, b = k / count, min(1.0, (k + 0.5) / count)
        pieces.append(((x0 + a * (x1 - x0), y0 + a * (y1 - y0)), (x0 + b * (x1 - x0), y0 + b * (y1 - y0))))
    return pieces


def _write(draw: ImageDraw.ImageDraw, shape: Text) -> None:
    size = shape.size
    text, font = _fitting(shape.text, shape.bold, size)
    while shape.most is not None and size > LEAST_SIZE and font.getlength(text) > shape.most * SCALE:
        size *= 0.94
        text, font = _fitting(shape.text, shape.bold, size)
    draw.text((shape.x * SCALE, shape.y * SCALE), text, fill=shape.colour, font=font, anchor=_ANCHORS[shape.anchor])


def _fitting(text: str, bold: bool, size: float) -> tuple[str, Font]:
    """The text as the font can write it: without a system font only plain letters, so accents are left off."""
    name = _font_name(bold)
    if name is not None:
        return text, ImageFont.truetype(name, round(size * SCALE))
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    font = ImageFont.load_default(round(size * SCALE))
    assert isinstance(font, ImageFont.FreeTypeFont)
    return plain, font


@cache
def _font_name(bold: bool) -> str | None:
    for name in _FONTS[bold]:
        try:
            ImageFont.truetype(name, 10)
        except OSError:
            continue
        return name
    return None
