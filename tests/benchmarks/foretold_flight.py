"""Fly one virtual flight through the pipeline; hold what it foretold, and when it warned, against the truth.

The warning is due from the moment of evidence, which the true motion gives (`signs_s`): the rocket, brought to the
air density of the pad, falls plainly (`SURE_MPS`) faster than `BARE_MPS`; or it is `MAIN_TAKES_S` past the main's
height (one parachute: `ONE_PARACHUTE_TAKES_S` past apogee; height not known: `LOW_M` up) and still plainly faster than
`UNDER_MAIN_MPS`. Either must last for `WARN_WITHIN_S`, so that there is time to warn.
A good flight is one that stays clear of all that: never over `GOOD_MPS`, and slow in good time.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from station.atmosphere import isa_to_true_ratio
from station.deployment_evidence import judge_deployments
from station.fast_descent import BARE_MPS, LOW_M, MAIN_TAKES_S, ONE_PARACHUTE_TAKES_S, UNDER_MAIN_MPS
from station.flight_state import Deployment, Outlook
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.records import Role
from station.virtual.air import GRAVITY_MPS2, Array
from station.virtual.random_flights import random_setup
from station.virtual.virtual_flight import VirtualFlight, fly_setup
from station.wire import LineFramer

WARN_WITHIN_S = 1.5
SURE_MPS = 1.5
GOOD_MPS = 31.0
GOOD_MAIN_TAKES_S = 1.6
LOOK_EVERY_S = 0.1
SHARES = (0.25, 0.5, 0.75)
COVERED_SHARE = 0.6
LONGEST_HOLE_S = 0.7
PLANNED_RATE_SPREAD = 0.07


@dataclass(slots=True)
class Foretold:
    """`errors`: row -> [(error, sigma)]. `warned_s` and `evidence_s`: seconds of the recording, None for never."""

    seed: int
    fault: str
    errors: dict[str, tuple[float, float]] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    good: bool = False
    evidence_s: float | None = None
    first_sign_s: float | None = None
    covered: bool = False
    warned_s: float | None = None
    warned_again: int = 0


@dataclass(frozen=True, slots=True)
class _Ask:
    """At `t_s` the outlook's `part` should say `truth`."""

    t_s: float
    row: str
    part: str
    truth: float
    since_s: float


def foretell(job: tuple[int, str, float]) -> Foretold:
    """Fly and compare: (seed, class of fault, sigma of the strongest vertical gusts m/s). Deterministic."""
    seed, fault, thermals_mps = job
    chance = random.Random(seed)
    setup = random_setup(seed, fault)
    setup = replace(setup, day=replace(setup.day, vertical_gust_mps=chance.uniform(0.05, thermals_mps)))
    flight = fly_setup(setup, seed, fault)
    result = Foretold(seed, fault)
    truth = flight.truth
    if truth.liftoff_t_s is None or truth.apogee_t_s is None or truth.touchdown_t_s is None:
        return result
    plan = _plan(flight, chance) if chance.random() < 0.5 else None
    pipeline = Pipeline(air_temperature_c=setup.day.pad_temperature_c, plan=plan)
    asks = sorted(_asks(flight, plan is not None), key=lambda ask: ask.t_s)
    framer = LineFramer()
    next_s = judge_s = truth.apogee_t_s - 5.0
    deployments: tuple[Deployment, ...] = ()
    warned = False
    known_m: float | None = None
    for sent in flight.lines:
        while asks and sent.t_s > asks[0].t_s:
            ask = asks.pop(0)
            if _covered(flight, ask.since_s, ask.t_s):
                _compare(result, flight, ask, pipeline.snapshot().outlook)
        for line in framer.feed(sent.data):
            pipeline.take_line(line, round(sent.t_s * 1e6))
        if sent.t_s > next_s:
            next_s = sent.t_s + LOOK_EVERY_S
            if sent.t_s > judge_s:
                # Once a second is enough here: the warning asks them only which parachutes are planned.
                judge_s = sent.t_s + 1.0
                deployments = judge_deployments(pipeline.facts(over=False))
            warns = any(alert.code == "fast_descent" for alert in pipeline.alerts(deployments, over=False))
            if sent.t_s < truth.apogee_t_s + WARN_WITHIN_S:
                known_m = pipeline.main_height_m  # what it hears later comes too late
            if warns and not warned:
                if result.warned_s is None:
                    result.warned_s = sent.t_s
                else:
                    result.warned_again += 1
            warned = warns
    result.good = _is_good(flight)
    result.first_sign_s, result.evidence_s = signs_s(flight, known_m)
    at_s = result.evidence_s
    result.covered = at_s is not None and _covered(flight, at_s - 2.0, at_s + WARN_WITHIN_S) and _seen(flight, at_s)
    return result


def _plan(flight: VirtualFlight, chance: random.Random) -> FlightPlan | None:
    """A plan whose main rate is about what the whole main would make it."""
    setup = flight.setup
    main, drogue = setup.recovery.main, setup.recovery.drogue
    if main is None or setup.motor is None:
        return None
    area = main.drag_area_m2 + setup.rocket.tumbling_drag_area_m2 + (drogue.drag_area_m2 if drogue else 0.0)
    mass = setup.rocket.dry_mass_kg + setup.motor.case_mass_kg
    rate = (2.0 * mass * GRAVITY_MPS2 / (setup.day.pad_density_kgm3 * area)) ** 0.5
    return FlightPlan(main_rate_mps=rate * chance.gauss(1.0, PLANNED_RATE_SPREAD))


def _density_scale(flight: VirtualFlight, altitude_m: Array) -> Array:
    """Factor from a falling speed at a height to that of the same drag at the pad (ideal-gas law)."""
    day = flight.setup.day
    kelvin = day.pad_temperature_k - 0.0065 * altitude_m
    ratio = day.pressure_pa(altitude_m) / kelvin * day.pad_temperature_k / day.pad_pressure_pa
    return np.asarray(np.sqrt(ratio))


def _main_height_m(flight: VirtualFlight) -> float | None:
    """Where the altimeter fires the main, true metres."""
    unit, day = flight.setup.altimeter, flight.setup.day
    if unit.main_altitude_m is None:
        return None
    return unit.main_altitude_m * isa_to_true_ratio(day.pad_pressure_pa, day.pad_temperature_c)


# -- what is foretold --------------------------------------------------------------------------------------------


def _asks(flight: VirtualFlight, planned: bool) -> Iterable[_Ask]:
    truth = flight.truth
    burnout, apogee, touchdown = truth.burnout_t_s, truth.apogee_t_s, truth.touchdown_t_s
    assert burnout is not None
    assert apogee is not None
    assert truth.apogee_m is not None
    assert touchdown is not None
    liftoff = truth.liftoff_t_s or 0.0
    stretched = [p.stretched_t_s for p in (truth.drogue, truth.main) if p.stretched_t_s is not None]
    climbs_free = not any(t < apogee for t in stretched)
    speeds = truth.velocity_mps / flight.setup.day.sound_speed_mps(truth.altitude_m)
    if climbs_free and truth.restart_t_s is None:
        for share in SHARES:
            t = burnout + share * (apogee - burnout)
            fast = float(np.interp(t, truth.t_s, speeds)) > 0.75
            name = f"{share:.0%} of the coast" + (", over Mach 0.75" if fast else "")
            yield _Ask(t, f"apogee time at {name}", "apogee_t", apogee, liftoff - 1.0)
            yield _Ask(t, f"apogee altitude at {name}", "apogee_altitude", truth.apogee_m, liftoff - 1.0)
    main_m = _main_height_m(flight)
    drogue, main = truth.drogue, truth.main
    dual = flight.setup.altimeter.channel_1_role is Role.DROGUE
    if truth.restart_t_s is not None:
        return
    if dual and drogue.settled_t_s is not None and drogue.rate_mps is not None and main_m is not None:
        below = (truth.t_s > drogue.settled_t_s) & (truth.altitude_m < main_m)
        crossed = float(truth.t_s[int(np.argmax(below))])
        main_comes = main.took_hold_t_s is not None and 0.0 < main.took_hold_t_s - crossed < 3.0 and _slows(flight)
        for share in SHARES:
            t = drogue.settled_t_s + share * (crossed - drogue.settled_t_s)
            yield _Ask(t, f"main height at {share:.0%} of the drogue's fall", "main_height_t", crossed, t - 2.0)
            if main_comes:
                kind = "main's rate planned" if planned else "no plan"
                row = f"touchdown at {share:.0%} of the drogue's fall, {kind}"
                yield _Ask(t, row, "touchdown_t", touchdown, t - 2.0)
    if not drogue.opened and not main.opened:
        for share in SHARES[1:]:
            t = apogee + share * (touchdown - apogee)
            yield _Ask(t, f"touchdown at {share:.0%} of a bare fall", "touchdown_t", touchdown, t - 2.0)
    last = main if main.settled_t_s is not None else None
    if last is not None and last.settled_t_s is not None:
        for share in SHARES:
            t = last.settled_t_s + share * (touchdown - last.settled_t_s)
            yield _Ask(t, f"touchdown at {share:.0%} of the main's fall", "touchdown_t", touchdown, t - 2.0)


def _slows(flight: VirtualFlight) -> bool:
    rate = flight.truth.main.rate_mps
    return rate is not None and rate < 9.5


def _compare(result: Foretold, flight: VirtualFlight, ask: _Ask, outlook: Outlook | None) -> None:
    suffix = ("_m", "_sigma_m") if ask.part == "apogee_altitude" else ("_ms", "_sigma_s")
    value = None if outlook is None else getattr(outlook, ask.part + suffix[0])
    if outlook is None or value is None:
        result.missing.append(ask.row)
        return
    sigma = getattr(outlook, ask.part + suffix[1])
    if ask.part == "apogee_altitude":
        error = value - ask.truth
    else:
        # Where the altimeter's clock wraps before it is first heard, the two count from different starts.
        late_ms = value - flight.truth.t_ms_of(ask.truth)
        error = ((late_ms + 2.0**31) % 2.0**32 - 2.0**31) / 1000.0
    result.errors[ask.row] = (error, sigma)


# -- the warning -------------------------------------------------------------------------------------------------


def signs_s(flight: VirtualFlight, known_main_m: float | None) -> tuple[float | None, float | None]:
    """When the true motion first looks as if no parachute slowed it, and when it plainly begins to for long."""
    truth = flight.truth
    assert truth.apogee_t_s is not None
    t, altitude, fall = truth.t_s, truth.altitude_m, -truth.velocity_mps
    speed = fall * _density_scale(flight, altitude)
    falling = (t > truth.apogee_t_s) & (t < (truth.touchdown_t_s or 0.0) - 0.05)
    bare = falling & (speed > BARE_MPS + SURE_MPS)
    unit = flight.setup.altimeter
    if unit.channel_1_role is Role.DROGUE:
        below = falling & (altitude < (LOW_M if known_main_m is None else known_main_m))
        takes_s = 0.0 if known_main_m is None else MAIN_TAKES_S
        due_s = float(t[int(np.argmax(below))]) + takes_s if bool(below.any()) else np.inf
    else:
        due_s = truth.apogee_t_s + ONE_PARACHUTE_TAKES_S
    overdue = falling & (speed > UNDER_MAIN_MPS + SURE_MPS) & (t > due_s)
    lasts = round(WARN_WITHIN_S / unit.period_s)
    shown = bare | overdue
    evidence = (k for k in np.flatnonzero(shown) if k + lasts < len(t) and bool(shown[k : k + lasts].all()))
    signs = falling & ((speed > BARE_MPS - SURE_MPS) | ((speed > UNDER_MAIN_MPS - SURE_MPS) & (t > due_s)))
    found = (next(iter(np.flatnonzero(signs)), None), next(evidence, None))
    first, lasting = (None if k is None else float(t[k]) for k in found)
    return first, lasting


def _is_good(flight: VirtualFlight) -> bool:
    """Every parachute came in time, so that nothing may be said against the descent."""
    truth = flight.truth
    assert truth.apogee_t_s is not None
    t, altitude, fall = truth.t_s, truth.altitude_m, -truth.velocity_mps
    speed = fall * _density_scale(flight, altitude)
    falling = (t > truth.apogee_t_s) & (t < (truth.touchdown_t_s or 0.0) - 0.05)
    main_m = _main_height_m(flight)
    if flight.setup.altimeter.channel_1_role is Role.DROGUE and main_m is not None:
        below = falling & (altitude < main_m)
        slow_s = float(t[int(np.argmax(below))]) + GOOD_MAIN_TAKES_S if bool(below.any()) else np.inf
    else:
        slow_s = truth.apogee_t_s + ONE_PARACHUTE_TAKES_S - 0.5
    too_fast = falling & ((speed > GOOD_MPS) | ((t > slow_s) & (speed > UNDER_MAIN_MPS)))
    return not bool(too_fast.any())


def _seen(flight: VirtualFlight, at_s: float) -> bool:
    """The climb and the way down to the evidence were heard, so that the station knew what it looked at."""
    truth = flight.truth
    assert truth.liftoff_t_s is not None
    assert truth.apogee_t_s is not None
    return (
        _covered(flight, truth.liftoff_t_s - 3.0, truth.liftoff_t_s + 1.5)
        and _covered(flight, truth.apogee_t_s - 2.0, min(at_s, truth.apogee_t_s + 2.0))
        and truth.restart_t_s is None
    )


def _covered(flight: VirtualFlight, start_s: float, end_s: float) -> bool:
    """Enough samples were heard in the span, with no long hole."""
    period = flight.setup.altimeter.period_s
    times = [s.t_s for s in flight.lines if start_s <= s.t_s <= end_s and s.data[:5] == b"@SMP,"]
    if len(times) < COVERED_SHARE * (end_s - start_s) / period:
        return False
    edges = [start_s, *times, end_s]
    return max(b - a for a, b in pairwise(edges)) < LONGEST_HOLE_S
