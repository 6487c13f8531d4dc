"""After landing: the descent's stretches with rates and moments of opening from the whole curve."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from station.atmosphere import G0_MPS2, pad_density_ratio
from station.biweight import root_weight, spread_of
from station.coast_fit import CoastFit, fit_fall
from station.descent_fit import fit_hold
from station.flight_state import Event, EventName
from station.flown_record import STRETCH_S, FlownRecord
from station.parachute_rates import CHANGED_FRACTION
from station.stretch import Stretch

# Whose it was is not known either: what opened later than this it did not throw out.
GAS_OPENS_WITHIN_S = 2.5
SPIKE_PEAK_S = 0.12
HOLD_BEFORE_S = 3.0
HOLD_AFTER_S = 4.0
# After so long a fall (49 m/s without air) what slows it is plain in the heights, be it the airframe or a parachute
# that came out tangled; sooner the fall is taken for a free one.
FREE_FALL_S = 5.0
# A hold that is noticed late is looked for from its charge's firing on.
LATE_SEEN_S = 10.0
# A parachute's first moments, before its drag is one drag area's.
SETTLING_S = 0.8
LONGEST_FALL_S = 7.0
# An opening out of a dive has settled after so long; the last moments may be the landing's; s and m.
SETTLES_S = 1.2
LANDS_S = 0.2
LEAST_SEEN_FALL_M = 3.0
LAST_RATE_SIGMA_M = 0.35
# The rate of a whole stretch lies within this ratio of what was seen live.
MOST_RATE_RATIO = 2.5
SETTLED_SHARE = 0.08
# A silence (ms) after an opening, and what the rate that it promised may be off by: less than a further parachute.
GAP_MS = 1000.0
SAME_RATE_RATIO = 1.4
# A rate that another round of the fit moves by less (m/s) is found.
SAME_RATE_MPS = 1e-4
# Two rates are told apart over so long a fall on each side of a firing (s) ...
PARTED_LEAST_S = 1.5
PARTED_MOST_S = 8.0
# ... from when what came out holds (s).
TAKES_HOLD_S = 2.0
FREE_FALL_MPS = 200.0


def refine_descent(
    record: FlownRecord, events: Mapping[EventName, Event], stretches: Sequence[Stretch]
) -> tuple[Stretch, ...]:
    """Refine the stretches as they were told live; `events` are the refined ones."""
    return _DescentRefiner(record, events, stretches).refined()


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The stretches, those made one that a silence parted before the first rate was borne out, and that agree in rate.

    As it happened, what came down after the silence could have been another parachute.
    """
    found: list[Stretch] = []
    for stretch in stretches:
        if found and _goes_on(found[-1], stretch):
            stretch = found.pop().with_its_rest(stretch)
        found.append(stretch)
    return found


def _goes_on(last: Stretch, stretch: Stretch) -> bool:
    if (
        last.opened_ms is None
        or last.is_borne_out
        or stretch.opened_ms is None
        or stretch.start_ms - last.end_ms < GAP_MS
    ):
        return False
    if last.rate_mps is None or stretch.rate_mps is None:
        return False
    return 1.0 / SAME_RATE_RATIO < stretch.rate_mps / last.rate_mps < SAME_RATE_RATIO


class _DescentRefiner:
    def __init__(self, record: FlownRecord, events: Mapping[EventName, Event], stretches: Sequence[Stretch]) -> None:
        self.record, self.events = record, events
        self.stretches = [part for stretch in _joined(stretches) for part in self._parted(stretch)]

    def refined(self) -> tuple[Stretch, ...]:
        return tuple(self._stretch(i) for i in range(len(self.stretches)))

    def _parted(self, stretch: Stretch) -> list[Stretch]:
        """The stretch in two where the fall before a charge's firing and the one after it plainly differ in rate.

        A parachute that came out tangled may add so little drag that it is not noticed as it happens.
        """
        if stretch.opened_ms is None or stretch.rate_mps is None:
            return [stretch]
        begin_s = self.record.seconds(stretch.opened_ms) + SETTLING_S
        touchdown = self.events.get(EventName.TOUCHDOWN)
        end_s = self.record.seconds(stretch.end_ms)
        if touchdown is not None:
            end_s = min(end_s, self.record.seconds(touchdown.t_ms))
        for fired_s in self.record.fired_s:
            if fired_s - begin_s < PARTED_LEAST_S or end_s - fired_s < PARTED_LEAST_S + TAKES_HOLD_S:
                continue
            since_s, until_s = max(begin_s, fired_s - PARTED_MOST_S), min(end_s, fired_s + TAKES_HOLD_S + PARTED_MOST_S)
            before, after = self._mean_rate(since_s, fired_s), self._mean_rate(fired_s + TAKES_HOLD_S, until_s)
            if before is None or after is None or not 0.0 < after < CHANGED_FRACTION * before:
                continue
            at_m = float(np.interp(fired_s + STRETCH_S, self.record.live_t, self.record.live_h))
            at_ms = self.record.origin_ms + 1000.0 * (fired_s + STRETCH_S)
            at_pad_density = pad_density_ratio(at_m) ** 0.5
            slowed = replace(
                stretch,
                start_ms=at_ms,
                opened_ms=at_ms,
                opened_sigma_s=STRETCH_S,
                opened_altitude_m=at_m,
                speed_at_opening_mps=before * at_pad_density,
                rate_mps=after * at_pad_density,
                mean_rate_mps=after,
                steady_s=end_s - fired_s - TAKES_HOLD_S,
                called_ms=self.record.origin_ms + 1000.0 * (fired_s + TAKES_HOLD_S + PARTED_LEAST_S),
                promises=tuple(promise for promise in stretch.promises if promise[0] > at_ms),
                fastest_mps=before * at_pad_density,
            )
            held = replace(
                stretch,
                end_ms=at_ms,
                rate_mps=before * at_pad_density,
                mean_rate_mps=before,
                steady_s=fired_s - begin_s,
                promises=tuple(promise for promise in stretch.promises if promise[0] <= at_ms),
            )
            return [held, slowed]
        return [stretch]

    def _stretch(self, index: int) -> Stretch:
        stretch = self.stretches[index]
        if index + 1 == len(self.stretches) and not stretch.is_steady:
            stretch = self._seen_low(stretch)
        if stretch.opened_ms is None or stretch.rate_mps is None:
            return stretch
        opened_s = self.record.seconds(stretch.opened_ms)
        end_s = self.record.seconds(stretch.end_ms)
        touchdown = self.events.get(EventName.TOUCHDOWN)
        if touchdown is not None:
            end_s = min(end_s, self.record.seconds(touchdown.t_ms))
        later = [f for f in self.record.fired_s if opened_s + 1.0 < f < end_s + LATE_SEEN_S]
        last = index + 1 == len(self.stretches)
        end_s = end_s - 0.2 if last else min([end_s - 0.6, *later])
        stretch = self._with_rate(stretch, opened_s, end_s)
        if stretch.opened_sigma_s > 0.6:
            return stretch  # a gap hid it: the curve says no more
        return self._hold(index, stretch, opened_s, end_s)

    def _seen_low(self, stretch: Stretch) -> Stretch:
        """The stretch with the rate of its last moments: what opened low down was all seen, once the landing is known.

        While it came down, it could not be told from a landing.
        """
        touchdown = self.events.get(EventName.TOUCHDOWN)
        if touchdown is None or stretch.opened_ms is None:
            return stretch
        start_s = self.record.seconds(stretch.opened_ms) + SETTLES_S
        end_s = self.record.seconds(touchdown.t_ms) - LANDS_S
        rate_mps = self._mean_rate(start_s, end_s)
        if rate_mps is None or rate_mps * (end_s - start_s) < LEAST_SEEN_FALL_M:
            return stretch
        seen_s = end_s - start_s
        sigma_mps = max(0.1, LAST_RATE_SIGMA_M / seen_s)
        return replace(stretch, rate_mps=rate_mps, rate_sigma_mps=sigma_mps, mean_rate_mps=rate_mps, steady_s=seen_s)

    def _with_rate(self, stretch: Stretch, opened_s: float, end_s: float) -> Stretch:
        """The stretch with its rate from the curve; what has not settled yet is judged by where it was going."""
        assert stretch.rate_mps is not None
        scale = pad_density_ratio(stretch.opened_altitude_m) ** -0.5
        settling = self._fall(
            opened_s + SETTLING_S, min(end_s, opened_s + SETTLING_S + LONGEST_FALL_S), stretch.rate_mps
        )
        rate = stretch.rate_mps
        settled_s = opened_s + SETTLING_S
        fitted = (G0_MPS2 / settling.drag_per_m) ** 0.5 if settling is not None and settling.drag_per_m > 0.0 else 0.0
        # A fit from a speed that was not known well may run away from what was plain to see.
        if settling is not None and 1.0 / MOST_RATE_RATIO < fitted / rate < MOST_RATE_RATIO:
            rate = fitted
            at = np.arange(settled_s, min(end_s, settled_s + LONGEST_FALL_S), 0.1)
            if len(at):
                slow = np.abs(settling.at(at)[1] / (rate * scale) + 1.0) < SETTLED_SHARE
                settled_s = float(at[int(np.argmax(slow))]) if slow.any() else end_s
        mean_rate = self._mean_rate(settled_s, end_s)
        if mean_rate is None and settling is None and EventName.TOUCHDOWN in self.events:
            # Too short a fall before the ground: what the live filter saw was the landing as well.
            return replace(stretch, rate_mps=None, mean_rate_mps=None, steady_s=0.0)
        if mean_rate is None:
            return replace(stretch, rate_mps=rate, mean_rate_mps=rate * scale)
        middle_m = float(np.interp(0.5 * (settled_s + end_s), self.record.t, self.record.h))
        return replace(stretch, rate_mps=mean_rate * pad_density_ratio(middle_m) ** 0.5, mean_rate_mps=mean_rate)

    def _fall(self, start_s: float, end_s: float, carried_mps: float) -> CoastFit | None:
        """The fall between two times, as one drag area makes it."""
        use = self.record.without_spikes((self.record.t >= start_s) & (self.record.t <= end_s))
        t, h, sigma = self.record.t[use], self.record.h[use], self.record.sigma[use]
        if len(t) < 8 or t[-1] - t[0] < 0.8:
            return None
        velocity = float(np.interp(start_s, self.record.live_t, self.record.live_v))
        return fit_fall(t, h, sigma, float(t[0]), velocity, max(2.0, carried_mps))

    def _fall_before(
        self, start_s: float, end_s: float, before: Stretch | None, apogee_s: float
    ) -> tuple[float, float]:
        """Velocity (m/s) at the start, and the speed (m/s) that the drag then would carry, before a parachute."""
        earliest_s = apogee_s
        if before is not None and before.opened_ms is not None:
            earliest_s = self.record.seconds(before.opened_ms) + SETTLING_S
        carried = before.rate_mps if before is not None and before.rate_mps is not None else FREE_FALL_MPS
        fall = self._fall(max(earliest_s, start_s - HOLD_BEFORE_S), max(end_s, start_s + 0.5), carried)
        if fall is None or fall.drag_per_m <= 0.0:
            return self._fall_at(start_s)
        height, velocity = fall.at(np.array([start_s]))
        thin = pad_density_ratio(float(height[0]))
        return float(velocity[0]), min(FREE_FALL_MPS, (G0_MPS2 / (fall.drag_per_m * thin)) ** 0.5)

    def _fall_at(self, t_s: float) -> tuple[float, float]:
        """The same by the live estimate."""
        velocity = float(np.interp(t_s, self.record.live_t, self.record.live_v))
        acceleration = float(np.interp(t_s, self.record.live_t, self.record.live_a))
        drag_g = min(2.0, max(0.02, 1.0 + acceleration / G0_MPS2))
        return velocity, max(1.0, abs(velocity)) / drag_g**0.5

    def _mean_rate(self, start_s: float, end_s: float) -> float | None:
        use = self.record.without_spikes((self.record.t >= start_s) & (self.record.t <= end_s))
        t, h = self.record.t[use], self.record.h[use]
        if len(t) < 8 or t[-1] - t[0] < 1.0:
            return None
        # Tukey's biweight (common practice): a charge whose firing was not heard leaves its spike in.
        weight = np.ones_like(t)
        slope = 0.0
        for _ in range(8):
            middle, level = (weight @ t) / weight.sum(), (weight @ h) / weight.sum()
            last, slope = slope, float((weight * (t - middle)) @ h / ((weight * (t - middle)) @ (t - middle)))
            if abs(slope - last) < SAME_RATE_MPS:
                break
            off = h - level - slope * (t - middle)
            weight = root_weight(off, spread_of(off, least=1e-3)) ** 2
        return -slope

    def _hold(self, index: int, stretch: Stretch, opened_s: float, end_s: float) -> Stretch:
        apogee_s = self.record.seconds(self.events[EventName.APOGEE].t_ms)
        before = self.stretches[index - 1] if index else None
        first = before is None or before.opened_ms is None
        fired = [
            f
            for f in self.record.fired_s
            if -0.5 < opened_s - f < (LATE_SEEN_S if f in self.record.reported_s else GAS_OPENS_WITHIN_S)
        ]
        earliest_s, latest_s = opened_s - 2.5, opened_s + 1.0
        if fired:
            earliest_s, latest_s = min(earliest_s, fired[-1]), max(latest_s, fired[-1] + 1.0)
        start_s = apogee_s if first else min(opened_s - HOLD_BEFORE_S, earliest_s - 0.5)
        if first and opened_s - apogee_s > FREE_FALL_S:
            start_s = min(opened_s - HOLD_BEFORE_S, earliest_s - 0.5)
        # The height of a charge's spike is no guide, how it fades is known well enough to be fitted.
        use = self.record.without_spikes(
            (self.record.t >= start_s) & (self.record.t <= min(opened_s + HOLD_AFTER_S, end_s)), SPIKE_PEAK_S
        )
        t, h, sigma = self.record.t[use], self.record.h[use], self.record.sigma[use]
        if len(t) < 8 or stretch.rate_mps is None:
            return stretch
        scale = pad_density_ratio(stretch.opened_altitude_m) ** -0.5
        if first and start_s == apogee_s:
            v0 = G0_MPS2 * (apogee_s - float(t[0]))
            carry_before = None
        else:
            v0, carry_before = self._fall_before(float(t[0]), fired[-1] if fired else opened_s - 1.0, before, apogee_s)
        fit = fit_hold(
            t,
            h,
            sigma,
            v0,
            carry_before,
            stretch.rate_mps * scale,
            (max(earliest_s, float(t[0]) - (1.0 if first else 0.0)), min(latest_s, end_s)),
            fired[-1] if fired else None,
            [f for f in self.record.fired_s if t[0] - 1.0 < f < t[-1]],
        )
        if fit is None:
            return stretch
        # By the live estimate, for the readings here may be those of the charge's spike.
        at_m = float(np.interp(fit.t_s, self.record.live_t, self.record.live_h))
        fell_mps = -float(np.interp(fit.t_s - STRETCH_S, self.record.live_t, self.record.live_v))
        return replace(
            stretch,
            speed_at_opening_mps=max(stretch.speed_at_opening_mps, fell_mps * pad_density_ratio(at_m) ** 0.5),
            opened_ms=self.record.origin_ms + 1000.0 * fit.t_s,
            opened_sigma_s=max(0.05, fit.sigma_s),
            opened_altitude_m=at_m,
        )
