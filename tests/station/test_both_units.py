"""SI values in words, in both unit systems."""

import pytest

from station import both_units
from station.quantity import (
    DIRECTION,
    DURATION,
    FLIGHT_SPEED,
    FORCE,
    IMPULSE,
    LENGTH,
    MASS,
    SPEED,
    TEMPERATURE,
    WIDTH,
    WIND,
    Dimension,
)  # fmt: skip


@pytest.mark.parametrize(
    ("value", "dimension", "words"),
    [
        # Exact: foot 0.3048 m, inch 0.0254 m, pound 0.45359237 kg, mile an hour 0.44704 m/s.
        (152.4, LENGTH, "152.4 m (500 ft)"),
        (2743.2, LENGTH, "2,743 m (9,000 ft)"),
        (0.06604, WIDTH, "66 mm (2.6 in)"),
        (18.288, SPEED, "18.3 m/s (60 ft/s)"),
        (4.4704, WIND, "4.5 m/s (10 mph)"),
        (111.76, FLIGHT_SPEED, "112 m/s (250 mph)"),
        (2.26796185, MASS, "2.27 kg (5 lb)"),
        (0.09, MASS, "90 g (3.17 oz)"),
        (0.0126, MASS, "12.6 g (0.44 oz)"),
        # A pound-force is 4.4482216152605 N, exactly.
        (4.4482216152605, FORCE, "4.4 N (1 lbf)"),
        (320.0, IMPULSE, "320 N s (71.9 lbf s)"),  # so in NFPA 1122 (2018) 4.5
        (25.0, TEMPERATURE, "25 degC (77 degF)"),
        (1.75, DURATION, "1.75 s"),
        (0.0, WIND, "0 m/s (0 mph)"),
        (270.0, DIRECTION, "270 deg (from the west)"),
        (350.0, DIRECTION, "350 deg (from the north)"),
    ],
)  # fmt: skip
def test_a_value_in_both_systems(value: float, dimension: Dimension, words: str) -> None:
    assert both_units.in_both(value, dimension) == words


def test_energy_in_both_systems() -> None:
    # The worked landing: 33.56 J is 24.75 ft lbf.
    assert both_units.energy(33.56) == "33.6 J (25 ft lbf)"
