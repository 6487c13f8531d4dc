"""What a judged flight says for the next one: gathers the facts that `station/advice` works from."""

from collections.abc import Sequence
from dataclasses import dataclass

from station.advice import Advice, FlightFacts, advise
from station.advice.against_prediction import Difference, differences
from station.ascent_review import AscentReview
from station.atmosphere import KELVIN_AT_ZERO_C, SEA_LEVEL_TEMPERATURE_K
from station.deployment_evidence import EARLY_CLIMB_MPS
from station.flight_state import Deployment, Event, EventName
from station.parachute_case import EARLY_BEFORE_APOGEE_MS
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.prediction import Prediction
from station.whereabouts import Whereabouts


@dataclass(frozen=True, slots=True)
class NextTime:
    """Advice, changes first; and how the flight differed from what was predicted."""

    advice: tuple[Advice, ...] = ()
    differences: tuple[Difference, ...] = ()
    prediction: Prediction | None = None


def next_time(
    pipeline: Pipeline,
    review: AscentReview,
    deployments: Sequence[Deployment],
    whereabouts: Whereabouts,
    prediction: Prediction | None = None,
) -> NextTime:
    """What to change next time, of a pipeline that has taken all its lines, reviewed and judged."""
    events = {event.name: event for event in review.refined.events}
    motion, temperature_c = pipeline.tracker.motion, pipeline.pad.air_temperature_c
    if motion is not None:
        kelvin = motion.pad_kelvin
    else:
        kelvin = SEA_LEVEL_TEMPERATURE_K if temperature_c is None else temperature_c + KELVIN_AT_ZERO_C
    facts = FlightFacts(
        plan=pipeline.plan or FlightPlan(),
        by_motor=pipeline.by_motor,
        events=events,
        deployments=tuple(deployments),
        stretches=review.refined.stretches,
        curve=review.curve,
        coasting=review.coasting,
        out_in_the_climb=_out_in_the_climb(review, deployments, events.get(EventName.APOGEE)),
        max_speed_mps=review.refined.max_speed_mps,
        pad_pressure_pa=pipeline.pad.pressure_pa,
        pad_kelvin=kelvin,
        main_set_m=pipeline.main_height_m,
        whereabouts=whereabouts,
        prediction=prediction,
    )
    found = differences(facts, air_is_given=pipeline.pad.given_temperature_c is not None)
    return NextTime(advise(facts, found), found, prediction)


def _out_in_the_climb(review: AscentReview, deployments: Sequence[Deployment], apogee: Event | None) -> bool:
    if review.opening is not None and review.opening.in_the_climb:
        return True
    return apogee is not None and any(
        deployment.fired_t_ms is not None
        and deployment.fired_t_ms < apogee.t_ms - EARLY_BEFORE_APOGEE_MS - 3000.0 * apogee.sigma_s
        and (deployment.fired_velocity_mps or 0.0) > EARLY_CLIMB_MPS
        for deployment in deployments
    )
