"""The shared page as text: whole in itself, readable without a script, and nothing in it but its own script can run."""

import json
import re
from base64 import b64decode, b64encode
from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from html.parser import HTMLParser

import pytest

from station.renditions.page_parts import page_script, page_style
from station.renditions.share_page import PageParts, share_page
from station.renditions.units import System
from station.whole_flight import WholeFlight

PARTS = PageParts(page_script(), page_style(), b"\x89PNG not really")
DAY = datetime(2031, 5, 4)
HOSTILE = "</title><script>alert(1)</script><img src=x onerror=alert(2)> \"'&"


class Reader(HTMLParser):
    """What a browser finds in the page: tags with their attributes, and text by the tag it stands in."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        self.texts.setdefault(self._open[-1] if self._open else "", []).append(data)

    def meta(self, name: str) -> str | None:
        for tag, attributes in self.tags:
            if tag == "meta" and name in (
                attributes.get("name"),
                attributes.get("property"),
                attributes.get("http-equiv"),
            ):
                return attributes.get("content")
        return None


@pytest.fixture
def page(nominal: WholeFlight) -> str:
    return share_page(nominal, PARTS, day=DAY)


def test_an_inbox_preview_finds_title_description_and_a_still(page: str, nominal: WholeFlight) -> None:
    reader = Reader(page)
    assert reader.texts["title"] == [f"{nominal.name}: a rocket flight"]
    for name in ("description", "og:description"):
        content = reader.meta(name)
        assert content is not None
        assert content.startswith(f"{nominal.name} flew up to 426 m (1,398 ft), reached ")
        assert "Drogue: held the fall. Main: held the fall." in content
    assert reader.meta("og:title") == f"{nominal.name}: a rocket flight"
    (still,) = [attributes for tag, attributes in reader.tags if tag == "img"]
    prefix, _, data = (still["src"] or "").partition(",")
    assert prefix == "data:image/png;base64"
    assert b64decode(data) == PARTS.still_png
    assert still["alt"] == reader.meta("description")
    assert reader.meta("og:type") == "article"
    assert reader.meta("og:image") is None  # it must be an address, and a mailed file has none


def test_without_a_script_it_still_tells_the_flight(page: str) -> None:
    text = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL)
    for told in (
        "Both parachutes held the fall",
        "What happened",
        "Touchdown.",
        "In figures",
        "Cautions",
        "4 May 2031",
    ):
        assert told in text


def test_nothing_in_it_asks_anybody_for_anything(page: str) -> None:
    for tag, attributes in Reader(page).tags:
        for name in ("src", "href", "srcset", "action", "poster", "data"):
            assert (attributes.get(name) or "data:").startswith("data:"), (tag, attributes)
    assert not re.findall(r"https?://|//\w|@import|url\(", re.sub(r"/\*.*?\*/|// .*", "", page, flags=re.DOTALL))
    for call in ("fetch(", "XMLHttpRequest", "WebSocket", "EventSource", "sendBeacon", "import(", "localStorage"):
        assert call not in page


def test_its_policy_lets_only_its_own_script_and_style_work(page: str) -> None:
    """Content Security Policy, level 3: a hash is that of the element's text."""
    policy = Reader(page).meta("Content-Security-Policy")
    assert policy is not None
    (script,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    (style,) = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    for name, text in (("script-src", script), ("style-src", style)):
        assert f"{name} 'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" in policy
    assert policy.startswith("default-src 'none';")


def test_a_rocket_s_name_is_text_wherever_it_stands(flight_of: Callable[..., WholeFlight]) -> None:
    page = share_page(flight_of("nominal-dual.flight", HOSTILE), PARTS, day=DAY)
    reader = Reader(page)
    assert [attributes for tag, attributes in reader.tags if tag == "script"] == [
        {"type": "application/json", "id": "flight"},
        {},
    ]
    assert [tag for tag, _ in reader.tags].count("img") == 1
    assert reader.texts["h1"] == [HOSTILE]
    assert not [name for _, attributes in reader.tags for name in attributes if name.startswith("on")]


def test_its_figures_are_json_that_cannot_end_the_script_element(page: str) -> None:
    (text,) = re.findall(r'<script type="application/json" id="flight">(.*?)</script>', page, re.DOTALL)
    assert not set("<>&") & set(text)
    assert json.loads(text)["spans"][0]["words"] == "On the rail"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("main-silent.flight", "may still be live"),
        ("main-stays-in.flight", "No effect seen"),
        ("behind-the-trees.flight", "Not observed"),
    ],
)
def test_cautions_and_reasons_are_those_of_the_check(
    flight_of: Callable[..., WholeFlight], name: str, words: str
) -> None:
    flight = flight_of(name)
    page = share_page(flight, PARTS, day=DAY)
    assert words in page
    assert "Both parachutes held the fall" not in page
    text = " ".join(part for parts in Reader(page).texts.values() for part in parts)
    for said in [
        *(alert.text for alert in flight.report.alerts),
        *(r for d in flight.report.deployments for r in d.reasons),
    ]:
        assert said in text
    assert "local law decide" in text


def test_units_are_the_reader_s_choice_unless_the_maker_chose(nominal: WholeFlight) -> None:
    assert '<html lang="en" data-units="metres" data-units-by="reader">' in share_page(nominal, PARTS)
    assert '<html lang="en" data-units="feet" data-units-by="maker">' in share_page(nominal, PARTS, units=System.FEET)


def test_no_file_name_goes_along(nominal: WholeFlight) -> None:
    assert nominal.report.file not in share_page(nominal, PARTS, day=DAY)


def test_it_is_small(page: str) -> None:
    assert len(page) < 300_000
    assert len(PARTS.script) < 100_000
