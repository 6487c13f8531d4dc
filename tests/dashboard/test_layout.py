import json

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
