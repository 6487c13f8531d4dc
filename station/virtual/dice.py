"""Draws of many kinds from one stream of chance."""

from math import exp, log
from typing import TypeVar

import numpy as np

T = TypeVar("T")


class Dice:
    """Draws numbers from one stream by name of their distribution."""

    def __init__(self, chance: np.random.RandomState) -> None:
        self._chance = chance

    def between(self, low: float, high: float) -> float:
        """Uniform."""
        return low + (high - low) * float(self._chance.random_sample())

    def spread(self, low: float, high: float) -> float:
        """Uniform in the logarithm."""
        return exp(self.between(log(low), log(high)))

    def happens(self, share: float) -> bool:
        """True with this probability."""
        return float(self._chance.random_sample()) < share

    def one_of(self, *choices: T) -> T:
        """One of the choices, all as likely."""
        return choices[int(self._chance.randint(0, len(choices)))]
