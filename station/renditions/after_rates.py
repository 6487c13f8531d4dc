"""How fast a rocket came down before and after a parachute, with the error, from the whole record. Pure."""

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from station.advice.held_rates import rate_sigma
from station.advice.wording import with_bar
from station.flight_state import Deployment, EventName, Verdict
from station.records import Role
from station.stretch import Stretch
from station.whole_flight import WholeFlight

NEAR_OPENING_MS = 1500.0
# Slower than this it hardly moves.
HARDLY_MPS = 1.0
# What is read off the curve where nothing held: over so long at most, and not just as it opens or lands.
LONGEST_S = 4.0
JUST_BEFORE_S = 0.5
CLEAR_S = 0.2
LEAST_ROWS = 3


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate of descent (m/s, + down) with its standard deviation, seen between two moments (s from liftoff).

    `at_pad`: brought to the density of the air at the pad.
    """

    mps: float
    sigma_mps: float
    from_s: float
    to_s: float
    at_pad: bool


def rates_of(flight: WholeFlight, d: Deployment) -> tuple[Rate | None, Rate | None]:
    """(Before, after) a parachute took hold, or should have; None for what was not seen."""
    held = _held(flight, d)
    above = _under_the_drogue(flight, d)
    moment_ms = d.opened_t_ms if d.opened_t_ms is not None else d.fired_t_ms
    before = None if moment_ms is None else _before(flight, d, moment_ms)
    if before is not None and above is not None and above.to_s > before.from_s - CLEAR_S:
        before = replace(above, to_s=min(above.to_s, before.to_s))
    if held is not None:
        return before, _steady(flight, held)
    if d.verdict in (Verdict.NOT_FIRED, Verdict.NO_EFFECT) and above is not None:
        return before, above  # nothing came of it: the rocket came down on under the drogue
    if d.rate_after_mps is None:
        return before, None
    return before, _read_off(flight, d, d.rate_after_mps)


def _under_the_drogue(flight: WholeFlight, d: Deployment) -> Rate | None:
    """The rate told of the drogue, where it is the main that is asked about: one figure for one fall."""
    if d.role is not Role.MAIN:
        return None
    drogue = next((one for one in flight.report.deployments if one.role is Role.DROGUE), None)
    if drogue is None or drogue.verdict not in (Verdict.CONFIRMED, Verdict.TOO_FAST):
        return None
    return rates_of(flight, drogue)[1]


def in_short(found: Rate) -> str:
    """A rate in a few words, as sure as it is: "18.6 ± 0.7 m/s", or "less than 21 m/s"."""
    if is_hardly_known(found):
        return f"less than {most_mps(found)} m/s"
    return with_bar(found.mps, found.sigma_mps, "m/s").replace(" m/s ±", " ±")


def is_hardly_known(found: Rate) -> bool:
    """Its error is as large as itself, or it hardly moves."""
    return abs(found.mps) < max(HARDLY_MPS, 2.0 * found.sigma_mps)


def most_mps(found: Rate) -> int:
    """What it was at most, m/s, whole."""
    return ceil(abs(found.mps) + 2.0 * found.sigma_mps)


def _held(flight: WholeFlight, d: Deployment) -> Stretch | None:
    at_ms = d.opened_t_ms
    if at_ms is None:
        return None
    near = [
        (abs(s.opened_ms - at_ms), s)
        for s in flight.report.stretches
        if s.opened_ms is not None and s.is_steady and s.rate_mps is not None
    ]
    off_ms, stretch = min(near, key=lambda one: one[0], default=(np.inf, None))
    return stretch if off_ms < NEAR_OPENING_MS else None


def _steady(flight: WholeFlight, stretch: Stretch) -> Rate:
    assert stretch.rate_mps is not None
    end_s = _seconds(flight, stretch.end_ms)
    touchdown_s = _touchdown_s(flight)
    end_s = min(end_s, touchdown_s, flight.end_s)
    return Rate(stretch.rate_mps, rate_sigma(stretch), max(0.0, end_s - stretch.steady_s), end_s, at_pad=True)


def _before(flight: WholeFlight, d: Deployment, moment_ms: float) -> Rate | None:
    """Under what held until then, else the speed just before."""
    until_s = _seconds(flight, moment_ms)
    if d.rate_before_mps is not None:
        for stretch in flight.report.stretches:
            ends_near = (
                abs(stretch.end_ms - moment_ms) < NEAR_OPENING_MS or stretch.start_ms < moment_ms < stretch.end_ms
            )
            if stretch.opened_ms is not None and stretch.opened_ms < moment_ms and stretch.is_steady and ends_near:
                rate = _steady(flight, stretch)
                return Rate(rate.mps, rate.sigma_mps, rate.from_s, min(rate.to_s, until_s), at_pad=True)
    if d.opened_t_ms is not None and d.opened_velocity_mps is not None and _comes_first(flight, d):
        return Rate(-d.opened_velocity_mps, d.opened_velocity_sigma_mps or 0.0, until_s - JUST_BEFORE_S, until_s, False)
    sure_s = CLEAR_S + 2.0 * (d.opened_sigma_s or 0.0 if d.opened_t_ms is not None else 0.0)
    return _mean(flight, until_s - sure_s - JUST_BEFORE_S, until_s - sure_s)


def _comes_first(flight: WholeFlight, d: Deployment) -> bool:
    """Until then the rocket was in one piece, so that the coast tells its speed."""
    return d.role is Role.DROGUE or len(flight.report.deployments) == 1


def _read_off(flight: WholeFlight, d: Deployment, rate_mps: float) -> Rate | None:
    """The rate that the verdict goes by, with its error from the curve before the next opening or the ground."""
    from_s = 0.0 if d.fired_t_ms is None else _seconds(flight, d.fired_t_ms)
    later = [
        _seconds(flight, s.opened_ms)
        for s in flight.report.stretches
        if s.opened_ms is not None and _seconds(flight, s.opened_ms) > from_s + 2.0
    ]
    apogee = next((e for e in flight.report.events if e.name is EventName.APOGEE), None)
    if d.fired_t_ms is None:
        later = []
        from_s = 0.0 if apogee is None else flight.seconds(apogee)
    end_s = min([*later, _touchdown_s(flight), flight.end_s]) - 2.0 * CLEAR_S
    seen = _mean(flight, max(from_s, end_s - LONGEST_S), end_s)
    return None if seen is None else Rate(rate_mps, seen.sigma_mps, seen.from_s, seen.to_s, at_pad=False)


def _mean(flight: WholeFlight, from_s: float, to_s: float) -> Rate | None:
    """The mean speed down; its deviation tells how it changed meanwhile too. None where the curve has no samples."""
    curve = flight.curve
    rows = (curve.t_s >= from_s) & (curve.t_s <= to_s)
    if int(rows.sum()) < LEAST_ROWS:
        return None
    speeds = -curve.velocity_mps[rows]
    sigma = float(np.hypot(speeds.std(), curve.velocity_sigma_mps[rows].mean()))
    return Rate(float(speeds.mean()), sigma, from_s, to_s, at_pad=False)


def _touchdown_s(flight: WholeFlight) -> float:
    return next((flight.seconds(e) for e in flight.report.events if e.name is EventName.TOUCHDOWN), np.inf)


def _seconds(flight: WholeFlight, t_ms: float) -> float:
    return (t_ms - flight.liftoff_ms) / 1000.0
