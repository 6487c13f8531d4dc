import json

from dashboard.place_state import PLACE_PARTS, place_parts
from dashboard.state_json import state_json
from station.whereabouts import FixQuality, Place, PlaceKind, Whereabouts

PLACE = Place(
    PlaceKind.LANDED, 11_000.0, 1.0, 37.5, -41.25, 3.5, 9, FixQuality.GOOD, 8, 0.0, 40.0, 12.0, 4.9, 7.0, None
)  # fmt: skip


def test_nothing_known_is_null_and_there():
    assert place_parts(Whereabouts(), None) == {"pad_place": None, "place": None, "drift": None, "fixes_refused": {}}
    assert set(place_parts(Whereabouts(), None)) == set(PLACE_PARTS)


def test_the_way_over_the_ground_comes_with_the_place_in_decimetres():
    found = Whereabouts(place=PLACE, points=((0.0, 0.04), (39.123, 8.29)))
    parts = json.loads(json.dumps(place_parts(found, 1000.0)))
    assert parts["place"]["points"] == [[0.0, 0.0], [39.1, 8.3]]
    assert parts["place"]["t_s"] == 10.0


def test_the_live_state_carries_it(make):
    state = state_json("s", 0, make.snapshot(whereabouts=Whereabouts(place=PLACE)), make.status())
    assert state["place"]["range_m"] == 40.0
    assert state["pad_place"] is None
