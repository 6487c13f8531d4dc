"""Makes of whatever goes wrong with a port one line that says what, who and what to do."""

import errno
import os
import re
import sys
from pathlib import Path

from station.errors import (
    PortBusyError,
    PortError,
    PortForbiddenError,
    PortMissingError,
)

_MISSING = {errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.ENOTDIR, errno.EIO}
_BUSY = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}
_NOT_A_PORT = {errno.ENOTTY, errno.EINVAL, errno.EISDIR}
_LISTED = "station ports lists what is plugged in"


def port_error(url: str, error: BaseException) -> PortError:
    """The error of ours for an error of the port's library or the system."""
    if not url:
        return PortMissingError(f"the port has no name: {_LISTED}.")
    if "://" in url:
        return _network_error(url, error)
    number = _number_in(error)
    if isinstance(error, ValueError | OverflowError) and number is None:
        return PortError(f"{url} cannot be opened ({_short(error)}): look at the port's name and at --baud.")
    if number in _BUSY:
        return PortBusyError(f"{url} is in use by {_holder(url)}: end that program, or name another port.")
    if number in _FORBIDDEN:
        # Windows answers so when another program holds the port.
        if sys.platform == "win32":
            return PortBusyError(f"{url} is in use by another program: end that program, or name another port.")
        return PortForbiddenError(_forbidden(url))
    if number in _MISSING:
        return PortMissingError(f"{url} is not there: is it plugged in and switched on? {_LISTED}.")
    if number in _NOT_A_PORT:
        return PortError(f"{url} is not a serial port: {_LISTED}; a saved flight is shown by station replay.")
    return PortError(f"{url} cannot be opened ({_short(error)}): unplug it and plug it in again. {_LISTED}.")


def holders_of(device: str, processes: Path = Path("/proc")) -> list[str]:
    """The programs that hold a device open, as ``name (process number)``: on Linux those that we may look at."""
    target = os.path.realpath(device)
    found = []
    for process in sorted(processes.glob("[0-9]*"), key=lambda path: int(path.name) if path.name.isdigit() else 0):
        try:
            if any(_points_to(entry, target) for entry in (process / "fd").iterdir()):
                found.append(f"{(process / 'comm').read_text(errors='replace').strip()} (process {process.name})")
        except OSError:
            continue  # another user's, or it has just ended
    return found


def _points_to(entry: Path, target: str) -> bool:
    try:
        return str(entry.readlink()) == target
    except OSError:
        return False


def _holder(device: str) -> str:
    found = [holder for holder in holders_of(device) if not holder.endswith(f"(process {os.getpid()})")]
    return ", ".join(found) or "another program"


def _forbidden(device: str) -> str:
    try:
        import grp

        group = grp.getgrgid(Path(device).stat().st_gid).gr_name
    except (ImportError, KeyError, OSError):
        group = ""
    if group and group not in ("root", "wheel"):
        return (
            f"you may not open {device}: it belongs to the group {group}. Run sudo usermod -aG {group} $USER, "
            "then log out and in again."
        )
    return f"you may not open {device}: ask whoever looks after this computer to allow it."


def _network_error(url: str, error: BaseException) -> PortError:
    if isinstance(_system_error(error), ConnectionError | TimeoutError):
        return PortMissingError(f"nobody answers at {url} ({_short(error)}): is the other end running?")
    if _system_error(error) is not None:
        return PortMissingError(f"{url} cannot be reached ({_short(error)}): look at the address and the network.")
    return PortError(
        f"{url} cannot be opened ({_short(error)}): write an address like socket://192.168.4.1:4000, or name a port."
    )


def _system_error(error: BaseException | None) -> OSError | None:
    """The system's own error behind the library's, if there is one."""
    while error is not None:
        if isinstance(error, OSError) and type(error).__module__ in ("builtins", "socket"):
            return error
        error = error.__cause__ or error.__context__
    return None


def _number_in(error: BaseException | None) -> int | None:
    """The system's error number: the error's, its cause's, or one that the library put into its text."""
    text = str(error)
    while error is not None:
        if isinstance(error, OSError) and error.errno is not None:
            return error.errno
        # termios.error is no OSError, but carries the number in the same place.
        if type(error).__name__ == "error" and error.args and isinstance(error.args[0], int):
            return error.args[0]
        error = error.__cause__ or error.__context__
    match = re.search(r"(?:\[Errno |Error\(|\()([0-9]+)[\],]", text)
    return int(match.group(1)) if match else None


def _short(error: BaseException) -> str:
    system = _system_error(error)
    text = (system.strerror if system is not None else None) or str(error) or type(error).__name__
    return " ".join(text.split())[:200]
