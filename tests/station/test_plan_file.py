"""Reading a plan from disk."""

from importlib.resources import files
from pathlib import Path

import pytest

from station.errors import FileUnreadableError, PlanError
from station.plan_file import read_plan


def test_a_plan_is_read_from_disk(tmp_path: Path) -> None:
    path = tmp_path / "comet.toml"
    path.write_text('[rocket]\nname = "Komét"\n', encoding="utf-8")
    assert read_plan(path).rocket_name == "Komét"


def test_a_byte_order_mark_does_not_matter(tmp_path: Path) -> None:
    path = tmp_path / "comet.toml"
    path.write_bytes(b'\xef\xbb\xbf[rocket]\r\nname = "Comet"\r\n')
    assert read_plan(path).rocket_name == "Comet"


def test_a_missing_plan_says_which_and_what_to_check(tmp_path: Path) -> None:
    with pytest.raises(FileUnreadableError, match=r"none\.toml: cannot read the plan: No such file"):
        read_plan(tmp_path / "none.toml")


def test_a_folder_is_no_plan(tmp_path: Path) -> None:
    with pytest.raises(FileUnreadableError, match="check the name"):
        read_plan(tmp_path)


def test_another_encoding_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "comet.toml"
    path.write_bytes('[rocket]\nname = "Komét"\n'.encode("latin-1"))
    with pytest.raises(PlanError, match=r"comet\.toml: line 2: not plain text"):
        read_plan(path)


def test_a_huge_file_is_refused_without_being_parsed(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 2_000_000)
    with pytest.raises(PlanError, match=r"huge\.toml: line 1: too long for a flight plan"):
        read_plan(path)


def test_a_million_rows_are_refused_and_the_line_is_named(tmp_path: Path) -> None:
    path = tmp_path / "rows.toml"
    path.write_bytes(b"1.0,2.0\n" * 1_000_000)
    # 64 KiB hold 8,192 rows of 8 bytes.
    with pytest.raises(PlanError, match=r"rows\.toml: line 8193: too long for a flight plan"):
        read_plan(path)


def test_a_whole_commented_plan_is_far_from_too_long() -> None:
    assert len(files("station").joinpath("PLAN.md").read_bytes()) * 8 < 64 * 1024


def test_a_binary_file_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "photo.toml"
    path.write_bytes(b"\x89PNG\r\n\x1a\n\x00\xff")
    with pytest.raises(PlanError, match=r"photo\.toml: line 1: not plain text"):
        read_plan(path)


def test_utf_16_is_refused_with_a_way_out(tmp_path: Path) -> None:
    path = tmp_path / "notepad.toml"
    path.write_bytes('[rocket]\nname = "Comet"\n'.encode("utf-16"))
    with pytest.raises(PlanError, match=r"notepad\.toml: line 1: not plain text .* save the plan as UTF-8"):
        read_plan(path)
