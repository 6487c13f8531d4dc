"""Writing what was made of a flight."""

from pathlib import Path

import pytest

from station.errors import OutputError
from station.renditions.output_file import write_outputs


@pytest.fixture
def source(tmp_path: Path) -> Path:
    path = tmp_path / "one.flight"
    path.write_bytes(b"the flight")
    return path


def test_files_are_written_as_given(source: Path) -> None:
    outputs = {source.with_suffix(".a"): b"a", source.with_suffix(".b"): b"b"}
    write_outputs(outputs, source=source, force=False)
    assert {path: path.read_bytes() for path in outputs} == outputs


def test_what_is_there_stays_and_then_nothing_is_written(source: Path) -> None:
    there = source.with_suffix(".b")
    there.write_bytes(b"old")
    with pytest.raises(OutputError, match="exists already: --force replaces it"):
        write_outputs({source.with_suffix(".a"): b"a", there: b"new"}, source=source, force=False)
    assert there.read_bytes() == b"old"
    assert not source.with_suffix(".a").exists()


def test_with_force_it_is_replaced_and_nothing_else_is_left(source: Path) -> None:
    there = source.with_suffix(".b")
    there.write_bytes(b"old")
    write_outputs({there: b"new"}, source=source, force=True)
    assert there.read_bytes() == b"new"
    assert sorted(path.name for path in source.parent.iterdir()) == ["one.b", "one.flight"]


@pytest.mark.parametrize("force", [False, True])
def test_the_flight_itself_is_never_written_over(source: Path, force: bool) -> None:
    link = source.with_name("link.csv")
    link.symlink_to(source)
    for path in (source, link):
        with pytest.raises(OutputError, match="the flight itself"):
            write_outputs({path: b"new"}, source=source, force=force)
    assert source.read_bytes() == b"the flight"


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_that_is_not_there_is_named_with_the_remedy(source: Path, force: bool) -> None:
    with pytest.raises(OutputError, match=r"cannot be written \(No such file or directory\): .*--to"):
        write_outputs({source.parent / "nowhere" / "x.csv": b"x"}, source=source, force=force)


def test_a_folder_is_no_file_to_replace(source: Path) -> None:
    with pytest.raises(OutputError, match="exists already"):
        write_outputs({source.parent: b"x"}, source=source.with_name("other"), force=True)
