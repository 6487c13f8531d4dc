"""Lists of numbers, one a sample, to the arrays that fits after landing look at."""

from array import array
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def column(values: Iterable[float]) -> Array:
    """The numbers as an array (n,).

    By way of Python's own array of doubles: numpy looks at every number's kind first, and takes six times as long.
    """
    numbers = array("d", values)
    return np.frombuffer(numbers) if numbers else np.empty(0)
