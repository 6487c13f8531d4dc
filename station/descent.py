"""The descent as stretches of steady fall: where a parachute took hold, how fast it came down after, touchdown.

Evidence of a parachute is drag. In a fall with speed v (+ down) and acceleration a (+ up) the drag per mass is
a + g, and the speed at which the same drag area would carry the weight is

    v_carry = v sqrt(g / (a + g))

known already while the rocket still slows down or speeds up (terminal-speed relation, any handbook of fluid
mechanics). Speeds are brought to the air density of the pad by sqrt(rho / rho_pad), for one parachute falls at one
such speed all the way.
"""

from collections import deque
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import Final

from station.atmosphere import G0_MPS2, pad_density_ratio
from station.estimator import VerticalFilter
from station.stretch import KNOWN_S, REJOIN_AFTER_S, STEADY_S, Stretch, plainly_over_mps
from station.touchdown import GROUND_NEAR_M, GroundWatch

EARLY_SPEED_MPS: Final = 20.0
PROVISIONAL_LEAST_M: Final = 40.0
PROVISIONAL_FALLING_LEAST_M: Final = 15.0
# What falls at no more than this part of the speed that it has had is braked.
SLOWED_FRACTION: Final = 0.7
# Rising air for some seconds says little of a parachute: what it holds is no less than this part of the mean.
LEAST_OF_MEAN: Final = 0.6
# What holds a fall that has become so fast slows it down on and on, whatever the filter makes of the blow.
DIVE_MPS: Final = 40.0
# After a silence: a fall at this part of the rate before it, surely, goes on as it did.
FALLS_ON_FRACTION: Final = 0.75
SURE_SIGMAS: Final = 2.0
# Speeds are known well enough to promise a rate by; a new promise is this much below the last.
SURE_SPEED_MPS: Final = 1.2
BETTER_PROMISE: Final = 0.95
# A height that goes so far (m), and farther than any speed that fits (standard deviations) takes it, was off: it comes
# back to where it should be after the gas of a charge. That is no fall.
LEAP_M: Final = 1.0
LEAP_SIGMAS: Final = 3.0
# A speed that is known no better than this speaks for no rate.
LEAST_KNOWN_SPEED_MPS: Final = 2.5
# A step in acceleration that the filter allowed for may have been noise that strayed one way for a moment. It allows
# for one at 3.2 standard deviations, half of which are still in its height by the time that a hold has lasted: so much
# and two and a half of its own are asked for. Where a charge has just fired an opening is likely beforehand, and the
# hold alone is believed.
BORNE_OUT_SIGMAS: Final = 4.0
LIKELY_AFTER_MS: Final = 3000.0
# A motion that has been well known for so long is what the heights after such a step are held against ...
WELL_KNOWN_MS: Final = 300.0
# ... until it has been foretold for so long that it says nothing any more.
FORETOLD_LONGEST_S: Final = 2.0
# A fall whose rate is borne out, and that nothing seems to change, is looked at again after so long, a third as often
# at 50 samples a second, or at once when it is braked. What slows it down more gently, or lets go, takes seconds to be
# told.
CALM_MS: Final = 50.0
# A standard deviation of the rate is no less than that after so long; then gusts add no more than this to it.
LONG_KNOWN_S: Final = 6.0
GUSTS_MPS: Final = 0.3
# Braked by more than this (g): something slows the fall.
BRAKING_DRAG_G: Final = 1.35
BRAKING_MPS2: Final = (BRAKING_DRAG_G - 1.0) * G0_MPS2
# Drag (g) of a fall that has been held for a while; beyond it the filter has not settled yet.
DRAG_LEAST_G: Final = 0.35
DRAG_MOST_G: Final = 2.0
# steady s, sums of scaled speed and of fall (m), last velocity (m/s)
Sums = tuple[float, float, float, float]
# when (ms) a motion was well known: height (m), velocity (m/s), acceleration (m/s^2), and their variances
Known = tuple[float, float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class DescentLimits:
    """Thresholds of the descent; common practice, no source. Speeds m/s, times s, heights m."""

    # A fall carried by less speed than this is a parachute, not a bare airframe.
    held_speed_mps: float = 34.0
    held_drag_g: float = 0.40
    hold_s: float = 0.25
    slowest_judged_mps: float = 5.0
    # ... but so long after apogee a free fall would be four times as fast.
    free_fall_shows_s: float = 2.0
    fast_fall_mps: float = 14.0
    # A further parachute: the carrying speed drops to this part of what it was.
    step_fraction: float = 0.62
    # ... or to this part of what the first moment of the last opening promised.
    early_step_fraction: float = 0.4
    # ... or stays under this part of it for longer than gusts and swinging last: drag area was added.
    slower_fraction: float = 0.75
    slower_s: float = 2.0
    # A parachute that lets go: the fall speeds up to this multiple.
    loss_fraction: float = 1.6
    settle_s: float = 1.2
    gap_s: float = 1.5
    # What shows this soon after a gap may have happened inside it.
    after_gap_s: float = 3.0
    # Slower than this nothing comes down by parachute; it lies still.
    slowest_fall_mps: float = 1.2
    least_steady_fall_m: float = 3.0
    hardly_fallen_s: float = 2.0


class DescentTracker:
    """Fed with the filter's state after each sample of the descent; keeps the stretches."""

    __slots__ = (
        "_before_drag", "_before_loss", "_called_ms", "_carries", "_carry_mps", "_confirm_from", "_drag_since",
        "_due_ms", "_fastest_mps", "_follows_another", "_gap", "_held_since", "_kept_until_ms", "_known",
        "_last_m", "_last_ms", "_least_rate_mps", "_loss_since", "_opened_altitude_m", "_opened_ms", "_opened_sigma_s",
        "_out_of_a_dive", "_promises", "_settled_fastest_mps", "_slower_since", "_speed_at_opening",
        "_start_ms", "_steady_fall_m", "_steady_from_mps", "_steady_s", "_steady_sum", "_steady_to_mps",
        "_sure_speed_mps", "_surely_over_mps", "_surely_under_mps", "_unsure_ms", "charge_ms", "ground",
        "limits", "stretches",
    )  # fmt: skip

    def __init__(self, limits: DescentLimits, start_ms: float, altitude_m: float) -> None:
        self.limits = limits
        self.stretches: list[Stretch] = []
        self._last_ms = start_ms
        self._sure_speed_mps = 0.0
        self._due_ms = start_ms
        self._fastest_mps = self._surely_over_mps = 0.0
        self._surely_under_mps = self._least_rate_mps = inf
        self._known: Known | None = None
        self._unsure_ms = start_ms
        # When a charge was last seen by its gas, or heard to have fired; set by who sees or hears it.
        self.charge_ms = -1e12
        self._last_m = altitude_m
        self._held_since: tuple[float, float, float] | None = None
        self._drag_since: tuple[float, float, float] | None = None
        self._slower_since: tuple[float, float, float] | None = None
        self._loss_since: float | None = None
        self._before_drag: Sums | None = None
        self._before_loss: Sums | None = None
        self._begin(start_ms, None, 0.0, altitude_m, 0.0)
        self._gap: tuple[float, float] | None = None
        self._confirm_from = start_ms
        self.ground = GroundWatch(altitude_m)

    def take(self, t_ms: float, state: VerticalFilter) -> bool:
        """Take the state at `t_ms`; True when a new stretch has begun (a parachute took hold or let go).

        Every sample of a descent comes by here, most of them in a steady fall: what those need stands in one piece,
        and not each of them is looked at.
        """
        if t_ms < self._due_ms and state.a < BRAKING_MPS2:
            return False
        limits = self.limits
        gap_s = (t_ms - self._last_ms) / 1000.0
        self._last_ms = t_ms
        speed = -state.v
        altitude = state.h
        scale = sqrt(pad_density_ratio(altitude))
        # What is not known well counts against a parachute: the least drag and the most speed that fit.
        speed_sigma = sqrt(state.pvv)
        drag_g = (state.a + G0_MPS2 - sqrt(state.paa)) / G0_MPS2
        # A fall slows down by more drag alone, and no farther than that drag carries it.
        slows = self._follows_another or self._out_of_a_dive or speed < SLOWED_FRACTION * self._fastest_mps
        carry = slowed = 0.0
        if speed > 0.0:
            carry = slowed = (speed + 0.5 * speed_sigma) / sqrt(drag_g if drag_g > 0.01 else 0.01) * scale
            if slows:
                slowed = (speed + speed_sigma) * scale
                if carry < slowed:
                    slowed = carry
        self._sure_speed_mps = speed - SURE_SIGMAS * speed_sigma
        if speed_sigma >= SURE_SPEED_MPS:
            self._unsure_ms = t_ms
        elif self._held_since is None and self._drag_since is None and t_ms - self._unsure_ms >= WELL_KNOWN_MS:
            self._known = t_ms, altitude, state.v, state.a, state.phh, state.pvv, state.paa
        if gap_s > limits.gap_s:
            self._after_gap(t_ms, gap_s, altitude, speed)
        opened_ms = self._opened_ms
        rate = None
        if opened_ms is not None:
            if t_ms > opened_ms + 1000.0 * limits.settle_s and 0.0 < gap_s <= limits.gap_s:
                self._grow(altitude, state, scale, gap_s)
                opened_ms = self._opened_ms
            if self._steady_s < STEADY_S and speed > 0.0:
                # A bound by speed has its standard deviation in it; one by drag is no good before that is small.
                if slows:
                    self._promise(t_ms, altitude, slowed)
                elif state.pvv < SURE_SPEED_MPS**2:
                    self._promise(t_ms, altitude, carry)
            rate, sigma = self._rate()
            if rate is not None and self._steady_s >= STEADY_S:
                self._note_promise(t_ms, rate)
                if rate < self._least_rate_mps:
                    self._least_rate_mps = rate
                if plainly_over_mps(rate, self._steady_s) > self._surely_over_mps and self._sums()[0] >= STEADY_S:
                    over_mps = plainly_over_mps(self._rate_at_least(rate, speed_sigma), self._steady_s)
                    if over_mps > self._surely_over_mps:
                        self._surely_over_mps = over_mps
                if self._steady_s >= LONG_KNOWN_S and rate - SURE_SIGMAS * sigma - GUSTS_MPS > self._surely_over_mps:
                    self._surely_over_mps = rate - SURE_SIGMAS * sigma - GUSTS_MPS
                most_mps = rate + SURE_SIGMAS * sigma
                # What surely falls faster now, or at nobody knows what, or freely, is not held at that rate.
                agrees = speed_sigma < LEAST_KNOWN_SPEED_MPS and self._sure_speed_mps * scale < most_mps
                agrees = agrees and drag_g >= limits.held_drag_g
                if agrees and self._steady_s >= KNOWN_S and most_mps < self._surely_under_mps:
                    self._surely_under_mps = most_mps
        if self._gap is not None and self._falls_on(speed * scale, rate, state):
            self._gap = None
        self._last_m = altitude
        if speed > self._fastest_mps:
            self._fastest_mps = speed
        if opened_ms is None:
            # Near apogee the air is too slow to show anything; after a fast fall slowness itself shows it.
            slow = speed < limits.slowest_judged_mps and self._fastest_mps < limits.fast_fall_mps
            if slow and t_ms - self._start_ms < 1000.0 * limits.free_fall_shows_s:
                self._held_since = None
                return False
            return self._watch_first(t_ms, state, drag_g, slowed)
        if rate is None or (t_ms - opened_ms) / 1000.0 <= limits.settle_s:
            return False
        if self._held_since is None and self._drag_since is None and self._slower_since is None:
            self._before_drag = self._steady_s, self._steady_sum, self._steady_fall_m, self._steady_to_mps
            # `slower_fraction` is the largest of those that a further parachute is known by.
            may_slow = drag_g > BRAKING_DRAG_G or slowed < limits.slower_fraction * rate
        else:
            may_slow = True
        if may_slow and self._watch_step(t_ms, state, drag_g, slowed, rate):
            return True
        if self._watch_loss(t_ms, altitude, speed, speed * scale, rate):
            return True
        if not may_slow and self._loss_since is None and self._steady_s >= REJOIN_AFTER_S[0]:
            self._due_ms = t_ms + CALM_MS
        return False

    def _after_gap(self, t_ms: float, gap_s: float, altitude: float, speed: float) -> None:
        self._held_since = self._loss_since = self._drag_since = self._slower_since = None
        last_heard_ms = t_ms - 1000.0 * gap_s
        before, self._gap = self._gap, (last_heard_ms, t_ms)
        if self._opened_ms is not None and self._steady_s < STEADY_S:
            # Its rate was not known yet: what comes down after the silence need not be the same parachute.
            self._close(last_heard_ms)
            middle_ms, sigma_s = self._opening(t_ms, 0.0, 0.0)
            self._begin(t_ms, middle_ms, sigma_s, 0.5 * (self._last_m + altitude), speed)
        elif before is not None and last_heard_ms - before[1] < 1000.0 * self.limits.after_gap_s:
            # Too little was heard since the silence before to tell whether it hid anything: still it may have.
            self._gap = (before[0], t_ms)

    def _falls_on(self, speed_mps: float, rate: float | None, state: VerticalFilter) -> bool:
        """It surely falls as it did before the silence: what is seen from now on did not happen inside it."""
        if self._gap is not None and self._start_ms >= self._gap[1] and self._steady_s >= STEADY_S:
            return True  # the rate itself was seen after it
        if rate is not None:
            return speed_mps - SURE_SIGMAS * sqrt(state.pvv) > FALLS_ON_FRACTION * rate
        return (state.a + G0_MPS2 + SURE_SIGMAS * sqrt(state.paa)) / G0_MPS2 < self.limits.held_drag_g

    def touchdown(self, t_ms: float, noise_m: float) -> tuple[float, float] | None:
        """(Time ms, sigma s) of touchdown once the ground's heights until now show that it has lain still."""
        return self.ground.touchdown(t_ms, noise_m, self._rate()[0])

    def current(self) -> Stretch:
        """The stretch that is going on."""
        rate, sigma = self._rate()
        return Stretch(
            self._start_ms,
            self._last_ms,
            self._opened_ms,
            self._opened_sigma_s,
            self._opened_altitude_m,
            self._speed_at_opening,
            rate,
            sigma,
            self._steady_s,
            self._called_ms if self._called_ms is not None else self._last_ms,
            self._steady_fall_m / self._steady_s if rate is not None and self._steady_s >= STEADY_S else rate,
            tuple(self._promises),
            self._settled_fastest_mps,
            self._surely_under_mps,
            self._surely_over_mps,
            self._least_rate_mps,
        )

    def all_stretches(self) -> list[Stretch]:
        """Every stretch so far, the present one last."""
        return [*self.stretches, self.current()]

    def _begin(
        self,
        start_ms: float,
        opened_ms: float | None,
        sigma_s: float,
        altitude_m: float,
        speed: float,
        carry_mps: float | None = None,
        *,
        out_of_a_dive: bool = False,
    ) -> None:
        self._count_stretches()
        self._start_ms = start_ms
        self._opened_ms = opened_ms
        self._opened_sigma_s = sigma_s
        self._opened_altitude_m = altitude_m
        self._speed_at_opening = speed
        self._out_of_a_dive = out_of_a_dive
        self._steady_s = 0.0
        self._steady_sum = 0.0
        self._steady_fall_m = 0.0
        self._steady_from_mps = 0.0
        self._steady_to_mps = 0.0
        self._carry_mps = carry_mps
        self._carries: deque[tuple[float, float]] = deque()
        self._promises: list[tuple[float, float]] = [] if carry_mps is None else [(self._last_ms, carry_mps)]
        self._fastest_mps = self._settled_fastest_mps = self._surely_over_mps = 0.0
        self._surely_under_mps = self._least_rate_mps = inf
        self._before_drag = self._before_loss = None
        self._kept_until_ms = start_ms
        # What is suspected of one stretch is nothing to the next.
        self._held_since = self._drag_since = self._slower_since = None
        self._loss_since = None
        self._called_ms: float | None = self._last_ms if carry_mps is not None else None

    def _lies_still(self, velocity: float) -> bool:
        """Low down: is it much slower than a moment ago? That is the landing and no part of the fall."""
        # What began so low down that its rate is not known yet will not show one before it lies on the ground.
        rate, _ = self._rate()
        return self._steady_s < STEADY_S or rate is None or -velocity < 0.5 * rate

    def _grow(self, altitude: float, state: VerticalFilter, scale: float, gap_s: float) -> None:
        """The rate is seen for longer by so much, s."""
        velocity = state.v
        if -velocity < self.limits.slowest_fall_mps or (altitude < GROUND_NEAR_M and self._lies_still(velocity)):
            return  # it lies on the ground, or rising air holds it up
        steady_before_s = self._steady_s
        if state.pvv < SURE_SPEED_MPS * SURE_SPEED_MPS:
            # Two speeds tell what the fall is gaining, and only well known ones: after gas or a step they stray.
            if self._steady_from_mps == 0.0:  # as it begins: not known yet
                self._steady_from_mps = velocity
            self._steady_to_mps = velocity
            scaled = -velocity * scale
            if scaled > self._settled_fastest_mps:
                self._settled_fastest_mps = scaled
        # By heights, which a charge's spike moves for a moment only; speeds it throws about for longer.
        fall_m = self._last_m - altitude
        leap_m = abs(fall_m + velocity * gap_s) - LEAP_M
        if leap_m > 0.0 and leap_m > LEAP_SIGMAS * sqrt(state.pvv) * gap_s:
            return
        self._steady_s = steady_s = steady_before_s + gap_s
        self._steady_sum += fall_m * scale
        self._steady_fall_m += fall_m
        if steady_before_s < REJOIN_AFTER_S[-1] and any(steady_before_s < s <= steady_s for s in REJOIN_AFTER_S):
            self._rejoin()

    def _count_stretches(self) -> None:
        """Another parachute carried the fall until this one took hold, or none did."""
        self._follows_another = bool(self.stretches) and self.stretches[-1].opened_ms is not None

    def _note_promise(self, t_ms: float, rate: float) -> None:
        if not self._promises or rate < BETTER_PROMISE * self._promises[-1][1]:
            self._promises.append((t_ms, rate))
            if self._called_ms is None:
                self._called_ms = t_ms

    @property
    def _step_is_suspected(self) -> bool:
        return not (self._drag_since is None and self._held_since is None and self._slower_since is None)

    def _sums(self) -> Sums:
        """What the rate rests on: while it looks as if a further parachute slows the fall, the time before that."""
        if self._before_drag is not None and self._step_is_suspected:
            return self._before_drag
        return self._steady_s, self._steady_sum, self._steady_fall_m, self._steady_to_mps

    def _rate(self) -> tuple[float | None, float]:
        steady_s, steady_sum, steady_fall_m, steady_to_mps = self._sums()
        if steady_s < STEADY_S:
            return self._carry_mps, 2.0
        # While the fall still speeds up or slows down, its drag tells the speed that it is going to.
        drag_g = 1.0 + (steady_to_mps - self._steady_from_mps) / (G0_MPS2 * steady_s)
        if drag_g > DRAG_MOST_G:
            drag_g = DRAG_MOST_G
        elif drag_g < DRAG_LEAST_G:
            drag_g = DRAG_LEAST_G
        rate = steady_sum / steady_s / sqrt(drag_g)
        if rate < self.limits.slowest_fall_mps or steady_fall_m < self.limits.least_steady_fall_m:
            # It lies still, or has hardly fallen yet.
            return (self._carry_mps, 2.0) if steady_s < self.limits.hardly_fallen_s else (None, 0.0)
        return rate, 0.6 / steady_s if steady_s < LONG_KNOWN_S else 0.1

    def _rate_at_least(self, rate: float, speed_sigma: float) -> float:
        """The rate, if the two speeds that tell what the fall still gains are off by as much as they may be."""
        steady_s, steady_sum, _, _ = self._sums()
        mean = steady_sum / steady_s
        may_gain_g = SURE_SIGMAS * sqrt(2.0) * speed_sigma / (G0_MPS2 * steady_s)
        return mean / sqrt((mean / rate) ** 2 + may_gain_g)

    def _promise(self, t_ms: float, altitude: float, carry: float) -> None:
        """While the fall still slows down, what it is going to becomes known better and better."""
        recent = self._carries
        recent.append((t_ms, carry))
        while t_ms - recent[0][0] > 1000.0 * self.limits.hold_s:
            recent.popleft()
        if t_ms - recent[0][0] < 600.0 * self.limits.hold_s:
            return
        bound = self._provisional(max(each for _, each in recent), altitude)
        if bound is not None and (self._carry_mps is None or bound < BETTER_PROMISE * self._carry_mps):
            self._carry_mps = bound
            self._note_promise(t_ms, bound)

    def _rejoin(self) -> None:
        """Drop a step that the steady rate does not bear out: the same parachute swung or met a gust."""
        if not self.stretches:
            return
        last = self.stretches[-1]
        rate, _ = self._rate()
        if last.opened_ms is None or not last.is_steady or last.rate_mps is None or rate is None:
            return
        if not 0.78 < rate / last.rate_mps < 1.28:
            return
        self.stretches.pop()
        self._count_stretches()
        self._before_drag = self._before_loss = None
        self._start_ms, self._opened_ms, self._opened_sigma_s = last.start_ms, last.opened_ms, last.opened_sigma_s
        self._opened_altitude_m, self._speed_at_opening = last.opened_altitude_m, last.speed_at_opening_mps
        self._called_ms, self._promises = last.called_ms, list(last.promises)
        self._steady_from_mps = -last.rate_mps
        self._steady_sum += last.rate_mps * last.steady_s
        self._steady_fall_m += (last.mean_rate_mps or last.rate_mps) * last.steady_s
        self._steady_s += last.steady_s
        self._settled_fastest_mps = max(self._settled_fastest_mps, last.fastest_mps)
        self._surely_under_mps = min(self._surely_under_mps, last.surely_under_mps)
        self._surely_over_mps = last.surely_over_mps
        self._least_rate_mps = min(self._least_rate_mps, last.least_rate_mps)

    def _may_fall_on(self, t_ms: float, state: VerticalFilter) -> bool:
        """The heights fit the fall as it was known before the filter allowed for a step: nothing need have opened."""
        known = self._known
        if known is None or self._unsure_ms < known[0] or t_ms - self.charge_ms < LIKELY_AFTER_MS:
            return False
        from_ms, altitude, velocity, acceleration, phh, pvv, paa = known
        t = (t_ms - from_ms) / 1000.0
        if t > FORETOLD_LONGEST_S:
            return False
        foretold = altitude + velocity * t + 0.5 * acceleration * t * t
        variance = state.phh + phh + pvv * t * t + 0.25 * paa * t**4
        return state.h - foretold < BORNE_OUT_SIGMAS * sqrt(variance)

    def _watch_first(self, t_ms: float, state: VerticalFilter, drag_g: float, carry: float) -> bool:
        limits = self.limits
        altitude, speed = state.h, -state.v
        brakes = drag_g >= limits.held_drag_g or speed < SLOWED_FRACTION * self._fastest_mps
        if not brakes or carry > limits.held_speed_mps:
            self._held_since = None
            return False
        if self._held_since is None:
            self._held_since = (t_ms, altitude, speed)
        if t_ms - self._held_since[0] < 1000.0 * limits.hold_s or self._may_fall_on(t_ms, state):
            return False
        since_ms, at_m, at_speed = self._held_since
        self._held_since = None
        self._close(since_ms)
        # Drag grows with the square of the speed, so near apogee it is seen later than it began.
        near_the_top = self._fastest_mps < EARLY_SPEED_MPS
        lead_s = min(0.05 * at_speed, (since_ms - self._start_ms) / 1000.0) if near_the_top else 0.0
        opened_ms, sigma_s = self._opening(since_ms, lead_s, 0.4)
        dived = self._fastest_mps > DIVE_MPS
        carry_mps = self._provisional(carry, altitude)
        self._begin(since_ms, opened_ms, sigma_s, at_m, at_speed, carry_mps, out_of_a_dive=dived)
        return True

    def _watch_step(self, t_ms: float, state: VerticalFilter, drag_g: float, carry: float, rate: float) -> bool:
        """A further parachute: asked while the fall is braked or slower than it was, or lately was."""
        limits = self.limits
        altitude, speed = state.h, -state.v
        if drag_g > BRAKING_DRAG_G:
            if self._drag_since is None:
                self._drag_since = (t_ms, altitude, speed)
        elif carry > 0.85 * rate:
            self._drag_since = None
        fraction = limits.step_fraction if self._steady_s >= STEADY_S else limits.early_step_fraction
        if carry < fraction * rate and speed > 0.0:
            if self._held_since is None:
                self._held_since = self._drag_since or (t_ms, altitude, speed)
                self._confirm_from = t_ms
            if t_ms - self._confirm_from >= 1000.0 * limits.hold_s and not self._may_fall_on(t_ms, state):
                self._step(self._held_since, carry, altitude)
                return True
        else:
            self._held_since = None
        if carry < limits.slower_fraction * rate and speed > 0.0 and self._sums()[0] >= REJOIN_AFTER_S[0]:
            if self._slower_since is None:
                self._slower_since = self._drag_since or (t_ms, altitude, speed)
            elif t_ms - self._slower_since[0] >= 1000.0 * limits.slower_s:
                self._step(self._slower_since, carry, altitude)
                return True
        else:
            self._slower_since = None
        return False

    def _watch_loss(self, t_ms: float, altitude: float, speed: float, at_pad_mps: float, rate: float) -> bool:
        """A parachute that lets go; `at_pad_mps` is the speed at the pad's air density, as the rates are."""
        # By the mean so far: what drag would carry it to grows with the very fall that is to be noticed.
        kept = self._steady_sum / self._steady_s if self._steady_s >= STEADY_S else rate
        # Even the mean does, where it lets go soon: what it surely has come to counts.
        if kept > self._surely_under_mps:
            kept = max(self._surely_under_mps, LEAST_OF_MEAN * kept)
        if at_pad_mps < 1.2 * kept + 1.0:
            self._before_loss = self._steady_s, self._steady_sum, self._steady_fall_m, self._steady_to_mps
            self._kept_until_ms = t_ms
        if at_pad_mps > self.limits.loss_fraction * kept + 4.0:
            if self._loss_since is None:
                self._loss_since = t_ms
            if t_ms - self._loss_since > 1000.0:
                self._rewind(self._before_loss)
                let_go_ms = self._loss_since if self._before_loss is None else self._kept_until_ms
                self._close(let_go_ms)
                self._begin(let_go_ms, None, 0.0, altitude, speed)
                return True
        else:
            self._loss_since = None
        return False

    def _step(self, since: tuple[float, float, float], carry: float, altitude: float) -> None:
        """A further parachute took hold since then (ms, height m, speed m/s)."""
        since_ms, at_m, at_speed = since
        self._held_since = self._drag_since = None  # no longer suspected: the sums are those before it
        self._rewind(self._before_drag)
        self._close(since_ms)
        opened_ms, sigma_s = self._opening(since_ms, 0.0, 0.15)
        self._begin(since_ms, opened_ms, sigma_s, at_m, at_speed, self._provisional(carry, altitude))

    def _rewind(self, sums: Sums | None) -> None:
        """The rate that ended is that from before the change began."""
        if sums is not None:
            self._steady_s, self._steady_sum, self._steady_fall_m, self._steady_to_mps = sums

    def _provisional(self, carry: float, altitude: float) -> float | None:
        """The rate to go by until a steady one is known; near the ground it may be the landing itself."""
        least_m = (
            PROVISIONAL_FALLING_LEAST_M if self._sure_speed_mps > self.limits.slowest_fall_mps else PROVISIONAL_LEAST_M
        )
        return carry if altitude > least_m and carry > self.limits.slowest_fall_mps else None

    def _opening(self, since_ms: float, lead_s: float, sigma_s: float) -> tuple[float, float]:
        """When a hold that was noticed at `since_ms` began; one that a gap hid lies anywhere in the gap."""
        if self._gap is not None and since_ms - self._gap[1] < 1000.0 * self.limits.after_gap_s:
            start_ms, end_ms = self._gap
            return 0.5 * (start_ms + end_ms), (end_ms - start_ms) / 1000.0 / 12.0**0.5
        return since_ms - 1000.0 * lead_s, sigma_s

    def _close(self, end_ms: float) -> None:
        self.stretches.append(replace(self.current(), end_ms=end_ms))
