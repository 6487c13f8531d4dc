"""The ascent looked at again after landing: the coast in one piece, and whether a parachute cut it short."""

from dataclasses import dataclass, replace

from station.coasting import Coasting, observe_coast
from station.flight_state import Event, EventName
from station.flown_curve import FlownCurve
from station.pipeline import Pipeline
from station.refined_flight import RefinedFlight
from station.top_opening import BEFORE_OPENING_S, TopOpening, find_top_opening


@dataclass(frozen=True, slots=True, eq=False)
class AscentReview:
    """`refined` with the highest point that was really reached; the samples, the coast and the opening, if any.

    Times of the curve, the coast and the opening are seconds from the refined liftoff.
    """

    refined: RefinedFlight
    curve: FlownCurve | None = None
    coasting: Coasting | None = None
    opening: TopOpening | None = None


def review_ascent(pipeline: Pipeline, refined: RefinedFlight, flown: FlownCurve | None) -> AscentReview:
    """Look again at the ascent of a pipeline that has taken all its lines.

    `flown` is the curve that `refined` was made from, its times from the first event as it was called.
    """
    tracker = pipeline.tracker
    at = {event.name: event for event in refined.events}
    liftoff, burnout, apogee = (at.get(name) for name in (EventName.LIFTOFF, EventName.BURNOUT, EventName.APOGEE))
    if liftoff is None or tracker.motion is None or flown is None:
        return AscentReview(refined)
    curve = flown.since((liftoff.t_ms - tracker.events[0].t_ms) / 1000.0)
    if burnout is None or apogee is None:
        return AscentReview(refined, curve)
    burnout_s, apogee_s = ((event.t_ms - liftoff.t_ms) / 1000.0 for event in (burnout, apogee))
    rate_mps = _rate_mps(refined)
    opening = None
    if pipeline.by_motor and rate_mps is not None:
        opening = find_top_opening(curve, burnout_s, apogee_s, rate_mps)
    fired_s = [
        (report.fired_ms - liftoff.t_ms) / 1000.0
        for report in pipeline.channels.reports(pipeline.unit)
        if report.fired_ms is not None
    ]
    end_s = min([apogee_s, *(t_s for t_s in fired_s if t_s > burnout_s)])
    if opening is not None:
        end_s = min(end_s, opening.t_s - BEFORE_OPENING_S)
        refined = _with_opening(refined, opening, liftoff)
    return AscentReview(refined, curve, observe_coast(curve, burnout_s, end_s, tracker.motion.pad_kelvin), opening)


def _rate_mps(refined: RefinedFlight) -> float | None:
    """The rate (m/s, + down, at pad density) of the hold that was seen longest."""
    held = [s for s in refined.stretches if s.opened_ms is not None and s.rate_mps is not None and s.is_steady]
    return max(held, key=lambda stretch: stretch.steady_s).rate_mps if held else None


def _with_opening(refined: RefinedFlight, opening: TopOpening, liftoff: Event) -> RefinedFlight:
    """The moment at which the first hold began, and apogee if the parachute ended the climb before the free top.

    An opening in the climb leaves the descent's stretches alone: they begin at the top.
    """
    stretches = list(refined.stretches)
    if not opening.in_the_climb:
        first = next(i for i, stretch in enumerate(stretches) if stretch.opened_ms is not None)
        stretches[first] = replace(
            stretches[first],
            opened_ms=liftoff.t_ms + 1000.0 * opening.t_s,
            opened_sigma_s=opening.sigma_s,
            opened_altitude_m=opening.altitude_m,
            speed_at_opening_mps=-opening.velocity_mps,
        )
    events = [
        replace(
            event,
            t_ms=liftoff.t_ms + 1000.0 * opening.apogee_s,
            altitude_m=opening.apogee_m,
            sigma_s=opening.apogee_sigma_s,
        )
        if event.name is EventName.APOGEE and opening.velocity_mps > 0.0
        else event
        for event in refined.events
    ]
    return replace(refined, events=tuple(events), stretches=tuple(stretches))
