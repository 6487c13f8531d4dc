"""`station check --page` as a program: what it writes, where, and what it leaves alone."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"
Run = Callable[..., subprocess.CompletedProcess[bytes]]


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return Path(shutil.copy(SAMPLES / "main-silent.flight", tmp_path / "one.flight"))


def test_the_page_is_written_beside_the_flight_and_the_check_s_answer_stays(run_station: Run, log: Path) -> None:
    plain = run_station("check", log.name)
    done = run_station("check", "--page", log.name, fresh=True)
    assert (done.returncode, done.stdout) == (plain.returncode, plain.stdout)
    assert done.stderr == b"written: one-check.html\n"
    assert "LOOK HERE" in log.with_name("one-check.html").read_text(encoding="utf-8")


def test_an_older_page_is_replaced_and_nothing_else(run_station: Run, log: Path) -> None:
    page = log.with_name("one-check.html")
    run_station("check", "--page", log.name)
    first = page.read_bytes()
    assert run_station("check", "--page", log.name).returncode == 1
    assert page.read_bytes() == first
    page.write_text("mine", encoding="utf-8")
    refused = run_station("check", "--page", log.name)
    assert refused.returncode == 2
    assert b"exists already and is not a page of the check" in refused.stderr
    assert page.read_text(encoding="utf-8") == "mine"


def test_it_goes_where_the_user_says(run_station: Run, log: Path, tmp_path: Path) -> None:
    (tmp_path / "pages").mkdir()
    run_station("check", "--page", "--to", "pages", log.name)
    assert (tmp_path / "pages" / "one-check.html").exists()
    assert not log.with_name("one-check.html").exists()


def test_without_a_liftoff_there_is_an_answer_but_no_page(run_station: Run, tmp_path: Path) -> None:
    lines = (SAMPLES / "nominal-dual-capture.txt").read_bytes().splitlines(keepends=True)[:200]
    (tmp_path / "pad.txt").write_bytes(b"".join(lines))
    done = run_station("check", "--page", "pad.txt")
    assert done.returncode == 3
    assert b"no liftoff was observed" in done.stderr
    assert list(tmp_path.glob("*.html")) == []
