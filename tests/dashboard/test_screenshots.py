"""The pictures that README shows: there, small, and none left over."""

import re
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
MOST_BYTES = 60_000


def test_readme_shows_every_picture_and_each_is_a_small_png() -> None:
    pictures = sorted((CHECKOUT / "dashboard" / "screenshots").iterdir())
    shown = re.findall(r"dashboard/screenshots/([\w-]+\.png)", (CHECKOUT / "README.md").read_text(encoding="utf-8"))
    assert sorted(shown) == [path.name for path in pictures]
    for path in pictures:
        data = path.read_bytes()
        # The signature of PNG, W3C PNG specification, section 5.2.
        assert data.startswith(b"\x89PNG\r\n\x1a\n")
        assert len(data) < MOST_BYTES, path.name
