"""One piece of advice: a plain value that the check, the page and other programs show as they like."""

from dataclasses import dataclass
from enum import StrEnum


class Topic(StrEnum):
    """What a piece of advice is about, in the order in which it is told."""

    CHARGES = "charges"
    PARACHUTES = "parachutes"
    DELAY = "delay"
    THRUST = "thrust"
    RAIL = "rail"
    MACH = "mach"
    DRAG = "drag"
    DROGUE_RATE = "drogue_rate"
    MAIN_RATE = "main_rate"
    LANDING = "landing"
    MAIN_HEIGHT = "main_height"
    DRIFT = "drift"
    PREDICTION = "prediction"


@dataclass(frozen=True, slots=True)
class Advice:
    """`change` says that something should be done; else it is worth knowing.

    `value` is the figure that it comes down to, with its standard deviation `sigma`, in `unit` (SI; "" for a ratio).
    Sentences are in SI too, with the error bar as "7.8 s ± 0.2 s": two standard deviations, so that 19 times in 20 the
    truth lies within.
    """

    topic: Topic
    headline: str
    change: bool
    reasoning: tuple[str, ...] = ()
    value: float | None = None
    sigma: float | None = None
    unit: str = ""
    caution: str | None = None
    source: str | None = None
