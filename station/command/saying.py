"""What a long-running command says on standard output."""

import os
import sys
from contextlib import suppress

import click


def say(line: str) -> None:
    """Print a line at once. A reader that has gone, or a full disk, must not end a recording.

    What the reader's alphabet lacks becomes a question mark.
    """
    try:
        encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
        click.echo(line.encode(encoding, "replace").decode(encoding))
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        silence_standard_output()


def silence_standard_output() -> None:
    """From now on what is printed goes nowhere, what is still in the buffer included."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
