"""Kalman filter on altitude, vertical velocity and vertical acceleration, with irregular steps.

Model: the acceleration is a random walk driven by white jerk of spectral density q (m^2/s^5), so that over a step
of dt seconds

    F = [[1, dt, dt^2/2], [0, 1, dt], [0, 0, 1]]
    Q = q [[dt^5/20, dt^4/8, dt^3/6], [dt^4/8, dt^3/3, dt^2/2], [dt^3/6, dt^2/2, dt]]

(Bar-Shalom, Li and Kirubarajan 2001, section 6.2.3, continuous Wiener process acceleration model; from memory).
A gap is one long step: the covariance grows by itself. Measurements are scalars, taken one at a time, so
no matrix library is needed and a step costs a few microseconds in plain Python; the covariance is kept as its six
distinct elements, symmetric by construction.
"""

from math import sqrt

from station.flight_state import Estimate
from station.records import new_tuple


class VerticalFilter:
    """Mean and covariance of (altitude m, velocity m/s, acceleration m/s^2) at one time."""

    __slots__ = ("a", "h", "paa", "pha", "phh", "phv", "pva", "pvv", "v")

    def __init__(
        self,
        altitude_m: float = 0.0,
        velocity_mps: float = 0.0,
        acceleration_mps2: float = 0.0,
        *,
        altitude_sigma_m: float = 1.0,
        velocity_sigma_mps: float = 1.0,
        acceleration_sigma_mps2: float = 1.0,
    ) -> None:
        self.h = altitude_m
        self.v = velocity_mps
        self.a = acceleration_mps2
        self.phh = altitude_sigma_m * altitude_sigma_m
        self.pvv = velocity_sigma_mps * velocity_sigma_mps
        self.paa = acceleration_sigma_mps2 * acceleration_sigma_mps2
        self.phv = self.pha = self.pva = 0.0

    def copied(self) -> "VerticalFilter":
        """Another with the same mean and covariance."""
        other = VerticalFilter(self.h, self.v, self.a)
        other.phh, other.phv, other.pha = self.phh, self.phv, self.pha
        other.pvv, other.pva, other.paa = self.pvv, self.pva, self.paa
        return other

    def predict(self, dt_s: float, jerk_density: float, jerk_mps3: float = 0.0, fade: float = 1.0) -> None:
        """Move on by `dt_s` seconds; `jerk_density` is q (m^2/s^5), `jerk_mps3` a known mean jerk.

        Only the share `fade` of an error in the acceleration is left after it, as where drag settles it.
        """
        dt = dt_s
        half = 0.5 * dt * dt
        a = self.a
        self.h += self.v * dt + a * half + jerk_mps3 * half * dt / 3.0
        self.v += a * dt + jerk_mps3 * half
        self.a = a + jerk_mps3 * dt
        phv, pha, pvv, pva, paa = self.phv, self.pha, self.pvv, self.pva, self.paa
        # rows of F P, then (F P) F^T, written out for the upper triangle
        fhv = phv + dt * pvv + half * pva
        fha = pha + dt * pva + half * paa
        fva = pva + dt * paa
        q1 = jerk_density * dt
        q2 = q1 * dt
        q3 = q2 * dt
        self.phh += dt * phv + half * pha + dt * fhv + half * fha + q3 * dt * dt * 0.05
        self.phv = fhv + dt * fha + q3 * dt * 0.125
        self.pha = (fha + q3 / 6.0) * fade
        self.pvv = pvv + dt * pva + dt * fva + q3 / 3.0
        self.pva = (fva + q2 * 0.5) * fade
        self.paa = (paa + q1) * (fade * fade)

    def altitude_innovation(self, altitude_m: float, variance_m2: float) -> tuple[float, float]:
        """Innovation (m) of an altitude measurement and its predicted variance (m^2)."""
        return altitude_m - self.h, self.phh + variance_m2

    def update_altitude(self, altitude_m: float, variance_m2: float) -> None:
        """Take in an altitude measurement (m) with its noise variance (m^2)."""
        phh, phv, pha = self.phh, self.phv, self.pha
        s = 1.0 / (phh + variance_m2)
        y = altitude_m - self.h
        kh, kv, ka = phh * s, phv * s, pha * s
        self.h += kh * y
        self.v += kv * y
        self.a += ka * y
        keep = variance_m2 * s
        self.phh = keep * phh
        self.phv = keep * phv
        self.pha = keep * pha
        self.pvv -= kv * phv
        self.pva -= kv * pha
        self.paa -= ka * pha

    def acceleration_innovation(self, acceleration_mps2: float, variance: float) -> tuple[float, float]:
        """Innovation (m/s^2) of an acceleration measurement and its predicted variance ((m/s^2)^2)."""
        return acceleration_mps2 - self.a, self.paa + variance

    def update_acceleration(self, acceleration_mps2: float, variance: float) -> None:
        """Take in a vertical-acceleration measurement (m/s^2) with its noise variance ((m/s^2)^2)."""
        pha, pva, paa = self.pha, self.pva, self.paa
        s = 1.0 / (paa + variance)
        y = acceleration_mps2 - self.a
        kh, kv, ka = pha * s, pva * s, paa * s
        self.h += kh * y
        self.v += kv * y
        self.a += ka * y
        self.phh -= kh * pha
        self.phv -= kh * pva
        self.pvv -= kv * pva
        keep = variance * s
        self.pha = keep * pha
        self.pva = keep * pva
        self.paa = keep * paa

    def loosen(self, altitude_m2: float, velocity_m2ps2: float, acceleration_m2ps4: float) -> None:
        """Add variance after something the model does not describe (ignition, a long run of refusals)."""
        self.phh += altitude_m2
        self.pvv += velocity_m2ps2
        self.paa += acceleration_m2ps4

    def allow_step(self, sigma_mps2: float, lag_s: float) -> None:
        """Allow for a step of acceleration (standard deviation m/s^2) that happened `lag_s` ago."""
        q = sigma_mps2 * sigma_mps2
        moved = 0.5 * lag_s * lag_s
        self.phh += q * moved * moved
        self.phv += q * moved * lag_s
        self.pha += q * moved
        self.pvv += q * lag_s * lag_s
        self.pva += q * lag_s
        self.paa += q

    def estimate(self, t_ms: float) -> Estimate:
        """The state as a value, at time `t_ms` of the flight's time line."""
        phh, pvv, paa = self.phh, self.pvv, self.paa
        return new_tuple(
            Estimate,
            (
                t_ms,
                self.h,
                self.v,
                self.a,
                sqrt(phh) if phh > 0.0 else 0.0,
                sqrt(pvv) if pvv > 0.0 else 0.0,
                sqrt(paa) if paa > 0.0 else 0.0,
            ),
        )
