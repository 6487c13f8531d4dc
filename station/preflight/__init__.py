"""What a flight plan says before the flight: figures that follow, what stands out, what it leaves open."""

from station.preflight.figures import Delay, Preflight, look_ahead
from station.preflight.finding import Finding
from station.preflight.judging import judge_plan, left_open

__all__ = ["Delay", "Finding", "Preflight", "judge_plan", "left_open", "look_ahead"]
