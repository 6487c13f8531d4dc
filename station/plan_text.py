"""The text of a flight plan to the plan. Pure: `file_name` is only for messages."""

import re
import tomllib
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any

from station.errors import PlanError
from station.plan import FlightPlan, Recovery
from station.plan_format import PLAN_FORMAT
from station.plan_values import RefusedValueError

_LONGEST_SHOWN = 40


def parse_plan(text: str, file_name: str) -> FlightPlan:
    """The plan that `text` (TOML 1.0) describes.

    Raises PlanError, one line with file, line and remedy, for broken TOML, an unknown table or key, a wrong
    type, a missing or unknown unit, a value that cannot be meant, or two that contradict each other.
    """

    def refuse(table: str, key: str | None, why: str) -> PlanError:
        line = _line_of(text, table, key)
        where = f"line {line}: " if line else ""
        what = f"{_shown(key)} in [{_shown(table)}]" if key is not None else _shown(table)
        return PlanError(f"{file_name}: {where}{what}: {why}")

    fields: dict[str, Any] = {}
    for table, contents in _toml_tables(text, file_name).items():
        known = PLAN_FORMAT.get(table)
        if known is None:
            homes = " or ".join(f"[{name}]" for name, keys in PLAN_FORMAT.items() if table in keys)
            if homes and not isinstance(contents, dict):
                raise refuse(table, None, f"it stands in no table: write {homes} on a line of its own above it")
            raise refuse(table, None, f"a plan has no such table: {_nearest(table, PLAN_FORMAT)}")
        if not isinstance(contents, dict):
            raise refuse(table, None, f"this is a table: write [{table}] on a line of its own")
        for key, value in contents.items():
            if key not in known:
                raise refuse(table, key, f"no such key: {_nearest(key, known)}")
            try:
                fields[known[key].field] = known[key].value.read(value)
            except RefusedValueError as error:
                raise refuse(table, key, str(error)) from error
    plan = FlightPlan(**fields)
    contradiction = contradiction_in(plan)
    if contradiction is not None:
        raise refuse(*contradiction)
    return plan


def contradiction_in(plan: FlightPlan) -> tuple[str, str, str] | None:
    """Table, key, and why its value cannot be beside another one of the plan; None if all can be."""
    if plan.recovery is Recovery.MOTOR:
        for key, value in (
            ("drogue_rate", plan.drogue_rate_mps),
            ("drogue_diameter", plan.drogue_diameter_m),
            ("main_height", plan.main_height_m),
        ):
            if value is not None:
                return "recovery", key, "motor ejection has one parachute: leave this out, give main_rate"
    if _both(plan.drogue_rate_mps, plan.main_rate_mps, lambda drogue, main: main >= drogue):
        return "recovery", "main_rate", "the main must be slower than the drogue: are the two swapped?"
    if _both(plan.stock_delay_s, plan.flown_delay_s, lambda stock, flown: flown > stock):
        return "motor", "delay", "longer than stock_delay, and a delay can only be made shorter: are they swapped?"
    if _both(plan.rocket_mass_kg, plan.propellant_mass_kg, lambda rocket, propellant: propellant >= rocket):
        return "motor", "propellant_mass", "not less than the rocket's mass: mass in [rocket] is with the motor in"
    if _both(plan.predicted_apogee_s, plan.burn_time_s, lambda apogee, burn: apogee <= burn):
        return "prediction", "apogee_time", "not after the end of burn_time: it is counted from liftoff"
    return None


def _both(one: float | None, other: float | None, wrong: Callable[[float, float], bool]) -> bool:
    return one is not None and other is not None and wrong(one, other)


def _toml_tables(text: str, file_name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{file_name}: {_toml_complaint(str(error))}") from error
    except RecursionError as error:
        line = _line_with(text, re.compile(r"[\[{]{20}|(?:\w+\.){20}"))
        raise PlanError(f"{file_name}: {line}nested too deep for a flight plan: is it the right file?") from error
    except ValueError as error:
        # Python makes no whole number of more than 4,300 digits, and does not say where it stands.
        line = _line_with(text, re.compile(r"[\d_]{4300}"))
        raise PlanError(f"{file_name}: {line}a number of far too many digits: is it the right file?") from error


def _line_with(text: str, pattern: re.Pattern[str]) -> str:
    found = next((number for number, line in enumerate(text.split("\n"), 1) if pattern.search(line)), None)
    return "" if found is None else f"line {found}: "


def _shown(word: str) -> str:
    """A table or key as written by whoever it was, fit for one line on a terminal."""
    short = word if len(word) <= _LONGEST_SHOWN else word[: _LONGEST_SHOWN - 3] + "..."
    return "".join(sign if sign.isprintable() else "?" for sign in short)


def _nearest(word: str, known: Mapping[str, object]) -> str:
    near = get_close_matches(word[:_LONGEST_SHOWN], known, n=1)
    return f"did you mean {near[0]}?" if near else f"it knows {', '.join(known)}"


def _toml_complaint(message: str) -> str:
    """Python's own message with the line first, as in all our messages."""
    match = re.fullmatch(r"(?P<what>.*) \(at line (?P<line>\d+), column (?P<column>\d+)\)", message, re.DOTALL)
    if match is None:
        what, where = message.replace(" (at end of document)", ""), "at the end"
    else:
        what, where = match["what"], f"line {match['line']}, column {match['column']}"
    return f'{where}: {" ".join(what.split())[:200]}: write lines such as main_height = "500 ft" under [recovery]'


def _line_of(text: str, table: str, key: str | None) -> int | None:
    """Where a table or key stands, counted from 1; None if it is written in a way this does not follow.

    The standard library's TOML reader gives no lines for good TOML, so the header and key are looked for.
    """
    table_name, key_name = (rf"[\"']?{re.escape(word)}[\"']?" for word in (table, table if key is None else key))
    header = re.compile(rf"\s*\[+\s*{table_name}\s*[].]")
    other_header = re.compile(r"\s*\[")
    in_table = re.compile(rf"\s*{key_name}\s*[.=]")
    at_top = in_table if key is None else re.compile(rf"\s*{table_name}\s*[.=].*\b{re.escape(key)}\b")
    inside = False
    for number, line in enumerate(text.split("\n"), start=1):
        if header.match(line):
            inside = True
            if key is None:
                return number
        elif other_header.match(line):
            inside = False
        elif (in_table if inside and key is not None else at_top).match(line):
            return number
    return None
