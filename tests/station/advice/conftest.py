"""A flight made of known figures, for each piece of advice to be worked out from."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from station.advice import FlightFacts
from station.coast_fit import CoastFit
from station.coasting import Coasting
from station.flight_state import Basis, Deployment, Event, EventName, Verdict
from station.flown_curve import FlownCurve
from station.plan import FlightPlan
from station.records import ChannelState, Role
from station.stretch import Stretch

LIFTOFF_MS = 50_000.0
BurnoutAndTop = tuple[float, float, float]


def event(name: EventName, t_s: float, altitude_m: float = 0.0, velocity_mps: float = 0.0) -> Event:
    t_ms = LIFTOFF_MS + 1000.0 * t_s
    return Event(name, t_ms, altitude_m, velocity_mps, 0.03, Basis.ESTIMATED, t_ms)


@pytest.fixture
def make_facts() -> Callable[..., FlightFacts]:
    """Facts of the reference flight of the closed forms, whatever is given in place of its own.

    2 kg after burnout, 164.62 m/s at 2 s, top at 896.91 m and 13.0072 s.
    """

    def make(
        *,
        plan: FlightPlan | None = None,
        burnout_mps: float = 164.6211,
        touchdown_s: float | None = 80.0,
        **given: Any,
    ) -> FlightFacts:
        events = {
            EventName.LIFTOFF: event(EventName.LIFTOFF, 0.0),
            EventName.BURNOUT: event(EventName.BURNOUT, 2.0, 172.2135, burnout_mps),
            EventName.APOGEE: event(EventName.APOGEE, 13.0072, 896.9124),
        }
        if touchdown_s is not None:
            events[EventName.TOUCHDOWN] = event(EventName.TOUCHDOWN, touchdown_s)
        facts: dict[str, Any] = {
            "plan": plan or FlightPlan(),
            "by_motor": False,
            "events": events,
            "deployments": (),
            "stretches": (),
            "curve": None,
            "coasting": None,
            "out_in_the_climb": False,
            "max_speed_mps": burnout_mps,
            "pad_pressure_pa": 101_325.0,
            "pad_kelvin": 288.15,
        }
        return FlightFacts(**(facts | given))

    return make


@pytest.fixture
def make_coasting() -> Callable[..., Coasting]:
    """A coast with a drag per mass and speed squared (1/m); by default that of the reference flight."""

    def make(drag_per_m: float = 0.001623565 / 2.0, *, sigma_share: float = 0.02, top_s: float = 13.0072) -> Coasting:
        fit = CoastFit(2.3, 220.0, 155.0, drag_per_m, np.eye(3) * 1e-12, 0.3)
        return Coasting(fit, 2.3, 13.0, 155.0, drag_per_m, sigma_share * drag_per_m, top_s, 0.04, 896.9)

    return make


@pytest.fixture
def make_curve() -> Callable[..., FlownCurve]:
    """A climb at one gain of force (m/s^2) for `burn_s`, a sample every `period_s`, the speed of sound as told."""

    def make(
        gain_mps2: float, *, burn_s: float = 2.0, period_s: float = 0.02, sound_mps: float = 340.294, force: bool = True
    ) -> FlownCurve:
        t = np.arange(-1.0, 13.0, period_s)
        burnt = np.clip(t, 0.0, burn_s)
        velocity = np.maximum(0.0, gain_mps2 * burnt - 9.80665 * np.maximum(0.0, t - burn_s))
        gained = np.where(t < 0.0, 0.0, np.where(t < burn_s, gain_mps2, -9.80665))
        height = np.concatenate([[0.0], np.cumsum(0.5 * (velocity[1:] + velocity[:-1]) * np.diff(t))])
        n = len(t)
        return FlownCurve(
            t,
            height,
            np.full(n, 0.3),
            gained if force else np.full(n, np.nan),
            velocity,
            np.full(n, sound_mps),
        )

    return make


@pytest.fixture
def make_deployment() -> Callable[..., Deployment]:
    """A parachute that took hold at a time (s from liftoff) and speed (m/s, + up)."""

    def make(
        role: Role = Role.MAIN,
        *,
        opened_s: float | None = 14.0,
        velocity_mps: float | None = -9.0,
        verdict: Verdict = Verdict.CONFIRMED,
        **given: Any,
    ) -> Deployment:
        values: dict[str, Any] = {
            "role": role,
            "channel": None,
            "charge": None,
            "fired_t_ms": None,
            "fired_altitude_m": None,
            "fired_velocity_mps": None,
            "opened_t_ms": None if opened_s is None else LIFTOFF_MS + 1000.0 * opened_s,
            "opened_altitude_m": 890.0,
            "rate_before_mps": None,
            "rate_after_mps": 6.0,
            "verdict": verdict,
            "reasons": (),
            "opened_sigma_s": 0.2,
            "opened_velocity_mps": velocity_mps,
            "opened_velocity_sigma_mps": 1.0,
        }
        return Deployment(**(values | given))

    return make


@pytest.fixture
def make_stretch() -> Callable[..., Stretch]:
    """A steady descent at a rate (m/s at the pad's density) from a time (s from liftoff) on."""

    def make(rate_mps: float, opened_s: float = 14.0, steady_s: float = 40.0) -> Stretch:
        opened_ms = LIFTOFF_MS + 1000.0 * opened_s
        return Stretch(
            opened_ms, opened_ms + 1000.0 * steady_s, opened_ms, 0.2, 890.0, 9.0, rate_mps, 0.1, steady_s, opened_ms,
            rate_mps,
        )  # fmt: skip

    return make


@pytest.fixture
def live_charge() -> dict[str, Any]:
    """A channel that is ready still."""
    return {"channel": 2, "charge": ChannelState.READY}
