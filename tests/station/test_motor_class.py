"""Impulse classes and certification levels, against the published tables."""

import pytest

from station.motor_class import LETTERS, certification_level, class_limits_ns, impulse_class

# Motor classification of NFPA 1125 as reprinted: the lowest and the highest impulse of each letter, N s.
CLASSES = {
    "A": (1.26, 2.50),
    "B": (2.51, 5.00),
    "C": (5.01, 10.0),
    "D": (10.01, 20.0),
    "E": (20.01, 40.0),
    "F": (40.01, 80.0),
    "G": (80.01, 160.0),
    "H": (160.01, 320.0),
    "I": (320.01, 640.0),
    "J": (640.01, 1280.0),
    "K": (1280.01, 2560.0),
    "L": (2560.01, 5120.0),
    "M": (5120.01, 10240.0),
    "N": (10240.01, 20480.0),
    "O": (20480.01, 40960.0),
}


@pytest.mark.parametrize(("letter", "limits"), CLASSES.items())
def test_both_ends_of_a_class_belong_to_it(letter: str, limits: tuple[float, float]) -> None:
    assert [impulse_class(limit) for limit in limits] == [letter, letter]
    assert class_limits_ns(letter)[1] == limits[1]


def test_the_letters_follow_each_other_without_a_gap() -> None:
    assert "".join(CLASSES) == LETTERS
    limits = [class_limits_ns(letter) for letter in LETTERS]
    assert [low for low, _ in limits] == [0.0, *(high for _, high in limits[:-1])]


def test_smaller_than_the_table_is_still_an_a_and_beyond_it_is_no_letter() -> None:
    assert impulse_class(0.6) == "A"
    assert impulse_class(40960.01) is None


def test_levels_as_the_certification_procedures_say() -> None:
    # National Association of Rocketry, high-power certification procedures: 1 for H and I, 2 for J to L, 3 for M to O.
    levels = {letter: certification_level(letter) for letter in LETTERS}
    assert {letter for letter, level in levels.items() if level == 0} == set("ABCDEFG")
    assert {letter for letter, level in levels.items() if level == 1} == set("HI")
    assert {letter for letter, level in levels.items() if level == 2} == set("JKL")
    assert {letter for letter, level in levels.items() if level == 3} == set("MNO")
