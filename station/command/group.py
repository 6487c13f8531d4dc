"""The command `station` itself: what it lists, and how a command's code is found when it is asked for."""

from importlib import import_module

import click

import station

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
@click.version_option(station.__version__, prog_name="station", message="%(prog)s %(version)s")
@click.pass_context
def station_group(ctx: click.Context) -> None:
    """Ground station for hobby rockets.

    It listens to the altimeter's radio, shows the flight on a page, writes every line down, and afterwards
    says from evidence whether the parachutes opened. It only listens: it cannot arm or fire anything.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
