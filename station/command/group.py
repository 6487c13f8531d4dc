"""The command `station` itself: what it lists, and how a command's code is found when it is asked for."""

from importlib import import_module
from pathlib import Path

import click
from click.core import ParameterSource

import station
from station.command.page import page_options

# Imported only when asked for, so that `station check` does not pay for the serial port or the virtual rocket.
_COMMANDS = (
    "demo",
    "plan",
    "live",
    "replay",
    "check",
    "find",
    "share",
    "picture",
    "captions",
    "export",
    "import",
    "logbook",
    "emulate",
    "ports",
)
# Where a command's name is a word of Python, its module has another one.
_MODULES = {"import": "importing"}


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = import_module(f"station.command.{_MODULES.get(cmd_name, cmd_name)}")
        command: click.Command = module.command
        return command


EXAMPLES = """\b
Examples:
  station                          the start page in your browser: all by click
  station demo                     fly an invented rocket and watch it
  station ports                    what is plugged in
  station live                     listen to a real altimeter
  station check flights/*.flight   what the evidence says, after landing
  station find my.flight           where the rocket lies
"""


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    epilog=EXAMPLES,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--logs",
    type=click.Path(file_okay=False, path_type=Path),
    default="flights",
    show_default=True,
    metavar="FOLDER",
    help="Where your recorded flights are.",
)
@page_options
@click.version_option(station.__version__, prog_name="station", message="%(prog)s %(version)s")
@click.pass_context
def station_group(ctx: click.Context, logs: Path, page: tuple[str, int] | None, no_open: bool) -> None:
    """Ground station for hobby rockets.

    It listens to the altimeter's radio, shows the flight on a page, writes every line down, and afterwards
    says from evidence whether the parachutes opened. It only listens: it cannot arm or fire anything.

    Without a command it opens the start page in your browser, where everything can be had by click; the options
    below are for that page. Ctrl-C ends it.
    """
    if ctx.invoked_subcommand is None:
        from station.command.front import serve_front

        serve_front(ctx.obj, logs, page, no_open=no_open)
    elif {name for name in ctx.params if ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE}:
        raise click.UsageError(f"options for {ctx.invoked_subcommand} are written after that word")
