"""Runs the command line, and sees to it that a person gets one line about what went wrong, never a traceback."""

import errno
import logging
import sys
import threading
import traceback
from collections.abc import Sequence
from contextlib import suppress
from io import TextIOWrapper

import click

from station.command.group import station_group
from station.command.page import MakePage
from station.command.saying import silence_standard_output
from station.errors import StationError

CLOSED_PIPE_STATUS = 141  # as a program ended by SIGPIPE: nobody reads the rest, so no verdict was given
INTERRUPTED_STATUS = 130  # as a program ended by SIGINT
_FULL = {errno.ENOSPC, errno.EFBIG, errno.EDQUOT}
DEFECT_STATUS = 70  # "internal software error" in BSD's list of exit codes, sysexits.h


def run(make_page: MakePage, arguments: Sequence[str] | None = None) -> int:
    """Run `station` with `arguments` (default: the program's own); returns the exit status.

    `make_page` makes the page server when a command wants one; it is passed in, so that this package never
    imports the page and commands without one start fast.
    """
    _print_any_character()
    threading.excepthook = lambda failed: _report_defect(failed.exc_value)
    logging.basicConfig(handlers=[_Defects()], level=logging.ERROR)
    try:
        status = station_group.main(
            None if arguments is None else list(arguments),
            prog_name="station",
            standalone_mode=False,
            obj=make_page,
        )
        if sys.stdout is not None:
            sys.stdout.flush()
    except click.ClickException as error:
        return _complain(_with_way_to_help(error), StationError.exit_code)
    except StationError as error:
        return _complain(str(error), error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED_STATUS
    except BrokenPipeError:
        return _closed_pipe()
    except SystemExit as ended:
        # Given no say in it, click ends the program with 1 when the reader of standard output has gone.
        return _closed_pipe() if ended.code == 1 else int(ended.code or 0)
    except OSError as error:
        return _report_full_disk(error) if error.errno in _FULL else _report_defect(error)
    except Exception as error:
        return _report_defect(error)
    return status if isinstance(status, int) else 0


class _Defects(logging.Handler):
    """What is logged as an error with its traceback is a defect too; other talk of libraries is for nobody here."""

    def emit(self, record: logging.LogRecord) -> None:
        """Report it as any other defect."""
        if record.exc_info is not None:
            _report_defect(record.exc_info[1])


def _print_any_character() -> None:
    """A file name or a terminal with a narrow character set must not stop a message."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _with_way_to_help(error: click.ClickException) -> str:
    """Click's message in one line, and where its options are explained."""
    message = " ".join(error.format_message().split())
    context = error.ctx if isinstance(error, click.UsageError) else None
    asked = context.command_path if context is not None else "station"
    return f"{message.rstrip('.')}: {asked} --help says what is possible"


def _complain(message: str, status: int) -> int:
    with suppress(OSError, ValueError):
        click.echo(f"station: {' '.join(message.split())}", err=True)
    return status


def _closed_pipe() -> int:
    """Nobody reads standard output any more: end without a word, at the interpreter's end too."""
    silence_standard_output()
    return CLOSED_PIPE_STATUS


def _report_full_disk(error: OSError) -> int:
    silence_standard_output()
    where = error.filename or "standard output or the file"
    return _complain(f"cannot write to {where}: {error.strerror}: free some space, or write elsewhere", 2)


def _report_defect(error: BaseException | None) -> int:
    """Say in one line that the program is at fault, and keep the details for whoever repairs it."""
    if error is None:
        return DEFECT_STATUS
    import tempfile  # hardly ever wanted, and it takes longer to load than most commands' own parts

    kept = "they could not be saved"
    with suppress(OSError):
        with tempfile.NamedTemporaryFile(
            "w", prefix="station-defect-", suffix=".txt", delete=False, encoding="utf-8"
        ) as file:
            traceback.print_exception(error, file=file)
        kept = f"please send {file.name} to the makers"
    what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    return _complain(f"this is a defect of the program, not of your flight: {what}: {kept}", DEFECT_STATUS)
