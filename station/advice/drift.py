"""How far it drifted: by satellite where there were fixes, else by the wind and the time in the air."""

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.held_rates import fall_s, held_rate
from station.advice.wording import with_bar
from station.flight_state import EventName, Verdict
from station.records import Role
from station.whereabouts import PlaceKind

# A wind told by hand, and the same at all heights (common practice, no source).
WIND_SIGMA_SHARE = 0.2
WIND_SIGMA_MPS = 0.3
LEAST_GAIN_S = 10.0
# Where the plan does not say (common practice, no source).
USUAL_DROGUE_MPS = 20.0


def drift_advice(facts: FlightFacts) -> Advice | None:
    """Drift from the pad, and what a main at its height would have saved; None if the descent was not seen."""
    apogee_s, touchdown_s = facts.seconds(EventName.APOGEE), facts.seconds(EventName.TOUCHDOWN)
    if apogee_s is None or touchdown_s is None or touchdown_s <= apogee_s:
        return None
    in_air_s = touchdown_s - apogee_s
    measured = _by_satellite(facts)
    found = measured or _by_wind(facts, in_air_s)
    saved_s = _saved_by_the_drogue(facts)
    if found is None and saved_s is None:
        return None
    reasoning = [f"From the top to the ground it took {in_air_s:.0f} s."]
    wide = False
    if found is None:
        headline = f"Drift: {in_air_s:.0f} s in the air"
    else:
        distance_m, sigma_m = found
        headline = f"Drift: {with_bar(distance_m, sigma_m, 'm')} from the pad"
        headline += " by satellite" if measured is not None else " by the plan's wind"
        size_m = facts.plan.field_size_m
        if size_m is not None:
            wide = distance_m > 0.5 * size_m
            if wide:
                reasoning.append(f"From the middle of a field of {size_m:.0f} m that is beyond its edge.")
        if measured is None:
            reasoning.append(
                f"That is {facts.plan.wind_mps:.1f} m/s of wind for as long; higher up there is mostly more wind."
            )
    if saved_s is not None:
        wind = facts.plan.wind_mps
        less = f", {wind * saved_s:.0f} m of drift in the plan's wind" if wind is not None else ""
        reasoning.append(
            f"With the drogue alone down to the main's height it would have landed about {saved_s:.0f} s sooner{less}."
        )
    return Advice(
        topic=Topic.DRIFT,
        headline=f"{headline}{_what_to_do(wide=wide, saved_s=saved_s)}",
        change=wide or saved_s is not None,
        reasoning=tuple(reasoning),
        value=None if found is None else found[0],
        sigma=None if found is None else found[1],
        unit="m",
    )


def _what_to_do(*, wide: bool, saved_s: float | None) -> str:
    if saved_s is not None:
        return ": the main was out from the top, so it hung in the wind for long."
    return "; beyond the field: a faster drogue, a lower main or less wind." if wide else "."


def _by_satellite(facts: FlightFacts) -> tuple[float, float] | None:
    place = facts.whereabouts.place
    if place is None or place.kind is not PlaceKind.LANDED or place.range_m is None or place.range_sigma_m is None:
        return None
    return place.range_m, place.range_sigma_m


def _by_wind(facts: FlightFacts, in_air_s: float) -> tuple[float, float] | None:
    wind = facts.plan.wind_mps
    if wind is None:
        return None
    return wind * in_air_s, (WIND_SIGMA_SHARE * wind + WIND_SIGMA_MPS) * in_air_s


def _saved_by_the_drogue(facts: FlightFacts) -> float | None:
    """Seconds that a main out at the top cost, against a drogue down to the main's height."""
    main, plan = facts.deployment(Role.MAIN), facts.plan
    if main is None or main.verdict is not Verdict.EARLY or facts.deployment(Role.DROGUE) is None:
        return None
    found, height_m = held_rate(facts, Role.MAIN), facts.main_set_m or plan.main_height_m
    if found is None or height_m is None or main.opened_altitude_m is None:
        return None
    drogue = plan.drogue_rate_mps if plan.drogue_rate_mps is not None else USUAL_DROGUE_MPS
    if main.opened_altitude_m <= height_m:
        return None
    saved_s = fall_s(main.opened_altitude_m, height_m, found[0], facts.pad_kelvin) - fall_s(
        main.opened_altitude_m, height_m, drogue, facts.pad_kelvin
    )
    return saved_s if saved_s > LEAST_GAIN_S else None
