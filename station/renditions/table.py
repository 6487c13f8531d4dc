"""A flight as tables: a row a sample, raw and smoothed, and a row an event. Pure.

Values are rounded here, so that every form they are written in holds the same numbers.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

import numpy as np

from station.columns import Array
from station.flight_state import Deployment, Event, EventName
from station.whole_flight import WholeFlight

Value = float | int | str | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, its unit ("" for none), and its values, None where there is none."""

    name: str
    unit: str
    values: tuple[Value, ...]

    @property
    def header(self) -> str:
        """Name and unit: "altitude_raw (m)"."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


Table = tuple[Column, ...]


def samples_table(flight: WholeFlight, *, whole_record: bool = False) -> Table:
    """A row a sample: from just before liftoff to just after touchdown, or all that were heard.

    Smoothed values are None outside the flight. `pressure_used` is 0 where the curve leaves the pressure out (a charge
    firing, near the speed of sound, a stray reading).
    """
    samples = [s for s in flight.samples if whole_record or s.row is not None]
    rows = [s.row for s in samples]
    curve = flight.curve

    def smoothed(name: str, unit: str, values: Array) -> Column:
        return Column(name, unit, tuple(None if row is None else _rounded(float(values[row])) for row in rows))

    return (
        Column("time_from_liftoff", "s", tuple(round((s.t_ms - flight.liftoff_ms) / 1000.0, 3) for s in samples)),
        Column("altimeter_clock", "ms", tuple(int(s.t_ms) for s in samples)),
        Column("pressure", "Pa", tuple(float(s.pressure_pa) for s in samples)),
        Column("temperature", "degC", tuple(_rounded(s.temperature_c) for s in samples)),
        Column("axial_specific_force", "m/s^2", tuple(_rounded(s.axial_mps2) for s in samples)),
        Column("altitude_raw", "m", tuple(_rounded(s.altitude_m) for s in samples)),
        smoothed("altitude_smoothed", "m", curve.altitude_m),
        smoothed("velocity_smoothed", "m/s", curve.velocity_mps),
        smoothed("acceleration_smoothed", "m/s^2", curve.acceleration_mps2),
        smoothed("altitude_sigma", "m", curve.altitude_sigma_m),
        smoothed("velocity_sigma", "m/s", curve.velocity_sigma_mps),
        smoothed("acceleration_sigma", "m/s^2", curve.acceleration_sigma_mps2),
        Column("pressure_used", "", tuple(None if row is None else int(curve.used[row]) for row in rows)),
    )


def events_table(flight: WholeFlight, marks: Sequence[tuple[int, str]] = ()) -> Table:
    """A row an event: what was seen, what the altimeter reported of its charges, and the operator's marks.

    `marks` are arrival times (us) on the recorder's clock with their texts.
    """
    rows: list[tuple[Value, ...]] = [_event(flight, event) for event in flight.report.events]
    rows += [_fired(flight, d) for d in flight.report.deployments if d.fired_t_ms is not None]
    for arrival_us, text in marks:
        at = None if flight.liftoff_arrival_us is None else (arrival_us - flight.liftoff_arrival_us) / 1e6
        rows.append(("mark", at, None, None, None, "operator", text))
    timed = sorted((row for row in rows if row[1] is not None), key=itemgetter(1))
    names = (
        ("event", ""),
        ("time_from_liftoff", "s"),
        ("altitude", "m"),
        ("velocity", "m/s"),
        ("time_sigma", "s"),
        ("basis", ""),
        ("text", ""),
    )
    ordered = [*timed, *(row for row in rows if row[1] is None)]
    return tuple(
        Column(name, unit, tuple(_rounded(row[index]) for row in ordered)) for index, (name, unit) in enumerate(names)
    )


def _event(flight: WholeFlight, event: Event) -> tuple[Value, ...]:
    at_s = flight.seconds(event)
    velocity_mps = event.velocity_mps
    if event.name in (EventName.DROGUE, EventName.MAIN):
        # The event has the rate of descent before it, which is not the speed at that moment, and may be unknown.
        velocity_mps = float(np.interp(at_s, flight.curve.t_s, flight.curve.velocity_mps))
    return (event.name.value, at_s, event.altitude_m, velocity_mps, event.sigma_s, event.basis.value, "")


def _fired(flight: WholeFlight, d: Deployment) -> tuple[Value, ...]:
    assert d.fired_t_ms is not None
    at_s = (d.fired_t_ms - flight.liftoff_ms) / 1000.0
    return (f"{d.role.value}_fired", at_s, d.fired_altitude_m, d.fired_velocity_mps, None, "reported", "")


def _rounded(value: Value) -> Value:
    return round(value, 3) + 0.0 if isinstance(value, float) else value  # and no -0.0
