"""All the advice of one flight, what calls for a change first."""

from station.advice.advice import Advice, Topic
from station.advice.against_prediction import Difference, prediction_advice
from station.advice.delay import delay_advice
from station.advice.descent_rates import rate_advice
from station.advice.drag import drag_advice
from station.advice.drift import drift_advice
from station.advice.facts import FlightFacts
from station.advice.landing import landing_advice
from station.advice.mach import mach_advice
from station.advice.main_height import main_height_advice
from station.advice.parachutes import charge_advice, parachute_advice
from station.advice.rail import rail_advice
from station.advice.thrust import thrust_advice
from station.records import Role

_ORDER = {topic: place for place, topic in enumerate(Topic)}


def advise(facts: FlightFacts, differences: tuple[Difference, ...]) -> tuple[Advice, ...]:
    """Every piece that the flight and its plan allow, changes first, each part in the order of `Topic`."""
    found = [
        *charge_advice(facts),
        *parachute_advice(facts),
        delay_advice(facts),
        thrust_advice(facts),
        rail_advice(facts),
        mach_advice(facts),
        drag_advice(facts),
        rate_advice(facts, Role.DROGUE),
        rate_advice(facts, Role.MAIN),
        landing_advice(facts),
        main_height_advice(facts),
        drift_advice(facts),
        prediction_advice(facts, differences),
    ]
    return tuple(
        sorted((piece for piece in found if piece is not None), key=lambda each: (not each.change, _ORDER[each.topic]))
    )
