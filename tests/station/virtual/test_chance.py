import numpy as np
import pytest

from station.virtual.chance import stream


def test_the_numbers_of_a_stream_never_change() -> None:
    # Written down once: a change here changes every virtual flight and every sample file.
    assert stream(1, "radio").random_sample(3).tolist() == [0.7050338923876299, 0.7423319425380487, 0.567153091694459]
    assert stream(1, "radio").standard_normal(3).tolist() == [
        1.0291528873788554,
        0.870752820083237,
        -1.9736569529502856,
    ]


def test_purposes_and_seeds_have_streams_of_their_own() -> None:
    draws = [stream(seed, purpose).random_sample() for seed in (0, 1, 2**40) for purpose in ("wind", "radio")]
    assert len(set(draws)) == len(draws)


def test_streams_of_neighbouring_seeds_do_not_follow_each_other() -> None:
    one, two = (stream(seed, "wind").standard_normal(4000) for seed in (7, 8))
    assert abs(np.corrcoef(one, two)[0, 1]) < 0.05


def test_a_negative_seed_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        stream(-1, "wind")
