"""Flight plans on disk; what one may say is `station/plan_text.py`'s business."""

from pathlib import Path

from station.errors import FileUnreadableError, PlanError, PlanNotWrittenError
from station.plan import FlightPlan
from station.plan_text import parse_plan

# Some twenty times a plan with every key and a comment on each line.
_LONGEST_BYTES = 64 * 1024


def read_plan(path: Path) -> FlightPlan:
    """The plan in the file at `path` (TOML, UTF-8).

    Raises FileUnreadableError if it cannot be read, PlanError if it cannot be understood.
    """
    return parse_plan(read_plan_text(path), str(path))


def read_plan_text(path: Path) -> str:
    """The plan's text as it stands in the file, for the flight log to carry. Raises as `read_plan` does."""
    try:
        with path.open("rb") as file:
            data = file.read(_LONGEST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileUnreadableError(f"{path}: cannot read the plan: {reason}: check the name") from error
    if len(data) > _LONGEST_BYTES:
        line = data.count(b"\n", 0, _LONGEST_BYTES) + 1
        raise PlanError(
            f"{path}: line {line}: too long for a flight plan, which ends within {_LONGEST_BYTES // 1024} KiB: "
            "is it the right file?"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise PlanError(f"{path}: line {line}: not plain text (UTF-8): save the plan as UTF-8 text") from error


def write_plan(path: Path, text: str, *, overwrite: bool) -> None:
    """Write a new plan, UTF-8. Raises PlanNotWrittenError if it cannot be, or if one is there and may not be lost."""
    try:
        with path.open("w" if overwrite else "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except OSError as error:
        reason = error.strerror or str(error)
        raise PlanNotWrittenError(f"{path}: cannot write the plan: {reason}: name another file") from error
