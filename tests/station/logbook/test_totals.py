"""Flights added up: worked by hand."""

from collections.abc import Callable

from station.flight_state import FlightVerdict
from station.logbook.entry import LogbookEntry
from station.logbook.totals import Best, by_impulse_class, by_rocket, totals

MakeEntry = Callable[..., LogbookEntry]


def some_flights(entry: MakeEntry) -> list[LogbookEntry]:
    confirmed = FlightVerdict.BOTH_CONFIRMED
    return [
        entry(
            file="a", apogee_m=100.0, max_speed_mps=50.0, flight_time_s=30.0, landing_rate_mps=5.0, verdict=confirmed
        ),
        entry(file="b", apogee_m=300.0, max_speed_mps=40.0, flight_time_s=90.0, landing_rate_mps=9.0),
        entry(file="c", apogee_m=200.0, max_speed_mps=None, flight_time_s=None, landing_rate_mps=None),
        entry(file="d", has_liftoff=False, apogee_m=None),
        entry(file="e", apogee_m=50.0, plan_rocket="Ant", total_impulse_ns=2.5, flight_time_s=10.0),
    ]


def test_flights_times_and_impulses_add_up_and_each_best_names_its_flight(entry: MakeEntry) -> None:
    found = totals(None, some_flights(entry))
    assert (found.flights, found.confirmed) == (4, 1)
    assert found.total_impulse_ns == 3 * 170.5 + 2.5
    assert found.flight_time_s == 130.0
    assert found.highest == Best(300.0, "b")
    assert found.fastest == Best(99.5, "e")
    assert found.longest == Best(90.0, "b")
    assert found.softest == Best(5.0, "a")


def test_no_flights_have_no_best(entry: MakeEntry) -> None:
    found = totals(None, [entry(has_liftoff=False)])
    assert (found.flights, found.highest, found.softest) == (0, None, None)


def test_rockets_come_by_name_and_what_is_not_named_last(entry: MakeEntry) -> None:
    flights = [*some_flights(entry), entry(file="f", plan_rocket=None, unit_name=None)]
    assert [(group.name, group.flights) for group in by_rocket(flights)] == [("Ant", 1), ("Little Comet", 3), (None, 1)]


def test_classes_come_by_letter_and_unknown_ones_last(entry: MakeEntry) -> None:
    flights = [*some_flights(entry), entry(file="f", plan_motor=None, total_impulse_ns=None)]
    assert [(group.name, group.flights) for group in by_impulse_class(flights)] == [("A", 1), ("H", 3), (None, 1)]
