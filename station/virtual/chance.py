"""Seeded chance: the same seed and purpose give the same numbers on every machine and library version."""

from zlib import crc32

import numpy as np


def stream(seed: int, purpose: str) -> np.random.RandomState:
    """A stream of random numbers for one purpose of one flight.

    `RandomState` and not the newer `Generator`: NumPy promises (NEP 19) that its stream never changes, so a
    sample file made years ago can be made again byte for byte. One stream a purpose, so that drawing one
    number more in the radio does not change the wind.
    """
    if seed < 0:
        raise ValueError(f"a seed is 0 or more, not {seed}")
    words = [seed & 0xFFFFFFFF, (seed >> 32) & 0xFFFFFFFF, crc32(purpose.encode())]
    return np.random.RandomState(words)
