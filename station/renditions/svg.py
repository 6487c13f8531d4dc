"""A drawing as SVG text (https://www.w3.org/TR/SVG11/), drawn with the reader's own fonts. Pure."""

from xml.sax.saxutils import escape, quoteattr

from station.renditions.drawing import Area, Drawing, Line, Points, Text

FONTS = "system-ui, 'Segoe UI', 'Noto Sans', 'Liberation Sans', Arial, sans-serif"
# About how wide a character is, of its size; a longer text is squeezed to what room it has.
CHARACTER = 0.6


def svg_text(drawing: Drawing) -> str:
    """The whole SVG document."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{drawing.width}" height="{drawing.height}" '
            f'viewBox="0 0 {drawing.width} {drawing.height}" role="img" font-family="{FONTS}">',
            f"<title>{_text(drawing.title)}</title>",
            f"<desc>{_text(drawing.description)}</desc>",
            f'<rect width="{drawing.width}" height="{drawing.height}" fill="{drawing.paper}"/>',
            *map(_element, drawing.shapes),
            "</svg>",
            "",
        ]
    )


def _element(shape: Line | Area | Text) -> str:
    match shape:
        case Line():
            dashes = ' stroke-dasharray="8 8"' if shape.dashed else ""
            return (
                f'<polyline points="{_points(shape.points)}" fill="none" stroke="{shape.colour}" '
                f'stroke-width="{shape.width:g}" stroke-linejoin="round" stroke-linecap="round"{dashes}/>'
            )
        case Area():
            return f'<polygon points="{_points(shape.points)}" fill="{shape.colour}"/>'
        case Text():
            weight = ' font-weight="700"' if shape.bold else ""
            squeezed = ""
            if shape.most is not None and CHARACTER * shape.size * len(shape.text) > shape.most:
                squeezed = f' textLength="{shape.most:g}" lengthAdjust="spacingAndGlyphs"'
            return (
                f'<text x="{shape.x:g}" y="{shape.y:g}" font-size="{shape.size:g}" fill="{shape.colour}" '
                f"text-anchor={quoteattr(shape.anchor.value)}{weight}{squeezed}>{_text(shape.text)}</text>"
            )


def _points(points: Points) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)


def _text(text: str) -> str:
    """Escaped, and without the control characters that XML does not allow."""
    return escape("".join(character for character in text if character.isprintable()))
