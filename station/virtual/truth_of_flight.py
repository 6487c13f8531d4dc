"""Reads the true events out of a flown path."""

import numpy as np

from station.records import Role
from station.virtual.air import GRAVITY_MPS2, Array
from station.virtual.flight_path import Motion
from station.virtual.flight_physics import Canopy, FlightPhysics, motion_at
from station.virtual.flight_setup import FlightSetup
from station.virtual.telling import Firing
from station.virtual.truth import ParachuteTruth, Truth


def apogee_of(physics: FlightPhysics) -> tuple[float, float]:
    """(Time, altitude) of the highest point: where the speed between two nodes goes through zero."""
    path = physics.path
    k = next(i for i in range(1, len(path.t)) if path.vz[i] <= 0.0 and path.z[i] > 0.5)
    # The same cubic in speed as `motion_at` draws between two nodes.
    h = path.t[k] - path.t[k - 1]
    v0, v1, a0, a1 = path.vz[k - 1], path.vz[k], path.az[k - 1], path.az[k]
    low, high = 0.0, 1.0
    for _ in range(40):
        s = (low + high) / 2.0
        r = 1.0 - s
        speed = r * r * (1.0 + 2.0 * s) * v0 + s * s * (3.0 - 2.0 * s) * v1 + h * s * r * (r * a0 - s * a1)
        low, high = (s, high) if speed > 0.0 else (low, s)
    time = path.t[k - 1] + high * h
    return time, float(motion_at(physics, np.array([time])).altitude_m[0])


def truth_of(
    setup: FlightSetup,
    physics: FlightPhysics | None,
    motion: Motion,
    canopies: dict[Role, Canopy],
    fired_t_s: dict[Role, float],
    firings: list[Firing],
    restart_t_s: float | None,
) -> Truth:
    """The truth of a finished flight; of one that never left the pad if there is no physics."""
    channels = {firing.channel: firing.t_s for firing in firings}
    arrays = (motion.t_s, motion.altitude_m, motion.velocity_mps, motion.acceleration_mps2, motion.downrange_m)
    first = setup.altimeter.first_t_ms
    if physics is None or setup.motor is None:
        none = ParachuteTruth()
        blank = (None,) * 11
        return Truth(first, *blank, none, none, None, None, None, None, restart_t_s, *arrays, setup.place)
    path = physics.path
    apogee_t, apogee_m = apogee_of(physics)
    burnout_t = setup.pad_s + setup.motor.burn_end_s
    t, vz = np.array(path.t), np.array(path.vz)
    mach = np.hypot(vz, np.array(path.vx)) / setup.day.sound_speed_mps(np.array(path.z))
    fastest = int(vz.argmax())
    chutes = {role: _parachute(physics, canopies, fired_t_s, role) for role in (Role.DROGUE, Role.MAIN)}
    return Truth(
        first,
        setup.pad_s,
        physics.liftoff_t_s,
        burnout_t,
        float(motion_at(physics, np.array([burnout_t])).altitude_m[0]),
        apogee_t,
        apogee_m,
        setup.day.isa_altitude_m(apogee_m),
        float(vz[fastest]),
        float(t[fastest]),
        float(np.array(path.az)[t <= apogee_t].max()),
        float(mach.max()),
        chutes[Role.DROGUE],
        chutes[Role.MAIN],
        physics.touchdown_t_s,
        -path.vz[-1],
        channels.get(1),
        channels.get(2),
        restart_t_s,
        *arrays,
        setup.place,
    )


def _parachute(
    physics: FlightPhysics, canopies: dict[Role, Canopy], fired_t_s: dict[Role, float], role: Role
) -> ParachuteTruth:
    fired = fired_t_s.get(role)
    fired_altitude = fired_velocity = None
    if fired is not None:
        then = motion_at(physics, np.array([fired]))
        fired_altitude, fired_velocity = float(then.altitude_m[0]), float(then.velocity_mps[0])
    canopy = canopies.get(role)
    end = physics.touchdown_t_s
    if canopy is None or end is None or canopy.stretched_t_s >= end:
        return ParachuteTruth(fired, fired_altitude, fired_velocity)
    path = physics.path
    t, z, vz = (np.array(c) for c in (path.t, path.z, path.vz))
    fills = np.array(path.fill)
    out_there = physics.canopies[:2]
    areas = np.array([c.full_area_m2(c.stretched_t_s) for c in out_there] + [0.0, 0.0])[:2]
    own = physics.canopies.index(canopy)
    kept = [np.where(t > c.lets_go_t_s, c.kept_share, 1.0) for c in out_there] + [np.zeros_like(t)] * 2
    parts = areas * np.stack(kept[:2], axis=1) * fills**2
    total = physics.rocket.tumbling_drag_area_m2 + parts.sum(axis=1)
    pull = np.array(path.axial) * parts[:, own] / total
    beside = [c.stretched_t_s <= canopy.stretched_t_s for c in physics.canopies[:2]]
    out = float(areas[: len(beside)][beside].sum())
    share_when_full = areas[own] / (physics.rocket.tumbling_drag_area_m2 + out)
    hold_t = _first(t, pull - share_when_full * GRAVITY_MPS2 / 2.0, canopy.stretched_t_s)
    full_t = _first(t, fills[:, own] - 1.0, canopy.stretched_t_s)
    if hold_t is None:
        return ParachuteTruth(
            fired, fired_altitude, fired_velocity, full_t is not None, canopy.stretched_t_s, full_t_s=full_t
        )
    begun_t = full_t if full_t is not None else hold_t
    others = [(areas[k], c.stretched_t_s) for k, c in enumerate(physics.canopies[:2]) if c is not canopy]
    lost = [c.lets_go_t_s for c in out_there if c.lets_go_t_s > begun_t]
    until = min([out_t for area, out_t in others if out_t > begun_t and area > 0.3 * areas[own]] + [end, *lost])
    bigger = any(area > areas[own] and abs(out_t - canopy.stretched_t_s) < 1.5 for area, out_t in others)
    density = np.array([physics.density_kgm3(h) for h in z.tolist()])
    steady = np.sqrt(2.0 * physics.dry_mass_kg * GRAVITY_MPS2 / (density * total))
    near = 0.1 - np.abs(-vz / steady - 1.0)
    settled_t = _first(t, near, max(hold_t, full_t if full_t is not None else hold_t))
    rate = start_m = stop_m = None
    if settled_t is not None and until - settled_t >= 1.0 and not bigger:
        ends = motion_at(physics, np.array([settled_t, until - 1e-6])).altitude_m
        start_m, stop_m = float(ends[0]), float(ends[1])
        rate = (start_m - stop_m) / (until - settled_t)
    return ParachuteTruth(
        fired,
        fired_altitude,
        fired_velocity,
        True,
        canopy.stretched_t_s,
        hold_t,
        float(motion_at(physics, np.array([hold_t])).altitude_m[0]),
        full_t,
        settled_t if settled_t is not None and settled_t < until else None,
        rate,
        start_m,
        stop_m,
        canopy.lets_go_t_s if canopy.lets_go_t_s < end else None,
    )


def _first(t: Array, value: Array, after: float) -> float | None:
    """When `value` first reaches 0 from below at or after a time, between two nodes by a straight line."""
    reached = np.flatnonzero((t >= after) & (value >= -1e-12))
    if len(reached) == 0:
        return None
    k = int(reached[0])
    if k == 0 or value[k - 1] >= 0.0 or t[k] <= t[k - 1]:
        return float(t[k])
    part = float(value[k - 1] / (value[k - 1] - value[k]))
    return max(after, float(t[k - 1] + part * (t[k] - t[k - 1])))
