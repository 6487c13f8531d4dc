"""A saved flight ready to be shown: the check's report, every sample as it came, liftoff on the recorder's clock."""

from pathlib import Path

import pytest

from station.after_landing import judge_lines
from station.errors import NoLiftoffError
from station.flight_log import FlightFile, read_flight_file
from station.plan import FlightPlan
from station.whole_flight import WholeFlight, whole_flight
from station.wire import decode_line

SAMPLES = Path(__file__).resolve().parents[2] / "replay_samples"


def read(name: str) -> FlightFile:
    return read_flight_file(SAMPLES / name)


@pytest.fixture(scope="module")
def nominal() -> WholeFlight:
    return whole_flight(read("nominal-dual.flight").lines, file="nominal-dual.flight")


def test_its_report_is_the_check_s(nominal: WholeFlight) -> None:
    assert nominal.report == judge_lines(read("nominal-dual.flight").lines, file="nominal-dual.flight")


def test_every_sample_that_was_heard_is_there_as_it_came(nominal: WholeFlight) -> None:
    by_hand = [decode_line(line) for line, _ in read("nominal-dual.flight").lines if b"@SMP" in line]
    pressures = [record.pressure_pa for record in by_hand if record is not None and hasattr(record, "pressure_pa")]
    assert [sample.pressure_pa for sample in nominal.samples] == pressures


def test_each_row_of_the_curve_has_its_sample(nominal: WholeFlight) -> None:
    rows = [sample.row for sample in nominal.samples if sample.row is not None]
    assert rows == list(range(len(nominal.curve.t_s)))
    sample = next(sample for sample in nominal.samples if sample.row == 500)
    assert (sample.t_ms - nominal.liftoff_ms) / 1000.0 == pytest.approx(nominal.curve.t_s[500])


def test_liftoff_is_placed_on_the_recorder_s_clock_by_the_promptest_line(nominal: WholeFlight) -> None:
    """Every line came in later than it was sent; so none near liftoff may have come before its place."""
    assert nominal.liftoff_arrival_us is not None
    for line, arrival_us in read("nominal-dual.flight").lines:
        record = decode_line(line)
        if arrival_us is not None and record is not None and hasattr(record, "pressure_pa"):
            placed_us = nominal.liftoff_arrival_us + 1000.0 * (record.t_ms - nominal.liftoff_ms)
            assert arrival_us >= placed_us - 1.0


def test_a_bare_capture_has_no_arrival_times_but_a_beginning() -> None:
    flight = whole_flight(read("nominal-dual-capture.txt").lines, file="capture")
    assert flight.liftoff_arrival_us is None
    assert flight.begins_s < -1.0


def test_it_is_called_as_the_plan_says_and_else_by_its_altimeter(nominal: WholeFlight) -> None:
    planned = whole_flight(read("main-silent.flight").lines, file="x", plan=FlightPlan(rocket_name="Little Comet"))
    assert planned.name == "Little Comet"
    unit = nominal.report.snapshot.unit
    assert unit is not None
    assert nominal.name == unit.name


def test_a_record_without_a_liftoff_is_no_flight_to_show() -> None:
    with pytest.raises(NoLiftoffError, match=r"pad\.flight: no liftoff was observed .* station check"):
        whole_flight(read("pad-lifted.flight").lines, file="pad.flight")


def test_a_flight_over_a_restart_of_the_altimeter_keeps_its_order() -> None:
    flight = whole_flight(read("restart-in-flight.flight").lines, file="restart")
    times = flight.curve.t_s
    assert (times[1:] > times[:-1]).all()
    assert flight.report.snapshot.link.restarts == 1
