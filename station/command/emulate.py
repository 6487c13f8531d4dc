"""`station emulate`: a virtual altimeter that sends a whole flight to somebody who listens."""

import os
import re
import sys
import time
from pathlib import Path

import click

from station.command.flight_choice import flight_options, fly_chosen, scenario_list
from station.command.saying import say
from station.command.stopping import stop_on_signals
from station.outlets import FileOutlet, PortOutlet, StreamOutlet
from station.serial_link import DEFAULT_BAUD
from station.transmission import transmit
from station.virtual_port import LocalSocket, PseudoTerminal

# How long the port stays after the flight for a reader to take what is still in its buffer.
_LINGER_S = 5.0

EXAMPLES = """\b
Examples:
  station emulate nominal-dual                        to a pseudo-terminal, in real time
  station emulate main-stays-in --to flight.txt --pace 0
  station emulate nominal-dual --seed 7 --loss 5 --to stdout
  station emulate main-at-apogee --fixes 5
  station emulate nominal-dual --to COM5 --baud 57600
"""


@click.command(
    "emulate",
    epilog=f"{EXAMPLES}\n{scenario_list()}",
    short_help="Send an invented flight, as an altimeter and its receiver would.",
)
@click.argument("scenario")
@flight_options
@click.option(
    "--to",
    "destination",
    metavar="pty|stdout|socket|PORT|FILE",
    default="pty",
    show_default=True,
    help="Where to send: a new pseudo-terminal, or a socket on this machine for systems without one, whose "
    "name is printed on the first line; standard output; a serial port or pyserial URL; else a file, "
    "which is replaced.",
)
@click.option(
    "--baud",
    type=click.IntRange(min=1),
    default=DEFAULT_BAUD,
    show_default=True,
    help="Speed of a serial port.",
)
def command(
    scenario: str,
    seed: int,
    pace: float,
    loss: float | None,
    corrupted: float | None,
    fixes_hz: float | None,
    destination: str,
    baud: int,
) -> None:
    """Send the lines of the invented flight SCENARIO, as an altimeter and its receiver would.

    A program that listens cannot tell it from a real altimeter. The flight is made by physics: thrust,
    drag, air, wind, parachutes and the sensor's noise; the same seed makes the same flight.
    """
    flight = fly_chosen(scenario, seed, loss, corrupted, fixes_hz)
    with stop_on_signals() as stop:
        outlet = _open(destination, baud, flush_each=pace > 0)
        try:
            if isinstance(outlet, PseudoTerminal | LocalSocket):
                say(outlet.port_name)
                say(f"The flight begins when somebody listens: station live {outlet.port_name}")
                if not outlet.wait_for_reader(stop.wait):
                    return
            if transmit(flight.lines, outlet, pace, time.monotonic, stop.wait):
                outlet.finish(_LINGER_S, stop.wait)
        finally:
            outlet.close()


def _open(destination: str, baud: int, *, flush_each: bool) -> StreamOutlet | PortOutlet | PseudoTerminal | LocalSocket:
    if destination == "pty":
        return PseudoTerminal()
    if destination == "socket":
        return LocalSocket()
    if destination == "stdout":
        return StreamOutlet(sys.stdout.buffer, flush_each=flush_each)
    if _is_a_port(destination):
        return PortOutlet(destination, baud)
    return FileOutlet(Path(destination), flush_each=flush_each)


def _is_a_port(destination: str) -> bool:
    """A URL of pyserial, a Windows port name, or a device; anything else is a file's name."""
    if "://" in destination or destination.startswith("/dev/"):
        return True
    if os.name == "nt" and re.fullmatch(r"(\\\\\.\\)?COM\d+", destination, re.IGNORECASE):
        return True
    return Path(destination).is_char_device()
