"""README's pictures are kept small: PNG of few colours."""

import io
from pathlib import Path

from PIL import Image

README_FOLDER = Path(__file__).resolve().parents[2] / "dashboard" / "screenshots"
MOST_BYTES = 60_000
COLOURS = 64


def save_small(png: bytes, path: Path, widest_px: int | None = None) -> None:
    """Write a screenshot in few colours, scaled down to a width if it is wider."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    if widest_px is not None and picture.width > widest_px:
        picture = picture.resize(
            (widest_px, round(picture.height * widest_px / picture.width)), Image.Resampling.LANCZOS
        )
    # By octree: the median cut loses the green of small ticks.
    few = picture.quantize(COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.name}: {size:,} bytes{' TOO LARGE' if size > MOST_BYTES else ''}")
