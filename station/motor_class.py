"""A motor's impulse class, and the certification that its letter asks for. Pure.

Class limits: 2.5 N s for A, doubled with each letter, 40,960 N s for O; an impulse on the limit belongs to the lower
class (motor classification of NFPA 1125, seen in reprints). Levels: National Association of Rocketry, high-power
certification procedures.
"""

LETTERS = "ABCDEFGHIJKLMNO"
_A_LIMIT_NS = 2.5
_LEVELS = {"HI": 1, "JKL": 2, "MNO": 3}


def impulse_class(total_impulse_ns: float) -> str | None:
    """The letter, "A" up to 2.5 N s (smaller motors too) to "O"; None beyond O."""
    limit_ns = _A_LIMIT_NS
    for letter in LETTERS:
        if total_impulse_ns <= limit_ns:
            return letter
        limit_ns *= 2.0
    return None


def class_limits_ns(letter: str) -> tuple[float, float]:
    """More than the first, up to the second, in N s; for A from nothing on."""
    highest = _A_LIMIT_NS * 2.0 ** LETTERS.index(letter)
    return (highest / 2.0 if letter != "A" else 0.0), highest


def certification_level(letter: str) -> int:
    """The level that a single motor of this letter asks for; 0 for A to G."""
    return next((level for letters, level in _LEVELS.items() if letter in letters), 0)
