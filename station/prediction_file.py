"""A simulation's CSV on disk; what it may say is `station/prediction_text.py`'s business."""

import re
from collections.abc import Mapping
from pathlib import Path

from station.errors import FileUnreadableError, PredictionError
from station.prediction import Prediction
from station.prediction_text import parse_prediction

# Some 200,000 rows of twenty columns.
_LONGEST_BYTES = 40_000_000
_NOT_TEXT = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f]")


def read_prediction(path: Path, named: Mapping[str, str] | None = None) -> Prediction:
    """The prediction in the file at `path`; `named` are columns that the user told.

    Raises FileUnreadableError if it cannot be read, PredictionError if it cannot be understood.
    """
    try:
        with path.open("rb") as file:
            data = file.read(_LONGEST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileUnreadableError(f"{path}: cannot read the prediction: {reason}: check the name") from error
    if len(data) > _LONGEST_BYTES:
        line = data.count(b"\n", 0, _LONGEST_BYTES) + 1
        raise PredictionError(
            f"{path}: line {line}: more than {_LONGEST_BYTES // 1_000_000} MB: save a row every 0.05 s or so"
        )
    return parse_prediction(_text(data, path), str(path), named)


def _text(data: bytes, path: Path) -> str:
    """UTF-8 or UTF-16 by their marks, else UTF-8, else the old Western code page: only headers can differ."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif (found := _NOT_TEXT.search(data)) is not None:
        line = data.count(b"\n", 0, found.start()) + 1
        raise PredictionError(f"{path}: line {line}: this is not text: save the simulation as CSV")
    else:
        encodings = ["utf-8-sig", "cp1252", "latin-1"]
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise PredictionError(f"{path}: line 1: this is not text: save the simulation as CSV, UTF-8")
