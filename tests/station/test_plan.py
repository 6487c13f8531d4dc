"""The plan's values."""

from station.plan import FlightPlan, Recovery
from station.records import Role


def test_dual_deployment_plans_two_parachutes_and_motor_ejection_one() -> None:
    assert FlightPlan(recovery=Recovery.DUAL).planned_roles == (Role.DROGUE, Role.MAIN)
    assert FlightPlan(recovery=Recovery.MOTOR).planned_roles == (Role.MAIN,)


def test_a_plan_that_does_not_say_plans_no_parachutes() -> None:
    assert FlightPlan().planned_roles is None
