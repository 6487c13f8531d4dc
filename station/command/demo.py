"""`station demo`: an invented rocket flies, and the station listens to it as to a real one."""

import threading
import time
from pathlib import Path

import click

from station.check_report import report_text
from station.command.flight_choice import flight_options, fly_chosen, scenario_list
from station.command.judging import judge_saved_flight
from station.command.listening import listening_options, recorded_flight
from station.command.page import page_options, share_option
from station.command.saying import say
from station.command.stopping import stop_on_signals
from station.live import LiveFlight
from station.serial_link import SerialLink
from station.session import FlightSession
from station.transmission import transmit
from station.virtual import VirtualFlight
from station.virtual_port import LocalSocket, PseudoTerminal, open_virtual_port

# How long the station may take to read and show the last lines, when nothing holds it up.
_LINGER_S = 5.0
_QUIET_S = 0.5

EXAMPLES = """\b
Examples:
  station demo
  station demo main-stays-in --pace 4
  station demo nominal-dual --seed 7 --loss 5 --no-open --exit-after-flight
"""


@click.command(
    "demo",
    epilog=f"{EXAMPLES}\n{scenario_list()}",
    short_help="Fly an invented rocket, and watch, record and judge it.",
)
@click.argument("scenario", default="nominal-dual")
@flight_options
@click.option(
    "--to",
    "connection",
    type=click.Choice(["pty", "socket"]),
    help="How the virtual altimeter is connected: a pseudo-terminal or a socket on this machine "
    "[default: the first that this system has].",
)
@listening_options
@page_options
@share_option
@click.option("--exit-after-flight", is_flag=True, help="End when the flight is over, for scripts.")
@click.pass_context
def command(
    ctx: click.Context,
    scenario: str,
    seed: int,
    pace: float,
    loss: float | None,
    corrupted: float | None,
    fixes_hz: float | None,
    connection: str | None,
    baud: int,
    plan_path: Path | None,
    logs: Path,
    page: tuple[str, int] | None,
    no_open: bool,
    exit_after_flight: bool,
) -> None:
    """Fly the invented rocket SCENARIO (default: nominal-dual) and listen to it as to a real altimeter.

    The virtual altimeter sends through a port of its own; the station reads it, records it under --logs and
    shows it on the page, as `station live` does. After the landing it prints what the evidence says. Ctrl-C
    ends it.
    """
    with stop_on_signals() as stop:
        flight = fly_chosen(scenario, seed, loss, corrupted, fixes_hz)
        port = _open_port(connection)
        try:
            link = SerialLink(port.port_name, baud)
            with recorded_flight(ctx.obj, link, page=page, no_open=no_open, logs=logs, plan_path=plan_path) as (
                live,
                session,
                writer,
            ):
                landed = fly_and_listen(flight, port, pace, live, session, stop)
                if landed:
                    say("")
                    say(report_text(judge_saved_flight(writer.path)))
                    if not exit_after_flight:
                        say("The page stays until Ctrl-C.")
                        stop.wait()
        finally:
            port.close()


def _open_port(connection: str | None) -> PseudoTerminal | LocalSocket:
    if connection is None:
        return open_virtual_port()
    return PseudoTerminal() if connection == "pty" else LocalSocket()


def fly_and_listen(
    flight: VirtualFlight,
    port: PseudoTerminal | LocalSocket,
    pace: float,
    live: LiveFlight,
    session: FlightSession,
    stop: threading.Event,
) -> bool:
    """Send in the background and listen here, to the flight's end; False if asked to stop before."""
    landed = threading.Event()

    def send() -> None:
        if port.wait_for_reader(stop.wait) and transmit(flight.lines, port, pace, time.monotonic, stop.wait):
            port.finish(_LINGER_S, stop.wait)
            _wait_until_quiet(session, stop)
            landed.set()
            live.stop()

    sender = threading.Thread(target=send, name="virtual-altimeter", daemon=True)
    sender.start()
    try:
        live.run_forever(stop)
    finally:
        if not landed.is_set():
            stop.set()
        sender.join()
    if landed.is_set():
        session.end_of_lines()
        session.set_source(is_open=False, note="the demo flight is over")
    return landed.is_set() and not stop.is_set()


def _wait_until_quiet(session: FlightSession, stop: threading.Event) -> None:
    """Until the station has made something of the last line."""
    version, before = session.wait_newer(-1, 0.0), -1
    while version != before and not stop.is_set():
        version, before = session.wait_newer(version, _QUIET_S), version
