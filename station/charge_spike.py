"""Motion while a charge's gas still presses on the bay: what part of the reading is gas, and what is height?

A firing charge raises the pressure in the bay at once (or sucks it low), and the gas leaves through the ports about
exponentially, in a time that nobody knows beforehand. Within that very second the parachute opens. So the spike is
a state of its own beside the motion, once for each of several decay times, and each reading says how well each of
them foretold it: a bank of filters weighted by likelihood (static multiple models: Bar-Shalom, Li and Kirubarajan
2001, section 11.6.2, from memory). One member says that there is no gas and that the filter itself was wrong.
"""

from collections.abc import Callable
from math import exp, log, sqrt
from typing import Final

from station.estimator import VerticalFilter

# A bay empties through its ports in some tenths of a second (common practice, no source); the shortest stands for one
# reading that strayed.
DECAYS_S = (0.01, 0.06, 0.1, 0.15, 0.23, 0.35, 0.55)
# Several hundred pascals, either way.
SPIKE_SIGMA_M: Final = 60.0
# The gas does not leave quite exponentially, and the decay times have steps: so much of it strays in each of them.
STRAYS_FRACTION: Final = 0.12
# Between the charge and its full pressure the readings may rise.
RISES_MS: Final = 60.0
# Thought beforehand: gas, nothing but a rare reading, a filter that lost its way.
GAS_SHARE: Final = 0.8
NO_GAS_SHARE: Final = 0.1
WRONG_FILTER_SHARE: Final = 0.02
WRONG_SPEED_MPS: Final = 30.0
WRONG_ACCELERATION_MPS2: Final = 15.0
# What the charge throws out opens within a second or so, if it does.
OPENS_WITHIN_MS: Final = 1200.0
# An opening parachute brakes with the square of the speed: jerk density at 20 m/s and the most of it (m^2/s^5).
OPENING_JERK_DENSITY: Final = 3000.0
OPENING_SPEED_MPS: Final = 20.0
MOST_JERK_DENSITY: Final = 20_000.0
# Out of a dive it brakes within a tenth of a second or two, far more suddenly than a density can say: from one reading
# to the next the fall may be a parachute's, and then it is somewhere on the way that it would have dived meanwhile.
DIVE_MPS: Final = 40.0
OPENED_MPS: Final = -12.0
OPENED_SIGMA_MPS: Final = 10.0
OPENED_SIGMA_MPS2: Final = 20.0
OPENED_JERK_DENSITY: Final = 300.0
OPENED_WITHIN_S: Final = 0.1
OPENED_SHARE: Final = 0.02
LEAST_SHARE: Final = 1e-5
SURE_SHARE: Final = 0.999
GONE_SIGMAS: Final = 1.0
LONGEST_MS: Final = 1800.0
# A reading that differs from what was foretold by so much is no motion (nor what is left of the gas).
GATE_SIGMAS: Final = 5.0
GATE_LEAST_M: Final = 2.5


class SpikedFilter(VerticalFilter):
    """`VerticalFilter` with a fourth state, the height (m) that the gas adds to the reading."""

    __slots__ = ("decay_s", "has_opened", "log_share", "may_open", "psa", "psh", "pss", "psv", "spike_m")

    def __init__(self, motion: VerticalFilter, decay_s: float | None, share: float, *, may_open: bool = False) -> None:
        """Begin from a motion, thought of by a share; `decay_s` None: no gas. `may_open`: a parachute may brake it."""
        self.h, self.v, self.a = motion.h, motion.v, motion.a
        self.phh, self.phv, self.pha = motion.phh, motion.phv, motion.pha
        self.pvv, self.pva, self.paa = motion.pvv, motion.pva, motion.paa
        self.decay_s = decay_s
        self.may_open = may_open
        self.has_opened = False
        self.spike_m = 0.0
        self.pss = 0.0 if decay_s is None else SPIKE_SIGMA_M * SPIKE_SIGMA_M
        self.psh = self.psv = self.psa = 0.0
        self.log_share = log(share)

    def opened(self) -> "SpikedFilter":
        """The same, but held by a parachute since a moment ago."""
        held = SpikedFilter(self, self.decay_s, OPENED_SHARE)
        held.has_opened = True
        held.log_share += self.log_share
        held.spike_m, held.pss, held.psh = self.spike_m, self.pss, self.psh
        held.phh += (OPENED_WITHIN_S * self.v) ** 2
        held.v, held.a = OPENED_MPS, 0.0
        held.pvv, held.paa = OPENED_SIGMA_MPS**2, OPENED_SIGMA_MPS2**2
        held.phv = held.pha = held.pva = 0.0
        return held

    def predict(self, dt_s: float, jerk_density: float, jerk_mps3: float = 0.0, fade: float = 1.0) -> None:
        """Move on as `VerticalFilter` does; the gas leaves meanwhile."""
        super().predict(dt_s, jerk_density, jerk_mps3, fade)
        if self.decay_s is None:
            return
        left = exp(-dt_s / self.decay_s)
        psh, psv, psa = self.psh, self.psv, self.psa
        self.psh = left * (psh + dt_s * psv + 0.5 * dt_s * dt_s * psa)
        self.psv = left * (psv + dt_s * psa)
        self.psa = left * psa * fade
        strays = STRAYS_FRACTION * self.spike_m
        self.pss = left * left * self.pss + strays * strays * (1.0 - left * left)
        self.spike_m *= left

    def altitude_innovation(self, altitude_m: float, variance_m2: float) -> tuple[float, float]:
        """Innovation (m) of a reading, which is height and gas together, and its predicted variance (m^2)."""
        innovation = altitude_m - self.h - self.spike_m
        return innovation, self.phh + 2.0 * self.psh + self.pss + variance_m2

    def update_altitude(self, altitude_m: float, variance_m2: float) -> None:
        """Take in a reading (m) with its noise variance (m^2)."""
        y, spread = self.altitude_innovation(altitude_m, variance_m2)
        # covariance of each state with the reading
        ch, cv, ca, cs = self.phh + self.psh, self.phv + self.psv, self.pha + self.psa, self.psh + self.pss
        kh, kv, ka, ks = ch / spread, cv / spread, ca / spread, cs / spread
        self.h += kh * y
        self.v += kv * y
        self.a += ka * y
        self.spike_m += ks * y
        self.phh -= kh * ch
        self.phv -= kh * cv
        self.pha -= kh * ca
        self.pvv -= kv * cv
        self.pva -= kv * ca
        self.paa -= ka * ca
        self.psh -= ks * ch
        self.psv -= ks * cv
        self.psa -= ks * ca
        self.pss -= ks * cs


class ChargeSpike:
    """The bank, from the first reading that cannot be motion until the gas is gone."""

    def __init__(self, t_ms: float, motion: VerticalFilter, altitude_m: float, variance_m2: float) -> None:
        """`motion` is the state foretold for `t_ms`, which the reading `altitude_m` contradicts."""
        self._began_ms = t_ms
        size = abs(altitude_m - motion.h)
        share = GAS_SHARE / len(DECAYS_S)
        gas = [SpikedFilter(motion, decay_s, share) for decay_s in DECAYS_S]
        opening = [SpikedFilter(motion, decay_s, share, may_open=True) for decay_s in DECAYS_S]
        none = SpikedFilter(motion, None, NO_GAS_SHARE)
        wrong = SpikedFilter(motion, None, WRONG_FILTER_SHARE)
        wrong.loosen(size * size, min(size, WRONG_SPEED_MPS) ** 2, WRONG_ACCELERATION_MPS2**2)
        self._members = [*gas, *opening, none, wrong]
        self._weigh(altitude_m, variance_m2)

    def take(
        self,
        t_ms: float,
        altitude_m: float,
        variance_m2: float,
        predict: Callable[[VerticalFilter, float], None],
    ) -> None:
        """Take a reading; `predict` moves a member to its time at the jerk density that is given."""
        members = self._members
        likely = exp((self._began_ms - t_ms) / OPENS_WITHIN_MS)
        for member in members:
            if member.has_opened:
                predict(member, OPENED_JERK_DENSITY)
            else:
                predict(member, likely * opening_jerk_density(member.v) if member.may_open else 0.0)
        members += [m.opened() for m in members if not m.has_opened and m.v < -DIVE_MPS]
        innovations = [member.altitude_innovation(altitude_m, variance_m2) for member in members]
        least = min(y * y / spread for y, spread in innovations)
        rises = t_ms - self._began_ms <= RISES_MS
        if rises or (least > GATE_SIGMAS**2 and min(abs(y) for y, _ in innovations) > GATE_LEAST_M):
            # The gas still comes, or a second charge has fired.
            for member, (y, _) in zip(members, innovations, strict=True):
                if member.decay_s is not None:
                    member.pss += y * y
            if not rises:
                self._began_ms = t_ms
        self._weigh(altitude_m, variance_m2)

    def _weigh(self, altitude_m: float, variance_m2: float) -> None:
        members = self._members
        for member in members:
            y, spread = member.altitude_innovation(altitude_m, variance_m2)
            member.log_share -= 0.5 * (y * y / spread + log(spread))
            member.update_altitude(altitude_m, variance_m2)
        best = max(member.log_share for member in members)
        # A parachute may open at any moment, however long the fall went on as before: it is never thought less of.
        closed = {m.decay_s: m.log_share for m in members if not (m.may_open or m.has_opened)}
        for member in members:
            if member.may_open:
                member.log_share = max(member.log_share, closed.get(member.decay_s, member.log_share))
        # Of the moments at which it may have opened the likeliest stands for all.
        opened = {m.decay_s: m for m in sorted(members, key=lambda m: m.log_share) if m.has_opened}
        self._members = [
            m for m in members if m.log_share - best > log(LEAST_SHARE) and (not m.has_opened or opened[m.decay_s] is m)
        ]
        for member in self._members:
            member.log_share -= best
        shares = [exp(member.log_share) for member in self._members]
        whole = sum(shares)
        self._shares = [share / whole for share in shares]

    def motion(self) -> VerticalFilter:
        """Mean and covariance over the bank."""
        mixed = VerticalFilter(altitude_sigma_m=0.0, velocity_sigma_mps=0.0, acceleration_sigma_mps2=0.0)
        parts = list(zip(self._shares, self._members, strict=True))
        mixed.h = sum(share * m.h for share, m in parts)
        mixed.v = sum(share * m.v for share, m in parts)
        mixed.a = sum(share * m.a for share, m in parts)
        for share, m in parts:
            dh, dv, da = m.h - mixed.h, m.v - mixed.v, m.a - mixed.a
            mixed.phh += share * (m.phh + dh * dh)
            mixed.phv += share * (m.phv + dh * dv)
            mixed.pha += share * (m.pha + dh * da)
            mixed.pvv += share * (m.pvv + dv * dv)
            mixed.pva += share * (m.pva + dv * da)
            mixed.paa += share * (m.paa + da * da)
        return mixed

    def size_m(self) -> float:
        """How far the gas still moves the reading, m: its mean and standard deviation over the bank."""
        return sum(
            share * (abs(m.spike_m) + sqrt(m.pss))
            for share, m in zip(self._shares, self._members, strict=True)
            if m.decay_s is not None
        )

    def is_over(self, t_ms: float, variance_m2: float) -> bool:
        """The gas is gone, or it never was gas."""
        if t_ms - self._began_ms > LONGEST_MS:
            return True
        wrong = sum(share for share, m in zip(self._shares, self._members, strict=True) if m.decay_s is None)
        return wrong > SURE_SHARE or self.size_m() < GONE_SIGMAS * variance_m2**0.5


def opening_jerk_density(velocity_mps: float) -> float:
    """Jerk density (m^2/s^5) of a motion that a parachute may brake at any moment, at this speed."""
    return min(MOST_JERK_DENSITY, OPENING_JERK_DENSITY * (velocity_mps / OPENING_SPEED_MPS) ** 4)
