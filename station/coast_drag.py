"""Drag fitted on the way up: height, speed and drag of a coasting rocket, better known with every sample.

After burnout nothing acts but gravity and drag, so three numbers give the rest of the climb (see `outlook`):

    dh/dt = v,  dv/dt = -g - k rho(h)/rho_pad v |v|

with k the drag per mass and speed squared at the pad's density (1/m). They are tracked by an extended Kalman filter
(Bar-Shalom, Li and Kirubarajan 2001, section 10.3, from memory) on height, speed and ln k, which cannot turn negative.
Much of k is unknown at burnout; each metre of speed lost tells more of it.
"""

from math import exp, log

from station.atmosphere import G0_MPS2, density_ratio

# Drag per mass of club rockets, 1/m at the pad's density: half of them between 0.0004 and 0.0011 (common practice,
# no source).
USUAL_DRAG_PER_M = 0.00065
USUAL_DRAG_LN_SIGMA = 0.75
# What the model leaves out: gusts, wobble, a changing angle to the air.
DRAG_LN_PER_ROOT_S = 0.03
UNREST_MPS_PER_ROOT_S = 0.12
GATE_SIGMAS = 5.0
LONGEST_STEP_S = 0.1
# A fit that refuses the heights for this long is wrong itself.
REFUSED_LONGEST_S = 0.6


class CoastDrag:
    """Mean and covariance of (height m, speed m/s, ln k) at `t_ms`."""

    __slots__ = (
        "_refused_since_ms", "h", "kelvin", "ln_k", "lost", "phh", "phk", "phv", "pkk", "pvk", "pvv", "t_ms", "v",
    )  # fmt: skip

    def __init__(
        self, t_ms: float, altitude_m: float, velocity_mps: float, sigma_m: float, sigma_mps: float, pad_kelvin: float
    ) -> None:
        self.t_ms = t_ms
        self.h = altitude_m
        self.v = velocity_mps
        self.ln_k = log(USUAL_DRAG_PER_M)
        self.phh = sigma_m * sigma_m
        self.pvv = sigma_mps * sigma_mps
        self.pkk = USUAL_DRAG_LN_SIGMA * USUAL_DRAG_LN_SIGMA
        self.phv = self.phk = self.pvk = 0.0
        self.kelvin = pad_kelvin
        self.lost = False
        self._refused_since_ms: float | None = None

    @property
    def drag_per_m(self) -> float:
        """k, 1/m at the pad's density."""
        return exp(self.ln_k)

    def take(self, t_ms: float, altitude_m: float, variance_m2: float) -> None:
        """Move on to `t_ms` and take in a height (m) with its noise variance (m^2).

        A height far off the course (a charge's spike) is refused; refused for long, the fit calls itself `lost`.
        """
        left = (t_ms - self.t_ms) / 1000.0
        while left > 1e-9:
            step = min(left, LONGEST_STEP_S)
            self._predict(step)
            left -= step
        self.t_ms = t_ms
        innovation = altitude_m - self.h
        spread = self.phh + variance_m2
        if innovation * innovation > GATE_SIGMAS * GATE_SIGMAS * spread:
            if self._refused_since_ms is None:
                self._refused_since_ms = t_ms
            self.lost = t_ms - self._refused_since_ms > 1000.0 * REFUSED_LONGEST_S
            return
        self._refused_since_ms = None
        kh, kv, kk = self.phh / spread, self.phv / spread, self.phk / spread
        self.h += kh * innovation
        self.v += kv * innovation
        self.ln_k += kk * innovation
        keep = variance_m2 / spread
        self.pvv -= kv * self.phv
        self.pvk -= kv * self.phk
        self.pkk -= kk * self.phk
        self.phh *= keep
        self.phv *= keep
        self.phk *= keep

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
        phh, phv, phk, pvv, pvk, pkk = self.phh, self.phv, self.phk, self.pvv, self.pvk, self.pkk
        hv = phv + dt * pvv
        hk = phk + dt * pvk
        vk = fvv * pvk + fvk * pkk
        self.phh = phh + dt * phv + dt * hv
        self.phv = hv * fvv + hk * fvk
        self.phk = hk
        self.pvv = fvv * (fvv * pvv + fvk * pvk) + vk * fvk + UNREST_MPS_PER_ROOT_S * UNREST_MPS_PER_ROOT_S * dt
        self.pvk = vk
        self.pkk = pkk + DRAG_LN_PER_ROOT_S * DRAG_LN_PER_ROOT_S * dt


def way_to_top(altitude_m: float, velocity_mps: float, drag_per_m: float, pad_kelvin: float) -> tuple[float, float]:
    """(Seconds, metres) from here to the top of a coast at `velocity_mps` (> 0) with drag k (1/m at the pad).

    Fourth-order Runge-Kutta with the speed as the variable, from now to zero: it ends at the top exactly, and 16 steps
    are good to 1e-5 of the height. With constant density this is the closed form of Fehskens and Malewicki.
    """
    steps = 16
    dv = velocity_mps / steps
    t = climbed = 0.0
    v = velocity_mps

    def slope(climbed_m: float, speed: float) -> tuple[float, float]:
        slowing = G0_MPS2 + drag_per_m * density_ratio(altitude_m + climbed_m, pad_kelvin) * speed * speed
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
