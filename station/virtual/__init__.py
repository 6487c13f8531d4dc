"""A rocket and an altimeter that do not exist: physics, sensors, flight computer and radio, with known truth."""

from station.virtual.radio import SentLine
from station.virtual.scenarios import SCENARIOS, Scenario
from station.virtual.truth import Truth
from station.virtual.virtual_flight import VirtualFlight, fly, fly_setup

__all__ = ["SCENARIOS", "Scenario", "SentLine", "Truth", "VirtualFlight", "fly", "fly_setup"]
