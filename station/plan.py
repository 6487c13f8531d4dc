"""The flight plan: what the flyer means to happen, so that the flight can be judged against it.

Pure: text in, a `FlightPlan` out. `station/plan_file.py` reads the file. The format, with a worked example,
is documented in `station/PLAN.md`.
"""

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import Any

from station.errors import PlanError
from station.quantity import (
    DIRECTION,
    DURATION,
    FORCE,
    IMPULSE,
    LENGTH,
    MASS,
    SPEED,
    TEMPERATURE,
    WIDTH,
    WIND,
    Dimension,
    QuantityError,
    parse_quantity,
    quoted,
)
from station.records import Role


class Recovery(StrEnum):
    """How the rocket is meant to come down."""

    DUAL = "dual deployment"
    MOTOR = "motor ejection"


@dataclass(frozen=True, slots=True)
class FlightPlan:
    """What is planned; None is "the plan does not say". Heights are metres above the pad.

    `rocket_mass_kg` is at liftoff, motor in. `stock_delay_s` is the delay as the motor is sold, `flown_delay_s`
    the one it flies with. Rates are descent rates, + down. `field_elevation_m` is the pad's height above the sea,
    `ceiling_m` the greatest height allowed above the pad, `field_size_m` the field's shortest side. Wind
    directions are where it comes from, degrees from true north, clockwise. `predicted_speed_mps` is the highest
    speed going up, `predicted_apogee_s` counts from liftoff, `prediction_file` names a CSV beside the plan.
    """

    rocket_name: str | None = None
    rocket_mass_kg: float | None = None
    rocket_diameter_m: float | None = None
    rocket_drag_coefficient: float | None = None
    rail_length_m: float | None = None
    motor_name: str | None = None
    total_impulse_ns: float | None = None
    burn_time_s: float | None = None
    mean_thrust_n: float | None = None
    propellant_mass_kg: float | None = None
    stock_delay_s: float | None = None
    flown_delay_s: float | None = None
    recovery: Recovery | None = None
    drogue_rate_mps: float | None = None
    main_rate_mps: float | None = None
    main_height_m: float | None = None
    drogue_diameter_m: float | None = None
    main_diameter_m: float | None = None
    air_temperature_c: float | None = None
    wind_mps: float | None = None
    wind_from_deg: float | None = None
    field_elevation_m: float | None = None
    ceiling_m: float | None = None
    field_size_m: float | None = None
    predicted_apogee_m: float | None = None
    predicted_speed_mps: float | None = None
    predicted_apogee_s: float | None = None
    prediction_file: str | None = None

    @property
    def planned_roles(self) -> tuple[Role, ...] | None:
        """The parachutes planned, in order; with motor ejection one, which is the main. None: not said."""
        if self.recovery is None:
            return None
        return (Role.DROGUE, Role.MAIN) if self.recovery is Recovery.DUAL else (Role.MAIN,)


_LONGEST_TEXT = 200


class _RefusedError(ValueError):
    """Why a value was not taken; the caller adds file and line."""


@dataclass(frozen=True, slots=True)
class _Key:
    """One key of the format: the field of FlightPlan that it fills, and how its value is read."""

    field: str
    read: Callable[[Any], object]


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise _RefusedError('write one line of text in quotes, for example "Little Comet"')
    if len(value) > _LONGEST_TEXT:
        raise _RefusedError(f"write at most {_LONGEST_TEXT} characters")
    return value.strip()


def _file_name(value: Any) -> str:
    name = _text(value)
    if name in (".", "..") or set(name) & set("/\\:"):
        raise _RefusedError('write the name of a file that lies beside the plan, for example "simulation.csv"')
    return name


def _number(lowest: float, highest: float, example: str) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        if not isinstance(value, int | float) or isinstance(value, bool) or not lowest <= value <= highest:
            raise _RefusedError(f"write a number from {lowest:g} to {highest:g} without quotes, for example {example}")
        return float(value)

    return read


def _recovery(value: Any) -> Recovery:
    try:
        return Recovery(value)
    except ValueError:
        choices = " or ".join(f'"{choice}"' for choice in Recovery)
        raise _RefusedError(f"write {choices}") from None


def _quantity(dimension: Dimension, lowest: float, highest: float, si_unit: str) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        if not isinstance(value, str):
            raise _RefusedError(f"write it in quotes with its unit, for example {dimension.example}")
        try:
            number = parse_quantity(value, dimension)
        except QuantityError as error:
            raise _RefusedError(str(error)) from error
        if not lowest <= number <= highest:
            raise _RefusedError(
                f"{quoted(value)} is {number:.4g} {si_unit}, which is outside {lowest:g} to {highest:g} {si_unit}: "
                "is the unit right?"
            )
        return number

    return read


# The bounds only catch slips of the pen (a unit mixed up, a digit too many); they are no advice.
_rate = _quantity(SPEED, 0.5, 100.0, "m/s")
_delay = _quantity(DURATION, 0.0, 60.0, "s")
_canopy = _quantity(WIDTH, 0.05, 20.0, "m")
_FORMAT: Mapping[str, Mapping[str, _Key]] = {
    "rocket": {
        "name": _Key("rocket_name", _text),
        "mass": _Key("rocket_mass_kg", _quantity(MASS, 0.005, 500.0, "kg")),
        "diameter": _Key("rocket_diameter_m", _quantity(WIDTH, 0.005, 1.0, "m")),
        "drag_coefficient": _Key("rocket_drag_coefficient", _number(0.05, 3.0, "0.6")),
        "rail_length": _Key("rail_length_m", _quantity(LENGTH, 0.3, 30.0, "m")),
    },
    "motor": {
        "name": _Key("motor_name", _text),
        "total_impulse": _Key("total_impulse_ns", _quantity(IMPULSE, 0.1, 100_000.0, "N s")),
        "burn_time": _Key("burn_time_s", _quantity(DURATION, 0.05, 60.0, "s")),
        "mean_thrust": _Key("mean_thrust_n", _quantity(FORCE, 0.5, 50_000.0, "N")),
        "propellant_mass": _Key("propellant_mass_kg", _quantity(MASS, 0.0002, 200.0, "kg")),
        "stock_delay": _Key("stock_delay_s", _delay),
        "delay": _Key("flown_delay_s", _delay),
    },
    "recovery": {
        "deployment": _Key("recovery", _recovery),
        "drogue_rate": _Key("drogue_rate_mps", _rate),
        "main_rate": _Key("main_rate_mps", _rate),
        "main_height": _Key("main_height_m", _quantity(LENGTH, 10.0, 5000.0, "m")),
        "drogue_diameter": _Key("drogue_diameter_m", _canopy),
        "main_diameter": _Key("main_diameter_m", _canopy),
    },
    "field": {
        "air_temperature": _Key("air_temperature_c", _quantity(TEMPERATURE, -60.0, 60.0, "degC")),
        "wind": _Key("wind_mps", _quantity(WIND, 0.0, 50.0, "m/s")),
        "wind_from": _Key("wind_from_deg", _quantity(DIRECTION, 0.0, 360.0, "deg")),
        "elevation": _Key("field_elevation_m", _quantity(LENGTH, -500.0, 6000.0, "m")),
        "ceiling": _Key("ceiling_m", _quantity(LENGTH, 10.0, 50_000.0, "m")),
        "size": _Key("field_size_m", _quantity(LENGTH, 5.0, 100_000.0, "m")),
    },
    "prediction": {
        "apogee": _Key("predicted_apogee_m", _quantity(LENGTH, 10.0, 50_000.0, "m")),
        "speed": _Key("predicted_speed_mps", _quantity(SPEED, 1.0, 2000.0, "m/s")),
        "apogee_time": _Key("predicted_apogee_s", _quantity(DURATION, 0.5, 300.0, "s")),
        "curve": _Key("prediction_file", _file_name),
    },
}


def parse_plan(text: str, file_name: str) -> FlightPlan:
    """The plan that `text` (TOML 1.0) describes; `file_name` is only for messages.

    Raises PlanError, one line with file, line and remedy, for broken TOML, an unknown table or key, a wrong
    type, a missing or unknown unit, or a value that cannot be meant.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{file_name}: {_toml_complaint(str(error))}") from error
    except RecursionError as error:
        raise PlanError(
            f"{file_name}: the tables are nested too deep for a flight plan: is it the right file?"
        ) from error
    except ValueError as error:
        # Python turns no number of thousands of digits into a whole number, and does not say where it stands.
        raise PlanError(f"{file_name}: a number in it has far too many digits: is it the right file?") from error

    def refuse(table: str, key: str | None, why: str) -> PlanError:
        line = _line_of(text, table, key)
        where = f"line {line}: " if line else ""
        what = f"{key} in [{table}]" if key else f"[{table}]"
        return PlanError(f"{file_name}: {where}{what}: {why}")

    fields: dict[str, Any] = {}
    for table, contents in document.items():
        if table not in _FORMAT:
            raise refuse(table, None, f"a plan has no such table: {_nearest(table, _FORMAT)}")
        if not isinstance(contents, dict):
            raise refuse(table, None, f"this is a table: write [{table}] on a line of its own")
        for key, value in contents.items():
            known = _FORMAT[table]
            if key not in known:
                raise refuse(table, key, f"no such key: {_nearest(key, known)}")
            try:
                fields[known[key].field] = known[key].read(value)
            except _RefusedError as error:
                raise refuse(table, key, str(error)) from error
    plan = FlightPlan(**fields)
    _refuse_contradictions(plan, refuse)
    return plan


def _refuse_contradictions(plan: FlightPlan, refuse: Callable[[str, str | None, str], PlanError]) -> None:
    if plan.recovery is Recovery.MOTOR:
        for key, value in (
            ("drogue_rate", plan.drogue_rate_mps),
            ("drogue_diameter", plan.drogue_diameter_m),
            ("main_height", plan.main_height_m),
        ):
            if value is not None:
                raise refuse("recovery", key, "motor ejection has one parachute: leave this out, give main_rate")
    if (
        plan.drogue_rate_mps is not None
        and plan.main_rate_mps is not None
        and plan.main_rate_mps >= plan.drogue_rate_mps
    ):
        raise refuse("recovery", "main_rate", "the main must be slower than the drogue: are the two swapped?")
    if _both(plan.stock_delay_s, plan.flown_delay_s, lambda stock, flown: flown > stock):
        raise refuse(
            "motor", "delay", "longer than stock_delay, and a delay can only be made shorter: are they swapped?"
        )
    if _both(plan.rocket_mass_kg, plan.propellant_mass_kg, lambda rocket, propellant: propellant >= rocket):
        raise refuse(
            "motor", "propellant_mass", "not less than the rocket's mass: mass in [rocket] is with the motor in"
        )
    if _both(plan.predicted_apogee_s, plan.burn_time_s, lambda apogee, burn: apogee <= burn):
        raise refuse("prediction", "apogee_time", "not after the end of burn_time: it is counted from liftoff")


def _both(one: float | None, other: float | None, wrong: Callable[[float, float], bool]) -> bool:
    return one is not None and other is not None and wrong(one, other)


def _nearest(word: str, known: Mapping[str, object]) -> str:
    near = get_close_matches(word, known, n=1)
    return f"did you mean {near[0]}?" if near else f"it knows {', '.join(known)}"


def _toml_complaint(message: str) -> str:
    """Python's own message with the line first, as in all our messages."""
    match = re.fullmatch(r"(?P<what>.*) \(at line (?P<line>\d+), column (?P<column>\d+)\)", message, re.DOTALL)
    if match is None:
        what, where = message.replace(" (at end of document)", ""), "at the end"
    else:
        what, where = match["what"], f"line {match['line']}, column {match['column']}"
    return f'{where}: {" ".join(what.split())}: write lines such as main_height = "500 ft" under [recovery]'


def _line_of(text: str, table: str, key: str | None) -> int | None:
    """Where a table or key stands, counted from 1; None if it is written in a way this does not follow.

    The standard library's TOML reader gives no lines for good TOML, so the header and key are looked for.
    """
    table_name, key_name = (rf"[\"']?{re.escape(word)}[\"']?" for word in (table, key or table))
    header = re.compile(rf"\s*\[+\s*{table_name}\s*[].]")
    other_header = re.compile(r"\s*\[")
    in_table = re.compile(rf"\s*{key_name}\s*[.=]")
    at_top = in_table if key is None else re.compile(rf"\s*{table_name}\s*[.=].*\b{re.escape(key)}\b")
    inside = False
    for number, line in enumerate(text.splitlines(), start=1):
        if header.match(line):
            inside = True
            if key is None:
                return number
        elif other_header.match(line):
            inside = False
        elif (in_table if inside and key else at_top).match(line):
            return number
    return None
