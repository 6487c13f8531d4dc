"""Figures in the reader's units, against the exact definitions of foot and mile (1959 agreement)."""

import pytest

from station.renditions.units import FEET, METRES


def test_a_height_is_whole_and_its_thousands_stand_apart() -> None:
    assert METRES.height(1609.344) == "1,609 m"
    assert FEET.height(1609.344) == "5,280 ft"  # a mile is 5,280 feet


def test_a_speed_has_a_decimal_only_where_it_tells_two_parachutes_apart() -> None:
    assert METRES.speed(5.25) == "5.2 m/s"
    assert METRES.speed(99.6) == "100 m/s"
    assert FEET.speed(44.704) == "100 mph"  # a mile an hour is 0.44704 m/s, exactly
    assert FEET.speed(4.4704) == "10.0 mph"


def test_an_acceleration_in_feet_s_company_is_told_in_g() -> None:
    assert FEET.acceleration(9.80665) == "1.0 g"  # standard gravity, CGPM 1901
    assert METRES.acceleration(98.0665) == "98 m/s²"


def test_no_figure_is_minus_zero() -> None:
    assert METRES.height(-0.2) == "0 m"
    assert METRES.speed(-0.01) == "0.0 m/s"


@pytest.mark.parametrize(
    ("sentence", "in_feet"),
    [
        ("The descent was held at 18.3 m/s, as a drogue does.", "The descent was held at 41 mph, as a drogue does."),
        ("slowed from 18.0 only to 11.2 m/s; at most 9.5 m/s", "slowed from 40 only to 25 mph; at most 21 mph"),
        ("from 4.0 to 5.0 m/s", "from 8.9 to 11.2 mph"),
        ("That was 300 m up, well above 152 m.", "That was 984 ft up, well above 499 ft."),
        ("From 10.3 s on, 9.8 m/s² and 12 mm stay.", "From 10.3 s on, 9.8 m/s² and 12 mm stay."),
    ],
)
def test_the_station_s_own_sentences_change_their_units(sentence: str, in_feet: str) -> None:
    assert FEET.sentence(sentence) == in_feet
    assert METRES.sentence(sentence) == sentence
