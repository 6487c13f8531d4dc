"""A simulation's file on disk."""

from pathlib import Path

import pytest

from station.errors import FileUnreadableError, PredictionError
from station.prediction_file import read_prediction

TEXT = "Time (s),Altitude (m),Temperature (°C)\n" + "".join(
    f"{0.1 * n:.1f},{60.0 * 0.1 * n - 4.903325 * (0.1 * n) ** 2:.2f},15\n" for n in range(122)
)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_it_is_read_however_it_was_saved(tmp_path: Path, encoding: str, end: str) -> None:
    path = tmp_path / "comet.csv"
    path.write_bytes(TEXT.replace("\n", end).encode(encoding))
    found = read_prediction(path)
    # v^2/(2 g) of a throw at 60 m/s.
    assert found.apogee_m == pytest.approx(183.55, abs=0.1)
    assert found.file == str(path)


def test_the_users_columns_reach_the_reader(tmp_path: Path) -> None:
    path = tmp_path / "comet.csv"
    path.write_text(TEXT.replace("Altitude (m)", "Up"), encoding="utf-8")
    assert read_prediction(path, {"altitude": "2[m]"}).apogee_m == pytest.approx(183.55, abs=0.1)


def test_a_file_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(FileUnreadableError, match=r"none\.csv: cannot read the prediction: .*: check the name"):
        read_prediction(tmp_path / "none.csv")
    with pytest.raises(FileUnreadableError, match="cannot read the prediction"):
        read_prediction(tmp_path)


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", 2),
        (b"Time (s),Altitude (m)\n0,\x000\n", 2),
        (b"\xff\xfe\x00", 1),
        (b"\x50\x4b\x03\x04\x14\x00", 1),
    ],
)
def test_what_is_not_text_is_one_line_with_the_line_and_the_remedy(tmp_path: Path, data: bytes, line: int) -> None:
    path = tmp_path / "comet.csv"
    path.write_bytes(data)
    with pytest.raises(
        PredictionError, match=rf"comet\.csv: line {line}: this is not text: save the simulation as CSV"
    ):
        read_prediction(path)


def test_a_file_that_is_far_too_long_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "comet.csv"
    with path.open("wb") as file:
        file.write(b"Time (s),Altitude (m)\n")
        file.truncate(50_000_000)
    with pytest.raises(PredictionError, match="line 2: more than 40 MB: save a row every"):
        read_prediction(path)


def test_a_million_rows_are_refused_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "comet.csv"
    path.write_text("Time (s),Altitude (m)\n" + "0.1,1.0\n" * 1_000_000, encoding="utf-8")
    with pytest.raises(PredictionError, match="line 200001: more than 200,000 lines"):
        read_prediction(path)
