"""`station ports`: what is plugged in."""

import click

from station.serial_link import list_ports

EXAMPLES = """\b
Examples:
  station ports
"""


@click.command("ports", epilog=EXAMPLES, short_help="List the serial ports that are plugged in.")
def command() -> None:
    """List the serial ports of this computer, those that a receiver is likely behind first."""
    found = list_ports()
    if not found:
        click.echo("No serial port found: plug the receiver in. Some cables only charge: try another one.")
    for port in found:
        click.echo(f"{port}, likely a receiver" if port.is_likely else str(port))
