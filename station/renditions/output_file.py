"""Writing what was made of a flight: never over something that is there already, unless that is wanted."""

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from station.errors import OutputError


def write_outputs(outputs: Mapping[Path, bytes], *, source: Path, force: bool) -> None:
    """Write each file. With `force` those that exist are replaced, but never `source`, the flight itself.

    Nothing is written if one of them may not be. Raises OutputError.
    """
    for path in outputs:
        if _is_same(path, source):
            raise OutputError(f"{path} is the flight itself, which is never written over: name another with --to.")
        if path.is_dir() or (path.exists() and not force):
            raise OutputError(f"{path} exists already: --force replaces it, --to names another.")
    for path, data in outputs.items():
        try:
            _replace(path, data) if force else _create(path, data)
        except FileExistsError as error:
            raise OutputError(f"{path} exists already: --force replaces it, --to names another.") from error
        except OSError as error:
            reason = error.strerror or str(error)
            raise OutputError(f"{path} cannot be written ({reason}): name another folder with --to.") from error


def _is_same(path: Path, source: Path) -> bool:
    try:
        return path.samefile(source)
    except OSError:
        return False


def _create(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        try:
            file.write(data)
            file.flush()
        except OSError:
            with suppress(OSError):
                path.unlink()
            raise


def _replace(path: Path, data: bytes) -> None:
    """The old file stays whole until the new one is."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise
