"""Tukey's biweight: how much a residual counts, so that outliers do not move a fit (common practice).

A residual u standard deviations off counts (1 - (u/4.685)^2)^2, and nothing beyond 4.685: for Gaussian residuals that
costs a twentieth of the precision (Huber and Ronchetti, Robust Statistics, from memory). How far they spread is told by
their median, which outliers do not move either.
"""

import numpy as np

from station.columns import Array
from station.median import median_of

TUKEY = 4.685
# The median of the size of Gaussian residuals is a standard deviation over this.
SIGMAS_OF_MEDIAN = 1.4826


def spread_of(residual: Array, *, least: float) -> float:
    """The standard deviation of residuals (any unit) by their median size; at least `least`."""
    return max(least, SIGMAS_OF_MEDIAN * median_of(np.abs(residual)))


def root_weight(residual: Array, spread: float) -> Array:
    """The root of each residual's weight, 0 to 1; `spread` in the unit of the residuals."""
    return np.asarray(np.clip(1.0 - (residual / (TUKEY * spread)) ** 2, 0.0, None))
