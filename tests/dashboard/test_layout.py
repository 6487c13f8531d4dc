import hashlib
import json
from importlib.resources import files

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboard.layout import page_layout


def ids(**who: bool) -> list[str]:
    layout = page_layout(**{"operator": True, "playback": False, "marks": True} | who)
    return [component.id for component in layout._traverse() if getattr(component, "id", None)]


def test_no_two_elements_have_one_id():
    assert len(ids()) == len(set(ids()))


def test_only_the_operator_can_mark_and_only_live():
    assert "mark-button" in ids()
    for who in ({"operator": False}, {"marks": False}, {"playback": True}):
        assert "mark-button" not in ids(**who), who


@pytest.mark.parametrize("operator", [True, False])
def test_page_says_who_is_looking(operator):
    text = json.dumps(page_layout(operator=operator, playback=True, marks=False), cls=PlotlyJSONEncoder)
    assert f'"data-operator": "{"yes" if operator else "no"}"' in text
    assert '"data-playback": "yes"' in text


def test_the_page_says_who_decides():
    text = json.dumps(page_layout(operator=True, playback=False, marks=True), cls=PlotlyJSONEncoder)
    assert "the range safety officer decides" in text
    assert "may still be live: keep clear" in text


def test_plotly_is_as_its_makers_published_it_with_its_licence():
    """By the checksum of version 4.1.1 of plotly.js-basic-dist-min in the npm registry."""
    assets = files("dashboard") / "assets"
    published = "99784e3abfb07b142a15e521a439e6d9addceadb3f79553fd24c72774f0649ba"
    assert hashlib.sha256((assets / "plotly-basic.min.js").read_bytes()).hexdigest() == published
    assert "MIT License" in (assets / "plotly-basic.LICENSE.txt").read_text(encoding="utf-8")
