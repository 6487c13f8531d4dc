"""What a person should act on, each with a stable code and a sentence that says what to do."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

from station.advice.landing import WHAT_WANTS_A_LOOK
from station.fast_descent import FastDescent, fast_descent
from station.flight_state import Alert, Deployment, Estimate, Event, EventName, Phase, TakenBack, Verdict
from station.late_opening import surely_after_top_s
from station.records import ChannelState, Role
from station.rules import HARD_LANDING_MPS
from station.seen_fall import SeenFall
from station.stretch import Stretch

if TYPE_CHECKING:
    from station.pipeline import Pipeline

LATE_EJECTION_S = 1.5
LATE_EJECTION_MPS = 15.0
# A parachute in time never sees the rocket fall much faster than it will then carry it.
LATE_OVER_RATE = 1.25
# The last moments of a fall: so long, heard for so much of it, ended so shortly before the ground (s).
LAST_FALL_S = 1.2
LAST_FALL_SEEN_S = 0.9
LAST_SEEN_S = 3.0
# Common practice, no source: two lithium cells in series are empty near 6.6 V, one near 3.3 V.
LOW_CELL_MV = 3400


def flight_alerts(
    pipeline: Pipeline, deployments: Sequence[Deployment], *, over: bool, apogee: Event | None = None
) -> tuple[Alert, ...]:
    """The alerts that hold now, the most urgent first; `over` says that no more lines will come.

    `apogee`: the one to count from, where it is known better than the live one.
    """
    found: list[Alert] = []
    tracker = pipeline.tracker
    estimate = tracker.estimate
    fast = None if over else _comes_in_fast(pipeline, deployments)
    if fast is not None and estimate is not None:
        found.append(
            Alert(
                "fast_descent",
                f"Coming in fast: {-estimate.velocity_mps:.0f} m/s, {estimate.altitude_m:.0f} m up. "
                "Heads up! Keep eyes on it, point, and be ready to move out of its way. "
                f"{'No parachute is seen to hold' if fast is FastDescent.BARE else 'The main is not seen to hold'}.",
            )
        )
    live = [
        d
        for d in deployments
        if d.charge is ChannelState.READY or (d.charge is ChannelState.OPEN and d.fired_t_ms is None)
    ]
    if tracker.phase is Phase.DOWN or (over and tracker.liftoff_ms is not None):
        found.extend(_live_charge(deployment) for deployment in live)
        found.extend(_unknown_charge(d) for d in deployments if _may_have_a_charge(pipeline, d) and d.charge is None)
    if tracker.taken_back and (over or tracker.phase is Phase.WAITING):
        found.append(_taken_back(tracker.taken_back))
    apogee = apogee or tracker.event(EventName.APOGEE)
    for deployment in deployments:
        late = (
            apogee is not None
            and deployment.opened_t_ms is not None
            and (surely_after_top_s(deployment, apogee) or 0.0) > LATE_EJECTION_S
            and deployment.verdict is Verdict.CONFIRMED
            and (deployment.role is Role.DROGUE or (len(deployments) == 1 and deployment.fired_altitude_m is None))
            and _speed_at_opening(pipeline, deployment)
            > max(LATE_EJECTION_MPS, LATE_OVER_RATE * (deployment.rate_after_mps or 0.0))
        )
        if late and apogee is not None and deployment.opened_t_ms is not None:
            found.append(
                Alert(
                    "late_opening",
                    f"The {deployment.role.value} parachute held the fall only "
                    f"{(deployment.opened_t_ms - apogee.t_ms) / 1000.0:.1f} s after the highest point, at "
                    f"{_speed_at_opening(pipeline, deployment):.0f} m/s: look for damage to the airframe and cord.",
                )
            )
    if pipeline.clock.restarts:
        found.append(
            Alert(
                "altimeter_restarted",
                "The altimeter restarted: its clock began again, and what it says of its charges since then "
                "may not tell what happened before.",
            )
        )
    status = pipeline.channels.status
    if status is not None and status.battery_mv is not None and _battery_low(status.battery_mv):
        found.append(
            Alert(
                "battery_low",
                f"The altimeter's battery is at {status.battery_mv / 1000.0:.2f} V: charge or change it before flying.",
            )
        )
    if pipeline.pad.bay_is_warmed and tracker.phase is Phase.WAITING:
        found.append(
            Alert(
                "bay_warmed",
                "The altimeter's own temperature has risen a lot while waiting: the sun is on the bay. Give the "
                "day's air temperature for heights that can be trusted.",
            )
        )
    return tuple(found)


def hard_landing(stretches: Sequence[Stretch], track: Sequence[Estimate], touchdown: Event | None) -> tuple[Alert, ...]:
    """What to look at after a landing that was seen and was a hard one; else nothing.

    By the last moments of the fall, where they were heard; else by the rate of a steady one.
    """
    if touchdown is None or not stretches:
        return ()
    last = stretches[-1]
    speed_mps = _last_speed_mps(track, touchdown.t_ms)
    if speed_mps is None:
        speed_mps = last.rate_mps if last.is_steady else None
    if speed_mps is None or speed_mps <= HARD_LANDING_MPS:
        return ()
    return (Alert("hard_landing", f"It landed hard, at {speed_mps:.0f} m/s: {WHAT_WANTS_A_LOOK}."),)


def _last_speed_mps(track: Sequence[Estimate], touchdown_ms: float) -> float | None:
    """How fast (m/s) it came down just before the ground; None where that was not heard."""
    fall = SeenFall(track)
    earliest_ms = touchdown_ms - 1000.0 * LAST_SEEN_S
    end_ms = fall.clear_of_ground_ms(earliest_ms)
    start_ms = end_ms - 1000.0 * LAST_FALL_S
    if not earliest_ms < end_ms <= touchdown_ms or not fall.was_seen(start_ms, end_ms, LAST_FALL_SEEN_S):
        return None
    mean_mps, last_mps = fall.mean_mps(start_ms, end_ms), fall.last_mps(start_ms)
    return None if mean_mps is None or last_mps is None else min(mean_mps, last_mps)


def _taken_back(liftoffs: Sequence[TakenBack]) -> Alert:
    """Told until the next liftoff is called, and after the flight."""
    last = liftoffs[-1]
    seconds = (last.taken_back_t_ms - last.liftoff_t_ms) / 1000.0
    begun = "A liftoff that was called is taken back"
    if len(liftoffs) > 1:
        begun = f"{len(liftoffs)} liftoffs that were called are taken back"
    which = "it" if len(liftoffs) == 1 else "the last"
    return Alert(
        "liftoff_taken_back",
        f"{begun}: in the {seconds:.0f} s after {which} no height over {ceil(last.highest_m)} m was seen, and "
        "the pressure is the pad's again. Wind, a door or a hand can do that.",
    )


def _comes_in_fast(pipeline: Pipeline, deployments: Sequence[Deployment]) -> FastDescent | None:
    tracker = pipeline.tracker
    descent, apogee = tracker.descent, tracker.event(EventName.APOGEE)
    if tracker.phase is not Phase.DESCENT or descent is None or apogee is None:
        return None
    plan = pipeline.plan
    return fast_descent(
        tracker.track,
        descent.current(),
        apogee_t_ms=apogee.t_ms,
        roles=[d.role for d in deployments],
        main_height_m=pipeline.main_height_m,
        planned_main_mps=plan.main_rate_mps if plan is not None else None,
    )


def _speed_at_opening(pipeline: Pipeline, deployment: Deployment) -> float:
    if deployment.opened_velocity_mps is not None:
        return -deployment.opened_velocity_mps
    descent = pipeline.tracker.descent
    if descent is None:
        return 0.0
    # The moment may have been refined since: the stretch is the one that began nearest to it.
    held = [s for s in descent.all_stretches() if s.opened_ms is not None]
    at_ms = deployment.opened_t_ms
    if not held or at_ms is None:
        return 0.0
    return min(held, key=lambda s: abs((s.opened_ms or 0.0) - at_ms)).speed_at_opening_mps


def _battery_low(battery_mv: int) -> bool:
    cells = 1 if battery_mv <= 4300 else 2 if battery_mv <= 8600 else 3
    return battery_mv < cells * LOW_CELL_MV


def _may_have_a_charge(pipeline: Pipeline, deployment: Deployment) -> bool:
    """It has a channel, or nobody heard that it has none (a motor that throws out the parachute)."""
    return deployment.channel is not None or pipeline.unit is None


def _live_charge(deployment: Deployment) -> Alert:
    return Alert(
        "charge_not_fired",
        f"The {deployment.role.value} charge (channel {deployment.channel}) was not reported fired and may "
        "still be live. Keep clear; the range safety officer and the altimeter maker's instructions decide how to "
        "approach.",
    )


def _unknown_charge(deployment: Deployment) -> Alert:
    return Alert(
        "charge_unknown",
        f"Whether the {deployment.role.value} charge fired was not observed. Treat it as live: keep clear; the "
        "range safety officer and the altimeter maker's instructions decide.",
    )
