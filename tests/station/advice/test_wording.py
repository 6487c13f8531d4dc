"""Figures with their error bars in sentences."""

import pytest

from station.advice.wording import listed, with_bar


@pytest.mark.parametrize(
    ("value", "sigma", "unit", "said"),
    [
        (7.8187, 0.063, "s", "7.8 s ± 0.1 s"),
        (11.0072, 0.0424, "s", "11.01 s ± 0.08 s"),
        (39.2, 2.1, "m/s", "39 m/s ± 4 m/s"),
        (423.4, 6.9, "m", "423 m ± 14 m"),
        (0.6203, 0.021, "", "0.62 ± 0.04"),
        (26.4, 1.4, "", "26 ± 3"),
        (5.0, 0.0, "m", "5.000 m ± 0.001 m"),
        (0.96, 0.48, "s", "1 s ± 1 s"),
        (9.99, 0.05, "s", "10.0 s ± 0.1 s"),
    ],
)
def test_the_bar_is_two_standard_deviations_with_one_figure_that_means_something(
    value: float, sigma: float, unit: str, said: str
) -> None:
    assert with_bar(value, sigma, unit) == said


def test_words_are_listed() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"]) == "a, b and c"
