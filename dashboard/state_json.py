"""The state of a flight as other programs read it: (Snapshot, SessionStatus) in, plain dict out.

Documented for its readers in `dashboard/LIVE_API.md`; change both together. SI units. Pure.
"""

import math
from collections.abc import Sequence
from typing import Any

from dashboard.place_state import place_parts
from dashboard.playback import Playback
from station.after_landing import flight_verdict
from station.flight_state import (
    ChannelStatus,
    Deployment,
    Estimate,
    Event,
    Fix,
    LinkStatus,
    Outlook,
    Phase,
    Snapshot,
    Unit,
)
from station.plan import FlightPlan
from station.prediction import Prediction
from station.session import SessionStatus

SCHEMA = "station-live/1"

JsonObject = dict[str, Any]


def state_json(
    session_id: str,
    points: int,
    snapshot: Snapshot,
    status: SessionStatus,
    mark_times_ms: Sequence[float | None] = (),
    playback: Playback | None = None,
    plan: FlightPlan | None = None,
) -> JsonObject:
    """Everything the page shows, except the curves, flown and predicted.

    `mark_times_ms` are the marks' times on the flight's time line.
    """
    liftoff = snapshot.liftoff_t_ms
    return {
        "schema": SCHEMA,
        "session": session_id,
        "points": points,
        "now_us": status.now_us,
        "phase": snapshot.phase.value,
        "liftoff_t_ms": _rounded(liftoff, 1),
        "flight_time_s": _rounded(snapshot.flight_time_s, 3),
        "estimate": _estimate(snapshot.estimate, liftoff),
        "highest_m": _rounded(snapshot.highest_m, 2),
        "fastest_mps": _rounded(snapshot.fastest_mps, 2),
        "air": {
            "pad_pressure_pa": _rounded(snapshot.pad_pressure_pa, 1),
            "temperature_c": _rounded(snapshot.air_temperature_c, 1),
            "temperature_is_given": snapshot.temperature_is_given,
            "isa_to_true": _rounded(snapshot.isa_to_true, 5),
        },
        "events": [_event(event, liftoff) for event in snapshot.events],
        "outlook": _outlook(snapshot.outlook, liftoff),
        "plan": _plan(plan),
        "deployments": [_deployment(deployment, liftoff) for deployment in snapshot.deployments],
        "answer": answer(snapshot, over=status.over),
        "alerts": [{"code": alert.code, "text": alert.text} for alert in snapshot.alerts],
        "unit": _unit(snapshot.unit),
        "channels": _channels(snapshot.channels),
        "fix": _fix(snapshot.fix),
        **place_parts(snapshot.whereabouts, liftoff),
        "link": _link(snapshot.link),
        "last_minute": [[second.at_s, second.good, second.bad] for second in snapshot.link.last_minute],
        "source": {"name": status.source, "open": status.source_open, "note": status.source_note, "ended": status.over},
        "recording": {"file": status.recording_to, "error": status.recording_error},
        "marks": [
            {"at_us": at_us, "t_s": _since(t_ms, liftoff), "text": text}
            for (at_us, text), t_ms in zip(status.marks, _padded(mark_times_ms, len(status.marks)), strict=True)
        ],
        "playback": _playback(playback),
    }


def prediction_json(prediction: Prediction) -> JsonObject:
    """A simulated flight's course: lists of equal length."""
    columns = {"t_s": prediction.t_s, "altitude_m": prediction.altitude_m, "velocity_mps": prediction.velocity_mps}
    return {name: [_compact(float(value), 2) for value in values] for name, values in columns.items()}


def row_json(estimate: Estimate) -> list[float]:
    """One point of the curve: t_ms, altitude, velocity, acceleration, then their standard deviations (m, s)."""
    return [
        _compact(estimate.t_ms, 1),
        _compact(estimate.altitude_m, 2),
        _compact(estimate.velocity_mps, 2),
        _compact(estimate.acceleration_mps2, 2),
        _compact(estimate.altitude_sigma_m, 2),
        _compact(estimate.velocity_sigma_mps, 2),
        _compact(estimate.acceleration_sigma_mps2, 2),
    ]


def answer(snapshot: Snapshot, *, over: bool) -> str | None:
    """The whole flight in a word, once it is down or (having lifted off) no more will be heard; None before."""
    if snapshot.liftoff_t_ms is None or not (over or snapshot.phase is Phase.DOWN):
        return None
    return flight_verdict(snapshot.deployments).value


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None or not math.isfinite(value) else _compact(value, digits)


def _compact(value: float, digits: int) -> float:
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be told in JSON")
    rounded = round(value, digits)
    return int(rounded) if rounded == int(rounded) else rounded


def _since(t_ms: float | None, liftoff_t_ms: float | None) -> float | None:
    if t_ms is None or liftoff_t_ms is None:
        return None
    return _compact((t_ms - liftoff_t_ms) / 1000.0, 3)


def _padded(times: Sequence[float | None], length: int) -> list[float | None]:
    return [*times[:length], *([None] * (length - len(times)))]


def _estimate(estimate: Estimate | None, liftoff_t_ms: float | None) -> JsonObject | None:
    if estimate is None:
        return None
    return {
        "t_ms": _compact(estimate.t_ms, 1),
        "t_s": _since(estimate.t_ms, liftoff_t_ms),
        "altitude_m": _compact(estimate.altitude_m, 2),
        "velocity_mps": _compact(estimate.velocity_mps, 2),
        "acceleration_mps2": _compact(estimate.acceleration_mps2, 2),
        "altitude_sigma_m": _compact(estimate.altitude_sigma_m, 2),
        "velocity_sigma_mps": _compact(estimate.velocity_sigma_mps, 2),
        "acceleration_sigma_mps2": _compact(estimate.acceleration_sigma_mps2, 2),
    }


def _event(event: Event, liftoff_t_ms: float | None) -> JsonObject:
    height = "seen" if event.altitude_sigma_m is None else "reckoned" if event.height_is_known else "not_observed"
    return {
        "name": event.name.value,
        "t_ms": _compact(event.t_ms, 1),
        "t_s": _since(event.t_ms, liftoff_t_ms),
        "altitude_m": _compact(event.altitude_m, 2),
        "velocity_mps": _compact(event.velocity_mps, 2),
        "sigma_s": _compact(event.sigma_s, 3),
        "basis": event.basis.value,
        "called_t_ms": _compact(event.called_t_ms, 1),
        "height": height,
    }


def _outlook(outlook: Outlook | None, liftoff_t_ms: float | None) -> JsonObject | None:
    if outlook is None:
        return None
    apogee = _expected(outlook.apogee_t_ms, outlook.apogee_t_sigma_s, liftoff_t_ms)
    if apogee is not None:
        apogee["altitude_m"] = _rounded(outlook.apogee_altitude_m, 2)
        apogee["altitude_sigma_m"] = _rounded(outlook.apogee_altitude_sigma_m, 1)
    return {
        "apogee": apogee,
        "main_height": _expected(outlook.main_height_t_ms, outlook.main_height_t_sigma_s, liftoff_t_ms),
        "touchdown": _expected(outlook.touchdown_t_ms, outlook.touchdown_t_sigma_s, liftoff_t_ms),
    }


def _expected(t_ms: float | None, sigma_s: float | None, liftoff_t_ms: float | None) -> JsonObject | None:
    if t_ms is None or sigma_s is None or liftoff_t_ms is None:
        return None
    return {"t_s": _compact((t_ms - liftoff_t_ms) / 1000.0, 2), "t_sigma_s": _compact(sigma_s, 2)}


def _plan(plan: FlightPlan | None) -> JsonObject | None:
    if plan is None:
        return None
    return {
        "rocket": plan.rocket_name,
        "apogee_m": _rounded(plan.predicted_apogee_m, 1),
        "apogee_s": _rounded(plan.predicted_apogee_s, 2),
        "speed_mps": _rounded(plan.predicted_speed_mps, 1),
        "main_height_m": _rounded(plan.main_height_m, 1),
        "drogue_rate_mps": _rounded(plan.drogue_rate_mps, 1),
        "main_rate_mps": _rounded(plan.main_rate_mps, 1),
    }


def _deployment(deployment: Deployment, liftoff_t_ms: float | None) -> JsonObject:
    return {
        "role": deployment.role.value,
        "channel": deployment.channel,
        "charge": None if deployment.charge is None else deployment.charge.value,
        "fired_t_s": _since(deployment.fired_t_ms, liftoff_t_ms),
        "fired_altitude_m": _rounded(deployment.fired_altitude_m, 1),
        "fired_velocity_mps": _rounded(deployment.fired_velocity_mps, 1),
        "opened_t_s": _since(deployment.opened_t_ms, liftoff_t_ms),
        "opened_altitude_m": _rounded(deployment.opened_altitude_m, 1),
        "rate_before_mps": _rounded(deployment.rate_before_mps, 1),
        "rate_after_mps": _rounded(deployment.rate_after_mps, 1),
        "verdict": None if deployment.verdict is None else deployment.verdict.value,
        "reasons": list(deployment.reasons),
    }


def _unit(unit: Unit | None) -> JsonObject | None:
    if unit is None:
        return None
    return {
        "name": unit.name,
        "protocol_version": unit.protocol_version,
        "sample_period_ms": unit.sample_period_ms,
        "channel_1_role": unit.channel_1_role.value,
        "channel_2_role": unit.channel_2_role.value,
        "main_altitude_m": _rounded(unit.main_altitude_m, 1),
    }


def _channels(channels: ChannelStatus | None) -> JsonObject | None:
    if channels is None:
        return None
    return {
        "t_ms": _compact(channels.t_ms, 1),
        "battery_mv": channels.battery_mv,
        "channel_1_state": None if channels.channel_1_state is None else channels.channel_1_state.value,
        "channel_1_fired_t_ms": _rounded(channels.channel_1_fired_t_ms, 1),
        "channel_2_state": None if channels.channel_2_state is None else channels.channel_2_state.value,
        "channel_2_fired_t_ms": _rounded(channels.channel_2_fired_t_ms, 1),
    }


def _fix(fix: Fix | None) -> JsonObject | None:
    if fix is None:
        return None
    return {
        "t_ms": _compact(fix.t_ms, 1),
        "latitude_deg": fix.latitude_deg,
        "longitude_deg": fix.longitude_deg,
        "height_m": _rounded(fix.height_m, 1),
        "satellites": fix.satellites,
    }


def _link(link: LinkStatus) -> JsonObject:
    return {
        "lines": link.lines,
        "good": link.good,
        "rejected": link.rejected,
        "rejected_by_reason": dict(link.rejected_by_reason),
        "noise_bytes": link.noise_bytes,
        "lost": link.lost,
        "loss_fraction": _compact(link.loss_fraction, 4),
        "unknown_kinds": link.unknown_kinds,
        "restarts": link.restarts,
        "last_t_ms": _rounded(link.last_t_ms, 1),
        "last_heard_us": link.last_heard_us,
        "signal_dbm": _rounded(link.signal_dbm, 1),
        "snr_db": _rounded(link.snr_db, 1),
    }


def _playback(playback: Playback | None) -> JsonObject | None:
    if playback is None:
        return None
    return {
        "position_us": playback.position_us,
        "duration_us": playback.duration_us,
        "playing": playback.playing,
        "speed": playback.speed,
        "events": [{"name": name.value, "position_us": position_us} for name, position_us in playback.events],
    }
