"""The flight beside what was predicted: differences in apogee, speed and times, flight less prediction."""

from dataclasses import dataclass
from math import hypot

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import listed, with_bar
from station.flight_state import EventName
from station.rules import PREDICTION_SHARE, PREDICTIONS

HEIGHT_SIGMA_M = 0.5
HEIGHT_SIGMA_SHARE = 0.004
# By the altimeter's own temperature, which is off by some degrees.
HEIGHT_SIGMA_SHARE_UNSURE_AIR = 0.015
# The highest speed is reached as the thrust ends, not at one moment.
FASTEST_SIGMA_S = 0.15


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure of the flight, of the prediction, and the flight's standard deviation; `unit` "m", "m/s" or "s"."""

    name: str
    flown: float
    predicted: float
    sigma: float
    unit: str

    @property
    def difference(self) -> float:
        """Flight less prediction."""
        return self.flown - self.predicted

    @property
    def is_plain(self) -> bool:
        """More than the flight's error bar."""
        return abs(self.difference) > 2.0 * self.sigma


@dataclass(frozen=True, slots=True)
class _Predicted:
    """What was predicted, None where it was not: by the simulation's curve, where there is one, else by the plan."""

    apogee_m: float | None
    max_speed_mps: float | None
    max_speed_s: float | None
    apogee_s: float | None
    touchdown_s: float | None


def differences(facts: FlightFacts, *, air_is_given: bool) -> tuple[Difference, ...]:
    """What can be compared; `air_is_given` says that the day's air temperature is known."""
    predicted = _predicted(facts)
    apogee, speed_mps = facts.events.get(EventName.APOGEE), facts.max_speed_mps
    apogee_m = None if apogee is None else apogee.altitude_m
    height_share = HEIGHT_SIGMA_SHARE if air_is_given else HEIGHT_SIGMA_SHARE_UNSURE_AIR
    height_sigma_m = HEIGHT_SIGMA_M + height_share * (apogee_m or 0.0)
    # Of one that a silence hid, what it is reckoned within.
    reckoned_m = 0.0 if apogee is None or apogee.altitude_sigma_m is None else apogee.altitude_sigma_m
    rows = (
        ("apogee", apogee_m, predicted.apogee_m, hypot(height_sigma_m, reckoned_m), "m"),
        ("highest speed", speed_mps, predicted.max_speed_mps, facts.top_speed_sigma_share * (speed_mps or 0.0), "m/s"),
        ("time of highest speed", facts.seconds(EventName.BURNOUT), predicted.max_speed_s, FASTEST_SIGMA_S, "s"),
        ("time to apogee", facts.seconds(EventName.APOGEE), predicted.apogee_s, facts.sigma_s(EventName.APOGEE), "s"),
        (
            "time to touchdown",
            facts.seconds(EventName.TOUCHDOWN),
            predicted.touchdown_s,
            facts.sigma_s(EventName.TOUCHDOWN),
            "s",
        ),
    )
    return tuple(
        Difference(name, flown, value, sigma, unit)
        for name, flown, value, sigma, unit in rows
        if flown is not None and value is not None
    )


def _predicted(facts: FlightFacts) -> _Predicted:
    curve, plan = facts.prediction, facts.plan
    if curve is None:
        return _Predicted(plan.predicted_apogee_m, plan.predicted_speed_mps, None, plan.predicted_apogee_s, None)
    return _Predicted(curve.apogee_m, curve.max_speed_mps, curve.max_speed_s, curve.apogee_s, curve.touchdown_s)


def prediction_advice(facts: FlightFacts, found: tuple[Difference, ...]) -> Advice | None:
    """How far the prediction was off; None without one."""
    if not found:
        return None
    first = found[0]
    off = first.difference / first.predicted
    much = abs(off) > PREDICTION_SHARE and first.name == "apogee" and not facts.out_in_the_climb
    if first.is_plain:
        headline = f"Prediction: {first.name} {_more(first)} than predicted ({off:+.0%})."
    else:
        headline = f"Prediction: {first.name} as predicted."
    reasoning = [_sentence(each) for each in found]
    plain = [each.name for each in found[1:] if each.is_plain]
    if plain:
        reasoning.append(
            f"Apart by more than the flight's error bar {'is' if len(plain) == 1 else 'are'} {listed(plain)}."
        )
    if facts.out_in_the_climb:
        reasoning.append("A parachute was out in the climb, which cost height: compare with a better flight.")
    elif much:
        reasoning.append(
            "Weigh the rocket as it flew first; then thrust and drag as this flight shows them tell what to correct."
        )
    return Advice(
        topic=Topic.PREDICTION,
        headline=headline,
        change=much,
        reasoning=tuple(reasoning),
        value=first.difference,
        sigma=first.sigma,
        unit=first.unit,
        source=f"{PREDICTIONS.says} ({PREDICTIONS.reference})",
    )


def _sentence(each: Difference) -> str:
    digits = 2 if each.unit == "s" else 0
    return (
        f"{each.name.capitalize()}: {with_bar(each.flown, each.sigma, each.unit)}; predicted "
        f"{each.predicted:.{digits}f} {each.unit}, a difference of {each.difference:+.{digits}f} {each.unit}."
    )


def _more(each: Difference) -> str:
    size = with_bar(abs(each.difference), each.sigma, each.unit)
    word = {"m": ("higher", "lower"), "m/s": ("faster", "slower"), "s": ("later", "sooner")}[each.unit]
    return f"{size} {word[0] if each.difference > 0.0 else word[1]}"
