"""Quantities with units; factors checked against published ones."""

import pytest

from station.quantity import LENGTH, MASS, SPEED, TEMPERATURE, Dimension, QuantityError, parse_quantity


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        # NIST SP 811 (2008), appendix B.8: foot 3.048 E-01 m, mile 1.609 344 E+03 m, both exact.
        ("1 ft", LENGTH, 0.3048),
        ("1 mi", LENGTH, 1609.344),
        ("500 ft", LENGTH, 152.4),
        ("152 m", LENGTH, 152.0),
        ("1.5 km", LENGTH, 1500.0),
        # The same: mile per hour 4.4704 E-01 m/s, kilometre per hour 2.777 778 E-01 m/s.
        ("1 mph", SPEED, 0.44704),
        ("36 km/h", SPEED, 10.0),
        ("60 ft/s", SPEED, 18.288),
        ("18.5 m/s", SPEED, 18.5),
        # The same, section B.8: t/degC = (t/degF - 32)/1.8; t/degC = T/K - 273.15.
        ("77 degF", TEMPERATURE, 25.0),
        ("32 degF", TEMPERATURE, 0.0),
        ("-40 degF", TEMPERATURE, -40.0),
        ("25 degC", TEMPERATURE, 25.0),
        ("273.15 K", TEMPERATURE, 0.0),
    ],
)
def test_known_units_become_si(text: str, dimension: Dimension, expected: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("text", ["500ft", " 500  ft ", "+500 ft", "5e2 ft", "500. ft"])
def test_spacing_and_number_style_do_not_matter(text: str) -> None:
    assert parse_quantity(text, LENGTH) == pytest.approx(152.4)


def test_the_degree_sign_is_read() -> None:
    assert parse_quantity("25 °C", TEMPERATURE) == 25.0


def test_a_missing_unit_is_refused_with_an_example() -> None:
    with pytest.raises(QuantityError, match='"500" has no unit: write for example "500 ft" or "152 m"'):
        parse_quantity("500", LENGTH)


@pytest.mark.parametrize("text", ["500 furlong", "500 ft/s", "500 M", "500 f t"])
def test_a_unit_of_another_kind_is_refused_and_the_fitting_ones_are_named(text: str) -> None:
    with pytest.raises(QuantityError, match="not a unit of length known here: use one of m, km, cm, mm, ft, in, mi"):
        parse_quantity(text, LENGTH)


@pytest.mark.parametrize("text", ["", "ft", "five ft", "nan ft", "inf m", "1,5 km", "--5 m", "٥ m"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(text, LENGTH)


@pytest.mark.parametrize(
    ("text", "plain"),
    [("1,5 kg", "1.5 kg"), ("1,500 kg", "1500 kg"), ("0,25kg", "0.25kg"), ("12,345,678 g", "12345678 g")],
)
def test_a_comma_in_a_number_is_named(text: str, plain: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, MASS)
    assert f'"{text}" has a comma in its number: write "{plain}", with a point where decimals begin' in str(
        caught.value
    )


def test_a_number_beyond_floating_point_is_refused() -> None:
    with pytest.raises(QuantityError, match="too large"):
        parse_quantity("1e999 m", LENGTH)
