"""Round numbers for an axis. Pure."""

from math import ceil, floor, log10


def ticks(low: float, high: float, about: int) -> list[float]:
    """Round values from at or above `low` to at or below `high`, in steps of 1, 2 or 5 times a power of ten.

    There are at most about `about` of them.
    """
    rough = max(high - low, 1e-9) / max(1, about)
    power = 10.0 ** floor(log10(rough))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough * (1.0 - 1e-9))
    first = ceil(low / step - 1e-9)
    return [round(step * k, 9) for k in range(first, floor(high / step + 1e-9) + 1)]
