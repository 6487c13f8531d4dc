"""Where it is, for programs: keys, units and null for what is not known."""

import json

from station.place_json import whereabouts_json
from station.whereabouts import DriftWedge, FixQuality, Onward, PadPlace, Place, PlaceKind, Whereabouts

PLACE = Place(
    PlaceKind.LAST_SEEN, 42_000.04, 12.34, 37.49821481, -41.25216409, 3.5, None, FixQuality.FAIR, 1, None,
    350.26, 44.64, 4.95, None, Onward(37.5, -41.25, 48.02, 24.26, 12.04, None, None),
)  # fmt: skip


def document(found: Whereabouts, liftoff_ms: float | None = 12_000.0) -> dict:
    return json.loads(json.dumps(whereabouts_json(found, liftoff_ms), allow_nan=False))


def test_nothing_known_is_three_nulls() -> None:
    assert document(Whereabouts()) == {"pad_place": None, "place": None, "drift": None, "fixes_refused": {}}


def test_fixes_that_were_not_believed_are_counted_by_reason() -> None:
    found = document(Whereabouts(refused=(("no position", 8), ("jump", 1))))
    assert found["fixes_refused"] == {"no position": 8, "jump": 1}


def test_a_place_with_all_that_goes_with_it() -> None:
    found = document(Whereabouts(pad=PadPlace(37.50001914, -41.25003519, 3.62, 15), place=PLACE))
    assert found["pad_place"] == {"latitude_deg": 37.5000191, "longitude_deg": -41.2500352, "sigma_m": 3.6, "fixes": 15}
    assert found["place"] == {
        "kind": "last_seen",
        "t_ms": 42_000.0,
        "t_s": 30.0,
        "age_s": 12.3,
        "latitude_deg": 37.4982148,
        "longitude_deg": -41.2521641,
        "sigma_m": 3.5,
        "satellites": None,
        "quality": "fair",
        "fixes": 1,
        "altitude_m": None,
        "range_m": 350.3,
        "bearing_deg": 44.6,
        "range_sigma_m": 5.0,
        "bearing_sigma_deg": None,
        "onward": {
            "latitude_deg": 37.5,
            "longitude_deg": -41.25,
            "further_m": 48.0,
            "sigma_m": 24.3,
            "time_s": 12.0,
            "range_m": None,
            "bearing_deg": None,
        },
    }


def test_a_wedge_of_the_wind() -> None:
    wedge = DriftWedge(172.61, 857.04, 195.0, 255.0, 5.0, 45.0, 69.77, heard_down=False)
    assert document(Whereabouts(drift=wedge))["drift"] == {
        "least_m": 172.6,
        "most_m": 857.0,
        "from_deg": 195.0,
        "to_deg": 255.0,
        "wind_mps": 5.0,
        "wind_from_deg": 45.0,
        "time_s": 69.8,
        "heard_down": False,
    }
