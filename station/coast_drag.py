"""Drag fitted on the way up: height, speed and drag of a coasting rocket, better known with every sample.

After burnout nothing acts but gravity and drag, so three numbers give the rest of the climb:

    dh/dt = v,  dv/dt = -g - k rise(M) rho(h)/rho_pad v^2

with k the drag per mass and speed squared at the pad's density (1/m), and `rise` what the nearness of the speed of
sound adds. They are tracked by an extended Kalman filter (Bar-Shalom, Li and Kirubarajan 2001, section 10.3, from
memory) on height, speed and ln k, which cannot turn negative. Much of k is unknown at burnout; each metre a second
lost tells more.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import exp, log, sqrt
from typing import Final

from station.atmosphere import G0_MPS2, LAPSE_K_PER_M, density_ratio, speed_of_sound_mps

# Drag per mass of a rocket that coasts at 150 m/s, 1/m at the pad's density, and how it goes with the speed: what is
# fast is heavy for its size (0.0004 to 0.0011 for two in three; common practice, no source).
USUAL_DRAG_PER_M: Final = 0.0006
USUAL_DRAG_AT_MPS: Final = 150.0
USUAL_DRAG_POWER: Final = -0.6
USUAL_DRAG_LN_SIGMA: Final = 0.6
LEAST_DRAG_PER_M: Final = 0.00005
# What a measured deceleration leaves open: the scale of the sensor, the angle to the air; near the speed of sound the
# rise of this rocket's drag.
DRAG_MEASURED_LN_SIGMA: Final = 0.06
DRAG_RISE_LN_SIGMA: Final = 0.25
# What the model leaves out: gusts, wobble, a changing angle to the air.
DRAG_LN_PER_ROOT_S: Final = 0.03
UNREST_MPS_PER_ROOT_S: Final = 0.12
GATE_SIGMAS: Final = 5.0
LONGEST_STEP_S: Final = 0.1
# A fit that refuses the heights for so long, or whose normalised innovations squared (1 on the mean for a right one)
# stay so large, is wrong itself.
REFUSED_LONGEST_S: Final = 0.6
LOST_NIS: Final = 4.0
NIS_FADE_S: Final = 0.4
# Mach number from which drag per speed squared is no constant. The factor on it goes up to 1.55 at Mach 1.1 and down
# again (the shape is common practice, no source).
RISE_FROM_MACH: Final = 0.8
DRAG_RISE = ((0.8, 1.0), (0.9, 1.12), (1.0, 1.45), (1.1, 1.55), (1.3, 1.5), (1.7, 1.3), (2.5, 1.1))
# A line through the last samples: what it leaves open of the speed now.
LINE_SIGMA_MPS: Final = 15.0
LINE_SLOWING_MPS2: Final = 20.0


def drag_rise(mach: float) -> float:
    """How many times its slow value the drag per speed squared is at a Mach number."""
    if mach <= RISE_FROM_MACH:
        return 1.0
    for (m0, f0), (m1, f1) in pairwise(DRAG_RISE):
        if mach < m1:
            return f0 + (f1 - f0) * (mach - m0) / (m1 - m0)
    return DRAG_RISE[-1][1]


def usual_drag_per_m(speed_mps: float) -> float:
    """Drag per mass and speed squared (1/m at the pad's density) thought likely of a rocket that coasts so fast."""
    share: float = (max(speed_mps, 20.0) / USUAL_DRAG_AT_MPS) ** USUAL_DRAG_POWER
    return USUAL_DRAG_PER_M * share


def mach_at(height_m: float, speed_mps: float, pad_kelvin: float) -> float:
    """Mach number of a speed at a height above the pad, for the pad's air temperature (K)."""
    return speed_mps / speed_of_sound_mps(max(200.0, pad_kelvin - LAPSE_K_PER_M * height_m))


class CoastDrag:
    """Mean and covariance of (height m, speed m/s, ln k) at `t_ms`, from `start_ms` on.

    `nis`: fading mean of the normalised innovations squared. `lost`: it does not describe this flight. `start_mps`,
    variance `pss`: the speed at `start_ms` as all heights since tell it, by a fixed-point smoother: that speed is a
    fourth, constant state whose covariances with the other three are carried along (Anderson and Moore 1979, section
    7.2, from memory). Its variance is honest where the drag was known well at the start, as an accelerometer tells it.
    """

    __slots__ = (
        "_refused_since_ms", "h", "kelvin", "ln_k", "lost", "nis", "phh", "phk", "phv", "pkk", "psh", "psk", "pss",
        "psv", "pvk", "pvv", "start_mps", "start_ms", "t_ms", "v",
    )  # fmt: skip

    def __init__(
        self, t_ms: float, altitude_m: float, velocity_mps: float, sigma_m: float, sigma_mps: float, pad_kelvin: float
    ) -> None:
        self.start_ms = self.t_ms = t_ms
        self.h = altitude_m
        self.v = self.start_mps = velocity_mps
        self.ln_k = log(usual_drag_per_m(velocity_mps))
        self.phh = sigma_m * sigma_m
        self.pvv = self.psv = self.pss = sigma_mps * sigma_mps
        self.pkk = USUAL_DRAG_LN_SIGMA * USUAL_DRAG_LN_SIGMA
        self.phv = self.phk = self.pvk = self.psh = self.psk = 0.0
        self.kelvin = pad_kelvin
        self.nis = 1.0
        self.lost = False
        self._refused_since_ms: float | None = None

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]], noise_m: float, pad_kelvin: float) -> "CoastDrag":
        """Begun from heights alone: a line through (ms, m), at least two of them, the last one now."""
        now_ms, _ = points[-1]
        n = len(points)
        ts = [(t - now_ms) / 1000.0 for t, _ in points]
        tm, hm = sum(ts) / n, sum(h for _, h in points) / n
        spread = sum((t - tm) ** 2 for t in ts)
        slope = sum((t - tm) * (h - hm) for t, (_, h) in zip(ts, points, strict=True)) / spread
        speed = slope + LINE_SLOWING_MPS2 * tm
        sigma = sqrt(noise_m * noise_m / spread) + LINE_SIGMA_MPS
        return cls(now_ms, hm - slope * tm, speed, 2.0 * noise_m + LINE_SIGMA_MPS * abs(tm), sigma, pad_kelvin)

    @property
    def drag_per_m(self) -> float:
        """k, 1/m at the pad's density."""
        return exp(self.ln_k)

    @property
    def mach(self) -> float:
        """Mach number of the vertical speed."""
        return mach_at(self.h, self.v, self.kelvin)

    def take_deceleration(self, acceleration_mps2: float, sigma_mps2: float) -> None:
        """Take in what a measured vertical acceleration (m/s^2, + up) says of k."""
        drag = -acceleration_mps2 - G0_MPS2
        mach = self.mach
        whole = density_ratio(self.h, self.kelvin) * drag_rise(mach) * self.v * self.v
        if drag < sigma_mps2 or whole <= 0.0:
            return
        variance = (sigma_mps2 / drag) ** 2 + DRAG_MEASURED_LN_SIGMA**2
        if mach > RISE_FROM_MACH:
            variance += DRAG_RISE_LN_SIGMA**2
        gain = self.pkk / (self.pkk + variance)
        self.ln_k += gain * (log(drag / whole) - self.ln_k)
        self.pkk *= 1.0 - gain

    def take(self, t_ms: float, altitude_m: float, variance_m2: float) -> None:
        """Move on to `t_ms` and take in a height (m) with its noise variance (m^2).

        A height far off the course (a charge's spike) is refused.
        """
        since_s = left = (t_ms - self.t_ms) / 1000.0
        while left > 1e-9:
            step = min(left, LONGEST_STEP_S)
            self._predict(step)
            left -= step
        self.t_ms = t_ms
        innovation = altitude_m - self.h
        spread = self.phh + variance_m2
        nis = innovation * innovation / spread
        if nis > GATE_SIGMAS * GATE_SIGMAS:
            if self._refused_since_ms is None:
                self._refused_since_ms = t_ms
            self.lost = self.lost or t_ms - self._refused_since_ms > 1000.0 * REFUSED_LONGEST_S
            return
        self._refused_since_ms = None
        self.nis += since_s / (since_s + NIS_FADE_S) * (nis - self.nis)
        kh, kv, kk = self.phh / spread, self.phv / spread, self.phk / spread
        self.h += kh * innovation
        self.v += kv * innovation
        self.ln_k += kk * innovation
        psh = self.psh
        ks = psh / spread
        self.start_mps += ks * innovation
        self.pss -= ks * psh
        self.psv -= kv * psh
        self.psk -= kk * psh
        keep = variance_m2 / spread
        self.pvv -= kv * self.phv
        self.pvk -= kv * self.phk
        self.pkk -= kk * self.phk
        self.phh *= keep
        self.phv *= keep
        self.phk *= keep
        self.psh = keep * psh
        self.lost = self.lost or self.nis > LOST_NIS or self.ln_k < log(LEAST_DRAG_PER_M)

    def _predict(self, dt: float) -> None:
        v = self.v
        kv = self.drag_per_m * density_ratio(self.h, self.kelvin) * abs(v)
        a = -G0_MPS2 - kv * v
        # Second order: the drag changes along the step with the speed.
        jerk = -2.0 * kv * a
        self.h += v * dt + 0.5 * a * dt * dt + jerk * dt * dt * dt / 6.0
        self.v = v + a * dt + 0.5 * jerk * dt * dt
        # F = [[1, dt, 0], [0, 1 - 2 k v dt, -k v^2 dt], [0, 0, 1]]
        fvv = 1.0 - 2.0 * kv * dt
        fvk = -kv * v * dt
        phv, phk, pvv, pvk, pkk = self.phv, self.phk, self.pvv, self.pvk, self.pkk
        hv = phv + dt * pvv
        hk = phk + dt * pvk
        vk = fvv * pvk + fvk * pkk
        self.phh += dt * phv + dt * hv
        self.phv = hv * fvv + hk * fvk
        self.phk = hk
        self.pvv = fvv * (fvv * pvv + fvk * pvk) + vk * fvk + UNREST_MPS_PER_ROOT_S * UNREST_MPS_PER_ROOT_S * dt
        self.pvk = vk
        self.psh += dt * self.psv
        self.psv = fvv * self.psv + fvk * self.psk
        self.pkk = pkk + DRAG_LN_PER_ROOT_S * DRAG_LN_PER_ROOT_S * dt


def way_to_top(altitude_m: float, velocity_mps: float, drag_per_m: float, pad_kelvin: float) -> tuple[float, float]:
    """(Seconds, metres) from here to the top of a coast at `velocity_mps` (> 0) with drag k (1/m at the pad).

    Fourth-order Runge-Kutta with the speed as the variable, from now to zero: it ends at the top exactly. With constant
    density this is the closed form of Fehskens and Malewicki, (1/2k) ln(1 + k v^2/g) and atan(v sqrt(k/g))/sqrt(k g).
    """
    steps = 16
    dv = velocity_mps / steps
    t = climbed = 0.0
    v = velocity_mps

    def slope(climbed_m: float, speed: float) -> tuple[float, float]:
        height = altitude_m + climbed_m
        slowing = drag_per_m * density_ratio(height, pad_kelvin) * speed * speed
        if speed > 230.0:
            slowing *= drag_rise(mach_at(height, speed, pad_kelvin))
        slowing += G0_MPS2
        return 1.0 / slowing, speed / slowing

    for _ in range(steps):
        t1, h1 = slope(climbed, v)
        t2, h2 = slope(climbed + 0.5 * dv * h1, v - 0.5 * dv)
        t3, h3 = slope(climbed + 0.5 * dv * h2, v - 0.5 * dv)
        t4, h4 = slope(climbed + dv * h3, v - dv)
        t += dv / 6.0 * (t1 + 2.0 * t2 + 2.0 * t3 + t4)
        climbed += dv / 6.0 * (h1 + 2.0 * h2 + 2.0 * h3 + h4)
        v -= dv
    return t, climbed
