"""Figures in sentences: rounded so that the error bar keeps one figure that means something."""

from math import floor, log10

WITH_A_BAR = "± tells how sure a figure is: in 19 cases of 20 the true one lies within"


def with_bar(value: float, sigma: float, unit: str) -> str:
    """ "7.8 s ± 0.2 s": the value and two standard deviations. Without a unit, "6.1 ± 0.4"."""
    bar = max(2.0 * sigma, 1e-9)
    digits = min(3, max(0, -floor(log10(bar))))
    if round(bar, digits) >= 10.0 ** (1 - digits):
        digits = max(0, digits - 1)
    after = f" {unit}" if unit else ""
    # Rounded up to the last figure shown: a bar is never shown as nothing, nor much smaller than it is.
    step = 10.0**-digits
    shown = max(step, round(bar / step) * step)
    return f"{value:.{digits}f}{after} ± {shown:.{digits}f}{after}"


def listed(words: list[str]) -> str:
    """ "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
