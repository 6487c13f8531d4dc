"""Numbers on the command line: within bounds, and real ones."""

import math
from typing import Any

import click


class FiniteRange(click.FloatRange):
    """As click's own range, which lets "nan" through."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; fails for one out of bounds or not finite."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a number to work with", param, ctx)
        return number
