"""Feet beside the metres of a sentence: one foot is 0.3048 m, exact."""

import pytest

from station.sentences_in_feet import with_feet


@pytest.mark.parametrize(
    ("sentence", "said"),
    [
        ("held at 6.7 m/s, as a main does", "held at 6.7 m/s (22 ft/s), as a main does"),
        ("That was 412 m up.", "That was 412 m (1352 ft) up."),
        ("falling at 39 m/s ± 4 m/s.", "falling at 39 ± 4 m/s (128 ± 13 ft/s)."),
        ("423 m ± 14 m", "423 ± 14 m (1388 ± 46 ft)"),
        ("the usual 15 to 30 m/s", "the usual 15 to 30 m/s (49 to 98 ft/s)"),
        ("a difference of -51 m", "a difference of -51 m (-167 ft)"),
        ("a difference of +6 m/s", "a difference of +6 m/s (+20 ft/s)"),
        ("under a main 7 m/s (23 ft/s)", "under a main 7 m/s (23 ft/s)"),
        ("39 ± 4 m/s (128 ± 13 ft/s)", "39 ± 4 m/s (128 ± 13 ft/s)"),
        ("5-7 m", "5-7 m (23 ft)"),
        ("0.95 m² and 9.8 m/s^2 and 700 mm and 12 min", "0.95 m² and 9.8 m/s^2 and 700 mm and 12 min"),
        ("7.8 s ± 0.1 s", "7.8 s ± 0.1 s"),
    ],
)
def test_heights_and_speeds_get_feet_and_nothing_else_does(sentence: str, said: str) -> None:
    assert with_feet(sentence) == said
