"""The options that choose a virtual flight: scenario, seed, and how bad the radio link is."""

from collections.abc import Callable
from dataclasses import replace
from difflib import get_close_matches
from typing import Any, TypeVar

import click

from station.command.numbers import FiniteRange
from station.errors import ScenarioError
from station.virtual import SCENARIOS, VirtualFlight, fly_setup
from station.virtual.satellites import SatelliteReceiver

Function = TypeVar("Function", bound=Callable[..., Any])


def flight_options(command: Function) -> Function:
    """Add --seed, --pace, --loss, --corrupted and --fixes."""
    for option in (
        click.option(
            "--fixes",
            "fixes_hz",
            metavar="HZ",
            type=FiniteRange(1, 10),
            help="Aboard is a satellite receiver that tells its place HZ times a second [default: the scenario's own].",
        ),
        click.option(
            "--corrupted",
            type=FiniteRange(0, 50),
            help="Percent of the heard lines that arrive spoilt [default: the scenario's own].",
        ),
        click.option(
            "--loss",
            type=FiniteRange(0, 90),
            help="Percent of the lines lost on the air [default: the scenario's own].",
        ),
        click.option(
            "--pace",
            type=FiniteRange(0),
            default=1.0,
            show_default=True,
            help="How fast time runs: 1 as in flight, 10 ten times as fast, 0 as fast as it can.",
        ),
        click.option(
            "--seed",
            type=click.IntRange(0, 2**32 - 1),
            default=1,
            show_default=True,
            help="Chooses wind, weather and noise: the same seed makes the same flight to the last byte.",
        ),
    ):
        command = option(command)
    return command


def scenario_list() -> str:
    """The scenarios for a help text, a line each."""
    width = max(map(len, SCENARIOS))
    lines = [f"  {scenario.name:<{width}}  {scenario.description}" for scenario in SCENARIOS.values()]
    return "\n".join(["\b", "Scenarios:", *lines])


def fly_chosen(
    name: str, seed: int, loss: float | None, corrupted: float | None, fixes_hz: float | None
) -> VirtualFlight:
    """Fly scenario `name`; `loss` and `corrupted` are percents, and None leaves what the scenario has.

    Raises ScenarioError if there is no such scenario.
    """
    if name not in SCENARIOS:
        near = get_close_matches(name, SCENARIOS, n=1)
        hint = f"did you mean {near[0]}?" if near else f"choose one of {', '.join(SCENARIOS)}"
        raise ScenarioError(f"no scenario {name!r}: {hint}")
    setup = SCENARIOS[name].setup(seed)
    radio = setup.radio
    if loss is not None:
        radio = replace(radio, loss_fraction=loss / 100.0)
    if corrupted is not None:
        radio = replace(radio, corrupt_fraction=corrupted / 100.0)
    unit = setup.altimeter
    if fixes_hz is not None:
        receiver = replace(unit.satellites or SatelliteReceiver(), period_s=round(1.0 / fixes_hz, 3))
        unit = replace(unit, satellites=receiver)
    return fly_setup(replace(setup, radio=radio, altimeter=unit), seed, name)
