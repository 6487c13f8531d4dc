"""Where it lies, in words: the direction somebody walks, how far, how sure; and what is not known."""

from dataclasses import replace
from typing import Any

import pytest

from station.flight_state import LinkStatus, Phase, Snapshot
from station.place_words import direction, whereabouts_text
from station.whereabouts import DriftWedge, FixQuality, Onward, Place, PlaceKind, Whereabouts

LANDED = Place(
    kind=PlaceKind.LANDED,
    t_ms=90_000.0,
    age_s=1.0,
    latitude_deg=37.4982148,
    longitude_deg=-41.2521640,
    sigma_m=3.5,
    satellites=9,
    quality=FixQuality.GOOD,
    fixes=25,
    altitude_m=0.2,
    range_m=350.2,
    bearing_deg=44.6,
    range_sigma_m=4.95,
    bearing_sigma_deg=0.8,
    onward=None,
)
SEEN = replace(LANDED, kind=PlaceKind.LAST_SEEN, t_ms=42_000.0, fixes=1, altitude_m=60.4)
WEDGE = DriftWedge(172.6, 857.0, 195.0, 255.0, 5.0, 45.0, 69.8, heard_down=True)


def told(liftoff_ms: float | None = 12_000.0, **whereabouts: Any) -> str:
    link = LinkStatus(0, 0, 0, (), 0, 0, 0.0, 0, 0, None, None, None, None)
    snapshot = Snapshot(
        phase=Phase.DOWN,
        liftoff_t_ms=liftoff_ms,
        estimate=None,
        highest_m=None,
        fastest_mps=None,
        pad_pressure_pa=None,
        air_temperature_c=None,
        isa_to_true=1.0,
        temperature_is_given=False,
        events=(),
        deployments=(),
        alerts=(),
        unit=None,
        channels=None,
        fix=None,
        link=link,
        whereabouts=Whereabouts(**whereabouts),
    )
    return "\n".join(whereabouts_text(snapshot))


@pytest.mark.parametrize(
    ("bearing_deg", "words"),
    [
        (0.0, "north (000°)"),
        (22.4, "north (022°)"),
        (22.6, "north-east (023°)"),
        (180.0, "south (180°)"),
        (315.0, "north-west (315°)"),
        (359.7, "north (000°)"),
    ],
)
def test_a_direction_in_words_and_degrees(bearing_deg: float, words: str) -> None:
    assert direction(bearing_deg) == words


def test_a_rocket_on_the_ground() -> None:
    """350.2 m are 1149 ft; twice 4.95 m are 9.9 m, 32 ft."""
    assert told(place=LANDED).splitlines() == [
        "Where it lies: 350 m (1,149 ft) from the pad, north-east (045°), give or take 10 m (32 ft); "
        "37.498215, -41.252164",
        "    By 25 satellite fixes after touchdown: good, 9 satellites.",
    ]


def test_a_rocket_last_seen_in_the_air_is_not_said_to_lie_there() -> None:
    onward = Onward(37.5, -41.25, 48.0, 24.3, 12.0, 398.0, 45.2)
    text = told(place=replace(SEEN, onward=onward))
    assert text.startswith("Last seen by satellite: 350 m")
    assert "30.0 s after liftoff, 60 m (198 ft) up: good, 9 satellites." in text
    assert "If it drifted on as it did then, it lies 48 m (157 ft) further: 398 m (1,306 ft) from the pad" in text
    assert "give or take 49 m (159 ft); 37.500000, -41.250000" in text


def test_without_the_pad_there_are_coordinates_and_no_range() -> None:
    unknown = dict.fromkeys(("range_m", "bearing_deg", "range_sigma_m", "bearing_sigma_deg"))
    text = told(place=replace(LANDED, **unknown))
    assert "the pad's place was not heard, so not how far; give or take 7 m (23 ft); 37.498215, -41.252164" in text
    onward = Onward(37.5, -41.25, 48.0, 24.3, 12.0, None, None)
    assert "further: give or take 49 m" in told(place=replace(SEEN, onward=onward, **unknown))


def test_next_to_the_pad_no_direction_is_told() -> None:
    text = told(place=replace(LANDED, range_m=6.0, bearing_sigma_deg=None))
    assert "6 m (20 ft) from the pad, too near to tell the direction, give or take 10 m" in text
    assert "north-east" not in text


def test_satellites_that_were_not_told() -> None:
    assert "fair, the number of satellites not told." in told(
        place=replace(LANDED, satellites=None, quality=FixQuality.FAIR)
    )


def test_without_fixes_it_is_a_wedge_to_look_in_and_no_place() -> None:
    text = told(drift=WEDGE)
    assert text.splitlines() == [
        "Where it lies is not known: no satellite fix was heard after liftoff.",
        "    By the plan's wind, 5 m/s (11 mph) from the north-east (045°), look between 173 m (566 ft) and "
        "857 m (2,812 ft) from the pad, towards the south-west (225°), from 195° to 255°.",
        "    That is where the wind would have taken it: where to look first, not where it is.",
    ]


def test_a_wedge_that_begins_at_the_pad_and_one_without_a_direction() -> None:
    assert "look within 857 m (2,812 ft) of the pad, towards" in told(drift=replace(WEDGE, least_m=0.0))
    text = told(drift=replace(WEDGE, from_deg=None, to_deg=None, wind_from_deg=None))
    assert "down the wind; the plan does not say where it blows from." in text


def test_a_descent_that_was_not_heard_to_its_end_is_said_to_be_reckoned() -> None:
    assert "the time that it took is reckoned" in told(drift=replace(WEDGE, heard_down=False))


def test_what_is_missing_is_named() -> None:
    assert told() == "Where it lies is not known: no satellite fix was heard after liftoff, and no plan says the wind."
    assert told(wind_is_planned=True).endswith("too little of the descent was heard to say where the wind took it.")


def test_of_a_rocket_that_never_left_the_pad_nothing_is_said() -> None:
    assert told(liftoff_ms=None) == ""
