"""Reading a saved flight from disk: the only place where its file is opened for reading."""

import stat
from pathlib import Path

from station.errors import FileUnreadableError
from station.flight_log.flight_file import FlightFile, parse_flight

MAX_FILE_BYTES = 512 * 1024 * 1024
"""Many hours of the fastest altimeter. What is longer is no flight, and must not fill the memory."""


def read_flight_file(path: Path) -> FlightFile:
    """A flight log, or a bare capture of lines (UTF-8, UTF-16 or plain bytes).

    Raises FileUnreadableError if the file is missing, forbidden, a folder, a device, too big or of a later
    version, NotAFlightError if it holds no flight.
    """
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise FileUnreadableError(f"{path} is a folder: name the flights in it, for example {path / '*.flight'}")
        if not stat.S_ISREG(status.st_mode):
            raise FileUnreadableError(f"{path} is not a file but a device: to listen to a port use station live {path}")
        if status.st_size > MAX_FILE_BYTES:
            raise FileUnreadableError(
                f"{path} is too big to be a flight ({status.st_size // 2**20} MiB, at most "
                f"{MAX_FILE_BYTES // 2**20}): name a log that the station saved."
            )
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise FileUnreadableError(f"{path} does not exist: look at the name, or list the folder.") from error
    except PermissionError as error:
        raise FileUnreadableError(f"{path} may not be read by you: change its permissions or copy it.") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileUnreadableError(f"{path} cannot be read ({reason}): copy it to another disk and try that.") from error
    return parse_flight(data, str(path))
