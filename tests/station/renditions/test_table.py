"""A flight as tables."""

from pathlib import Path

import pytest

from station.flight_log import read_flight_file
from station.records import SampleRecord
from station.renditions.table import Table, events_table, samples_table
from station.whole_flight import WholeFlight
from station.wire import decode_line

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"


def column(table: Table, header: str) -> tuple[float | int | str | None, ...]:
    return next(c.values for c in table if c.header == header)


def test_every_column_of_measured_values_has_its_unit_in_the_header(nominal: WholeFlight) -> None:
    assert [c.header for c in samples_table(nominal)] == [
        "time_from_liftoff (s)",
        "altimeter_clock (ms)",
        "pressure (Pa)",
        "temperature (degC)",
        "axial_specific_force (m/s^2)",
        "altitude_raw (m)",
        "altitude_smoothed (m)",
        "velocity_smoothed (m/s)",
        "acceleration_smoothed (m/s^2)",
        "altitude_sigma (m)",
        "velocity_sigma (m/s)",
        "acceleration_sigma (m/s^2)",
        "pressure_used",
    ]


def test_there_is_a_row_a_sample_of_the_flight(nominal: WholeFlight) -> None:
    table = samples_table(nominal)
    assert {len(c.values) for c in table} == {len(nominal.curve.t_s)}
    assert None not in column(table, "velocity_smoothed (m/s)")
    assert column(table, "pressure (Pa)")[0] == next(s.pressure_pa for s in nominal.samples if s.row == 0)


def test_the_whole_record_has_the_wait_too_without_smoothed_values(nominal: WholeFlight) -> None:
    table = samples_table(nominal, whole_record=True)
    assert len(table[0].values) == len(nominal.samples) > len(nominal.curve.t_s)
    assert column(table, "velocity_smoothed (m/s)")[0] is None
    assert column(table, "pressure_used")[0] is None
    assert column(table, "altitude_raw (m)")[0] == pytest.approx(0.0, abs=3.0)


def test_samples_that_a_charge_has_spoilt_are_told_apart(nominal: WholeFlight) -> None:
    table = samples_table(nominal)
    unused = [
        t for t, used in zip(column(table, "time_from_liftoff (s)"), column(table, "pressure_used"), strict=True)
        if used == 0
    ]  # fmt: skip
    drogue_fired_s = next(
        (d.fired_t_ms - nominal.liftoff_ms) / 1000.0 for d in nominal.report.deployments if d.fired_t_ms is not None
    )
    assert any(isinstance(t, float) and 0.0 <= t - drogue_fired_s < 0.6 for t in unused)


def test_events_reports_of_charges_and_marks_are_in_order_of_time(nominal: WholeFlight) -> None:
    assert nominal.liftoff_arrival_us is not None
    marks = [(round(nominal.liftoff_arrival_us) - 4_000_000, "igniter connected")]
    table = events_table(nominal, marks)
    assert column(table, "event") == (
        "mark", "liftoff", "burnout", "apogee", "drogue_fired", "drogue", "main_fired", "main", "touchdown",
    )  # fmt: skip
    assert column(table, "time_from_liftoff (s)")[0] == pytest.approx(-4.0, abs=0.001)
    assert column(table, "text")[0] == "igniter connected"
    assert set(column(table, "basis")) == {"operator", "estimated", "reported"}


def test_an_opening_has_the_speed_of_its_moment(nominal: WholeFlight) -> None:
    table = events_table(nominal)
    index = column(table, "event").index("main")
    speed = column(table, "velocity (m/s)")[index]
    assert isinstance(speed, float)
    assert -20.0 < speed < -5.0  # between the drogue's rate and the main's


def test_a_mark_whose_time_is_not_known_comes_last(flight_of) -> None:  # type: ignore[no-untyped-def]
    flight = flight_of("nominal-dual-capture.txt")
    table = events_table(flight, [(0, "no clock")])
    assert column(table, "event")[-1] == "mark"
    assert column(table, "time_from_liftoff (s)")[-1] is None


def test_no_value_is_minus_zero(nominal: WholeFlight) -> None:
    for table in (samples_table(nominal), events_table(nominal)):
        assert not [c.header for c in table for v in c.values if isinstance(v, float) and repr(v) == "-0.0"]


def test_the_altimeter_s_clock_and_its_values_are_told_as_they_were_sent(nominal: WholeFlight) -> None:
    """Read from the lines themselves: `@SMP,SEQ,T_MS,PRESSURE,TEMPERATURE,FORCE*CRC` (station/wire/PROTOCOL.md)."""
    lines = [line for line, _ in read_flight_file(SAMPLES / "nominal-dual.flight").lines]
    good = [line[line.rindex(b"@") :].split(b",") for line in lines if isinstance(decode_line(line), SampleRecord)]
    sent = {int(fields[2]): float(fields[3]) for fields in good}
    table = samples_table(nominal, whole_record=True)
    told = dict(zip(column(table, "altimeter_clock (ms)"), column(table, "pressure (Pa)"), strict=True))
    assert len(told) > 3000
    assert told.items() <= sent.items()
