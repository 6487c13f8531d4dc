"""Many logs, in other processes too."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from station.logbook.book import Logbook
from station.logbook.judging_logs import judge_logs, judged

PATIENCE_S = 60.0


def test_a_broken_file_is_skipped_with_its_reason_and_the_others_are_judged(
    tmp_path: Path, write_log: Callable[..., Path]
) -> None:
    logs = [write_log(tmp_path / f"{name}.flight") for name in "abcd"]
    (tmp_path / "noise.flight").write_bytes(bytes(range(256)) * 40)
    (tmp_path / "empty.flight").write_bytes(b"")
    (tmp_path / "later.flight").write_bytes(b"station flight log 99\n\n")
    bad = {"noise.flight": "is not a flight", "empty.flight": "is empty", "later.flight": "later version"}
    found = {one.file: one for one in judge_logs([*logs, *(tmp_path / name for name in bad)])}
    assert len(found) == 7
    for path in logs:
        assert found[path.name].problem is None
        assert found[path.name].curve
        assert found[path.name].stamp.size == path.stat().st_size
    for name, reason in bad.items():
        assert found[name].row is None
        assert reason in (found[name].problem or "")


def test_a_log_that_vanishes_meanwhile_is_a_problem_of_its_own(tmp_path: Path) -> None:
    assert "gone.flight cannot be read" in (judged(tmp_path / "gone.flight").problem or "")


def test_a_defect_costs_one_row(
    tmp_path: Path, write_log: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_file: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("station.logbook.judged_log.judge_log", fail)
    problem = judged(write_log(tmp_path / "a.flight")).problem
    assert problem is not None
    assert problem.endswith("a defect of the program, not of the flight: ZeroDivisionError: by nothing")


def test_asked_to_stop_it_ends_early(tmp_path: Path, write_log: Callable[..., Path]) -> None:
    logs = [write_log(tmp_path / f"{name}.flight") for name in "ab"]
    asked = iter([False, True])
    assert len(list(judge_logs(logs, lambda: next(asked)))) == 1


INDEXING = """
import sys
from pathlib import Path
from station.logbook.book import Logbook

book = Logbook(Path(sys.argv[1]))
pending = book.pending()
book.refresh(pending, lambda done: print(done, flush=True))
"""


@pytest.mark.skipif(os.name == "nt", reason="there is no kill -9")
def test_killed_while_indexing_it_leaves_a_folder_that_can_be_used_and_no_process(
    tmp_path: Path, write_log: Callable[..., Path]
) -> None:
    # The beginning of a log is soon judged.
    beginning = write_log(tmp_path / "00.flight").read_bytes()[:20_000]
    for number in range(40):
        (tmp_path / f"{number:02}.flight").write_bytes(beginning)
    (tmp_path / "00.note.json").write_text('{"remarks": "Windy."}')
    program = subprocess.Popen(
        [sys.executable, "-P", "-c", INDEXING, str(tmp_path)], stdout=subprocess.PIPE, start_new_session=True
    )
    assert program.stdout is not None
    for _ in range(22):
        assert program.stdout.readline()
    program.send_signal(signal.SIGKILL)
    program.wait(PATIENCE_S)
    # Its standard output ends when the last process that has it is gone.
    ended = threading.Thread(target=program.stdout.read, daemon=True)
    ended.start()
    ended.join(PATIENCE_S)
    assert not ended.is_alive()
    program.stdout.close()
    book = Logbook(tmp_path)
    assert book.index_problem is None
    pending = book.pending()
    assert 0 < len(pending) <= 20
    book.refresh(pending[:1])
    entries = book.entries()
    assert len(entries) == 40 - len(pending) + 1
    assert entries[0].remarks == "Windy."
