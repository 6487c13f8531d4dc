"""Reading a plan from disk."""

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
    with pytest.raises(FileUnreadableError, match="check the name after --plan"):
        read_plan(tmp_path)


def test_another_encoding_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "comet.toml"
    path.write_bytes('[rocket]\nname = "Komét"\n'.encode("latin-1"))
    with pytest.raises(PlanError, match=r"comet\.toml: line 2: not plain text"):
        read_plan(path)


def test_a_huge_file_is_refused_without_being_parsed(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 2_000_000)
    with pytest.raises(PlanError, match="too long for a flight plan"):
        read_plan(path)
