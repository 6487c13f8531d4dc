import numpy as np

from station.columns import column


def test_numbers_become_an_array_of_doubles_bit_for_bit():
    numbers = [0.1, -3.0, 1e300, float("nan"), 7.0]
    made = column(numbers)
    assert made.dtype == np.float64
    assert made.tobytes() == np.array(numbers).tobytes()


def test_whole_numbers_and_any_iterable_will_do():
    assert column(n for n in range(4)).tolist() == [0.0, 1.0, 2.0, 3.0]


def test_of_nothing_comes_an_empty_array():
    assert column([]).shape == (0,)


def test_the_array_may_be_written_to():
    made = column([1.0, 2.0])
    made[0] = 5.0
    assert made.tolist() == [5.0, 2.0]
