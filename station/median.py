"""The median of an array. `numpy.median` is the same, but loads numpy's masked arrays: a fiftieth of a check."""

import numpy as np
from numpy.typing import NDArray


def median_of(values: NDArray[np.float64]) -> float:
    """The middle of the sorted values (n,), n >= 1, or the mean of the two in the middle."""
    low, high = (len(values) - 1) // 2, len(values) // 2
    middle = np.partition(values, (low, high))
    return 0.5 * float(middle[low] + middle[high])
