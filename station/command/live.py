"""`station live`: listen to a real altimeter, record it and show it."""

from pathlib import Path

import click

from station.command.judging import say_what_is_not_judged
from station.command.listening import listening_options, recorded_flight
from station.command.page import page_options, share_option
from station.command.stopping import stop_on_signals
from station.serial_link import SerialLink, choose_port

EXAMPLES = """\b
Examples:
  station live                                  the one receiver that is plugged in
  station live /dev/ttyUSB0 --baud 115200
  station live COM5 --plan comet.toml
  station live socket://192.168.4.1:4000 --share --no-open
"""


@click.command("live", epilog=EXAMPLES, short_help="Listen to a real altimeter: record it and show it.")
@click.argument("port", required=False)
@listening_options
@page_options
@share_option
@click.pass_context
def command(
    ctx: click.Context,
    port: str | None,
    baud: int,
    plan_path: Path | None,
    logs: Path,
    page: tuple[str, int] | None,
    no_open: bool,
) -> None:
    """Listen on PORT, write down every line as it comes, and show the flight on a page.

    PORT is a serial port or a URL that pyserial opens; without it, the only likely one is taken. A port that
    vanishes is waited for and taken up again. Ctrl-C ends the recording in good order.
    """
    with stop_on_signals() as stop:
        link = SerialLink(choose_port(port), baud)
        with recorded_flight(ctx.obj, link, page=page, no_open=no_open, logs=logs, plan_path=plan_path) as (
            live,
            session,
            _writer,
        ):
            say_what_is_not_judged(session.plan)
            live.run_forever(stop)
