"""`station replay`: show a saved flight on the same page as a live one."""

from functools import partial
from pathlib import Path

import click

from station.command.judging import carried_plan, say_what_is_not_judged
from station.command.numbers import FiniteRange
from station.command.page import announce, page_options, served_page, share_option
from station.command.predicting import NOT_DRAWN, planned_prediction
from station.command.stopping import stop_on_signals
from station.flight_log import read_flight_file
from station.pipeline import Pipeline
from station.plan_file import read_plan
from station.replay import Playback

EXAMPLES = """\b
Examples:
  station replay flights/NAME.flight
  station replay flights/NAME.flight --speed 4
  station replay flights/NAME.flight --plan comet.toml
  station replay capture.txt --page 127.0.0.1:9000 --no-open
"""


@click.command("replay", epilog=EXAMPLES, short_help="Show a saved flight on the page.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--speed",
    type=FiniteRange(0, 1000, min_open=True),
    default=1.0,
    show_default=True,
    help="How fast to play: 1 as it was, 4 four times as fast.",
)
@click.option(
    "--plan",
    "plan_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The flight plan, to judge the flight against [default: the one that the log carries].",
)
@page_options
@share_option
@click.pass_context
def command(
    ctx: click.Context,
    file: Path,
    speed: float,
    plan_path: Path | None,
    page: tuple[str, int] | None,
    no_open: bool,
) -> None:
    """Show the saved flight FILE, a log of this station or a bare capture of lines, as it was seen live.

    What is shown and judged does not depend on the speed. Ctrl-C ends it.
    """
    with stop_on_signals() as stop:
        saved = read_flight_file(file)
        plan = carried_plan(saved) if plan_path is None else read_plan(plan_path)
        playback = Playback(saved, partial(Pipeline, plan=plan))
        playback.set_speed(speed)
        folder = (file if plan_path is None else plan_path).parent
        playback.session.set_prediction(planned_prediction(plan, folder, without_it=NOT_DRAWN))
        with served_page(ctx.obj, playback.session, page, playback=playback) as address:
            announce(address, no_open=no_open)
            say_what_is_not_judged(plan)
            playback.play()
            playback.run_forever(stop)
