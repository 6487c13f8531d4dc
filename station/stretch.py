"""A stretch of the descent: the fall under one drag area, its rate, and how well that is known."""

from dataclasses import dataclass, replace
from math import inf, isfinite
from typing import Final

STEADY_S: Final = 0.5
# A rate that was observed for so long the next gust does not undo.
KNOWN_S: Final = 1.5
# When a step is looked at again: did the fall after it bear it out?
REJOIN_AFTER_S = (1.0, 2.0, 4.0)
# A rate is plainly over a limit when it is by this part of it and by so much over the time that it was seen for: the
# ends of a short fall the charge's own pressure may still have moved.
PLAINLY_OVER_FRACTION: Final = 0.1
PLAINLY_OVER_M: Final = 7.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the descent with one drag area. Rates are + down at pad density; None while too short to tell.

    `opened_ms` is when this drag area took hold (None for the free fall after apogee), `opened_sigma_s` how sure;
    `steady_s` is how long the rate was observed (before it is steady the rate is
    provisional: what the drag at the opening makes it), `mean_rate_mps` the plain mean rate over that time. `promises`
    are the rates as they became known, each with the time (ms) from which the data let us say it; `fastest_mps` is the
    highest speed, at pad density, from when the opening's own slowing down is over; `surely_under_mps` is the least
    that the rate and two standard deviations of it have come to when it is known and speed and drag agree with it,
    `surely_over_mps` the most that it has plainly been over; `least_rate_mps` is the least that the rate has been.
    """

    start_ms: float
    end_ms: float
    opened_ms: float | None
    opened_sigma_s: float
    opened_altitude_m: float
    speed_at_opening_mps: float
    rate_mps: float | None
    rate_sigma_mps: float
    steady_s: float
    called_ms: float
    mean_rate_mps: float | None
    promises: tuple[tuple[float, float], ...] = ()
    fastest_mps: float = 0.0
    surely_under_mps: float = inf
    surely_over_mps: float = 0.0
    least_rate_mps: float = inf

    @property
    def is_known(self) -> bool:
        """The rate was observed for so long that the next gust does not undo it; then it stays known."""
        return self.steady_s >= KNOWN_S or isfinite(self.surely_under_mps)

    @property
    def is_borne_out(self) -> bool:
        """The rate was observed for long enough to have been compared with that before it."""
        return self.steady_s >= REJOIN_AFTER_S[0]

    @property
    def is_steady(self) -> bool:
        """The rate was observed for long enough to be judged."""
        return self.steady_s >= STEADY_S

    def with_its_rest(self, later: "Stretch") -> "Stretch":
        """The hold whose first moments these are, its rate known from what came after they broke off."""
        return replace(
            later,
            start_ms=self.start_ms,
            opened_ms=self.opened_ms,
            opened_sigma_s=self.opened_sigma_s,
            opened_altitude_m=self.opened_altitude_m,
            speed_at_opening_mps=self.speed_at_opening_mps,
            steady_s=self.steady_s + later.steady_s,
            called_ms=self.called_ms,
            promises=self.promises + later.promises,
            surely_under_mps=min(self.surely_under_mps, later.surely_under_mps),
            least_rate_mps=min(self.least_rate_mps, later.least_rate_mps),
        )


def plainly_over_mps(rate_mps: float, seen_s: float) -> float:
    """The most that a rate, seen for so long, is plainly over."""
    return rate_mps / (1.0 + PLAINLY_OVER_FRACTION) - PLAINLY_OVER_M / max(seen_s, STEADY_S)
