"""SI values in words, in both unit systems: "152.4 m (500 ft)". Pure."""

from collections.abc import Callable

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
    per_unit,
)


def height(metres: float) -> str:
    """A height or distance."""
    return f"{_plain(metres, 1 if abs(metres) < 1000.0 else 0)} m ({_plain(metres / per_unit(LENGTH, 'ft'), 0)} ft)"


def width(metres: float) -> str:
    """A diameter."""
    return f"{_plain(metres * 1000.0, 0)} mm ({_plain(metres / per_unit(LENGTH, 'in'), 1)} in)"


def rate(mps: float) -> str:
    """A rate of descent, or a speed near the ground."""
    return f"{_plain(mps, 1)} m/s ({_plain(mps / per_unit(SPEED, 'ft/s'), 0)} ft/s)"


def speed(mps: float) -> str:
    """A speed of wind, or on the way up."""
    return f"{_plain(mps, 1 if abs(mps) < 100.0 else 0)} m/s ({_plain(mps / per_unit(SPEED, 'mph'), 0)} mph)"


def mass(kg: float) -> str:
    """A mass: small ones in grams and ounces."""
    if kg < 0.5:
        return f"{_plain(kg * 1000.0, 1 if kg < 0.05 else 0)} g ({_plain(kg / per_unit(MASS, 'oz'), 2)} oz)"
    return f"{_plain(kg, 2)} kg ({_plain(kg / per_unit(MASS, 'lb'), 1)} lb)"


def impulse(newton_seconds: float) -> str:
    """A total impulse."""
    return f"{_plain(newton_seconds, 1)} N s ({_plain(newton_seconds / per_unit(IMPULSE, 'lbf s'), 1)} lbf s)"


def force(newtons: float) -> str:
    """A thrust."""
    return f"{_plain(newtons, 1)} N ({_plain(newtons / per_unit(FORCE, 'lbf'), 1)} lbf)"


def temperature(celsius: float) -> str:
    """An air temperature."""
    return f"{_plain(celsius, 1)} degC ({_plain(celsius * 1.8 + 32.0, 0)} degF)"


def energy(joules: float) -> str:
    """A kinetic energy."""
    return f"{_plain(joules, 1)} J ({_plain(joules / (per_unit(LENGTH, 'ft') * per_unit(FORCE, 'lbf')), 0)} ft lbf)"


def duration(seconds: float) -> str:
    """A time."""
    return f"{_plain(seconds, 2 if seconds < 100.0 else 0)} s"


def direction(degrees: float) -> str:
    """Where a wind comes from."""
    return f"{_plain(degrees, 0)} deg (from the {compass_point(degrees)})"


def compass_point(degrees: float) -> str:
    """The nearest of the eight points of the compass."""
    points = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return points[round(degrees / 45.0) % 8]


_WORDS: tuple[tuple[Dimension, Callable[[float], str]], ...] = (
    (LENGTH, height),
    (WIDTH, width),
    (SPEED, rate),
    (WIND, speed),
    (FLIGHT_SPEED, speed),
    (MASS, mass),
    (IMPULSE, impulse),
    (FORCE, force),
    (TEMPERATURE, temperature),
    (DURATION, duration),
    (DIRECTION, direction),
)


def in_both(value: float, dimension: Dimension) -> str:
    """A value of any kind, SI, in both systems."""
    return next(words for kind, words in _WORDS if kind is dimension)(value)


def _plain(value: float, digits: int) -> str:
    """Thousands apart, no needless zeros."""
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
