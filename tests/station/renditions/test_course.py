"""The flight over time."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from station.renditions.course import gaps, point_at, shown_until_s, spans, words_at
from station.whole_flight import WholeFlight


def without(flight: WholeFlight, start_s: float, end_s: float) -> WholeFlight:
    """The flight as if nothing had been heard for a while."""
    keep = (flight.curve.t_s <= start_s) | (flight.curve.t_s >= end_s)
    columns = {name: getattr(flight.curve, name)[keep] for name in flight.curve.__dataclass_fields__}
    return replace(flight, curve=replace(flight.curve, **columns))


def test_a_nominal_flight_goes_through_its_phases(nominal: WholeFlight) -> None:
    assert [span.words for span in spans(nominal)] == [
        "On the rail",
        "Motor burning",
        "Coasting up",
        "Coming down",
        "Under the drogue",
        "Under the main",
        "On the ground",
    ]
    assert words_at(spans(nominal), -3.0) == "On the rail"
    assert words_at(spans(nominal), 20.0) == "Under the drogue"


@pytest.mark.parametrize("name", ["main-at-apogee.flight", "tangled-main.flight", "main-stays-in.flight"])
def test_nothing_hangs_under_a_parachute_that_is_not_confirmed(
    flight_of: Callable[..., WholeFlight], name: str
) -> None:
    assert "Under the main" not in [span.words for span in spans(flight_of(name))]


def test_a_record_that_ends_in_the_air_ends_so(cut_off: WholeFlight) -> None:
    assert words_at(spans(cut_off), cut_off.end_s + 1.0) == "The record ends here"
    assert shown_until_s(cut_off) == cut_off.end_s


def test_after_touchdown_a_few_seconds_are_shown(nominal: WholeFlight) -> None:
    touchdown_s = nominal.seconds(nominal.report.events[-1])
    assert shown_until_s(nominal) == pytest.approx(touchdown_s + 5.0)


def test_where_nothing_was_heard_there_is_no_height(nominal: WholeFlight) -> None:
    flight = without(nominal, 14.0, 19.0)
    ((start_s, end_s),) = gaps(flight)
    assert (start_s, end_s) == (pytest.approx(14.0, abs=0.1), pytest.approx(19.0, abs=0.1))
    assert point_at(flight, [(start_s, end_s)], 16.0) is None
    assert point_at(flight, [(start_s, end_s)], 13.0) is not None
    assert point_at(flight, [], flight.end_s + 1.0) is None


def test_single_lost_lines_are_no_gap(nominal: WholeFlight) -> None:
    assert nominal.report.snapshot.link.lost > 0
    assert gaps(nominal) == []


def test_between_samples_the_height_lies_on_the_line(nominal: WholeFlight) -> None:
    t, h = nominal.curve.t_s, nominal.curve.altitude_m
    point = point_at(nominal, [], float((t[300] + t[301]) / 2.0))
    assert point is not None
    assert point.altitude_m == pytest.approx(np.mean(h[300:302]))
