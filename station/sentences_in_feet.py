"""Adds feet to the metres of a sentence: "6.7 m/s (22 ft/s)", "39 ± 4 m/s (128 ± 13 ft/s)". Pure.

The foot is 0.3048 m, exact (international yard and pound agreement of 1959).
"""

import re

FOOT_M = 0.3048
_NUMBER = r"((?:(?<![\w.])[+-])?\d+(?:\.\d+)?)"
# A height or a speed, with its error bar in the same unit if it has one; no area, no acceleration, and none that has
# its feet already.
_LENGTH = re.compile(rf"(?:{_NUMBER} to )?{_NUMBER} (m(?:/s)?)(?: ± {_NUMBER} \3)?+(?![\w/²^])(?! \([^()]* ft)")


def with_feet(sentence: str) -> str:
    """The sentence with every height and speed in feet too."""
    return _LENGTH.sub(_both, sentence)


def _both(found: re.Match[str]) -> str:
    first, value, unit, bar = found.groups()
    foot_unit = "ft" if unit == "m" else "ft/s"
    if first is not None:
        return f"{found[0]} ({_feet(first)} to {_feet(value)} {foot_unit})"
    if bar is None:
        return f"{value} {unit} ({_feet(value)} {foot_unit})"
    return f"{value} ± {bar} {unit} ({_feet(value)} ± {max(1.0, float(bar) / FOOT_M):.0f} {foot_unit})"


def _feet(metres: str) -> str:
    return f"{float(metres) / FOOT_M:{'+' if metres[0] in '+-' else ''}.0f}"
