"""Against numpy's own."""

import numpy as np
import pytest

from station.median import median_of


@pytest.mark.parametrize("count", [1, 2, 3, 10, 501, 2000])
def test_it_is_numpys_to_the_last_bit(count: int) -> None:
    values = np.random.default_rng(count).normal(3.0, 40.0, count)
    assert median_of(values) == float(np.median(values))
