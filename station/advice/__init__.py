"""What to change next time, worked out from a flight and its plan: each piece with its reasons and its error bar."""

from station.advice.advice import Advice, Topic
from station.advice.advising import advise
from station.advice.facts import FlightFacts

__all__ = ["Advice", "FlightFacts", "Topic", "advise"]
