"""share, picture, captions and export as programs: what they write, where, and what they refuse."""

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pandas
import pysubs2
import pytest
from PIL import Image

from station.flight_log import read_flight_file
from station.flight_log.entries import EntryKind, LogEntry, LogHeader, entry_text

SAMPLES = Path(__file__).resolve().parents[3] / "replay_samples"
Run = Callable[..., subprocess.CompletedProcess[bytes]]
COMMANDS = {
    "share": (),
    "picture": (),
    "captions": ("--liftoff-at", "0:10"),
    "export": (),
}


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return Path(shutil.copy(SAMPLES / "nominal-dual.flight", tmp_path / "one.flight"))


def refused(done: subprocess.CompletedProcess[bytes]) -> str:
    """The one line with which a program said no."""
    assert done.returncode == 2, done
    (line,) = done.stderr.decode().splitlines()
    assert line.startswith("station: ")
    return line


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_each_writes_beside_the_flight_and_says_what(run_station: Run, log: Path) -> None:
    done = [run_station(name, log.name, *extra, fresh=True) for name, extra in COMMANDS.items()]
    said = [each.stdout.decode().splitlines()[0] for each in done]
    assert said == ["written: one.html", "written: one.png", "written: one.srt", "written: one.csv"]
    assert names(log.parent) == {
        "one.flight", "one.html", "one.png", "one.svg", "one.srt", "one.vtt", "one.csv", "one-events.csv",
    }  # fmt: skip
    with Image.open(log.with_suffix(".png")) as picture:
        assert picture.size == (1200, 630)
    assert log.with_suffix(".html").stat().st_size < 6_000_000
    assert log.read_bytes() == (SAMPLES / "nominal-dual.flight").read_bytes()


@pytest.mark.parametrize("name", COMMANDS)
def test_each_takes_a_bare_capture(run_station: Run, tmp_path: Path, name: str) -> None:
    done = run_station(name, SAMPLES / "nominal-dual-capture.txt", *COMMANDS[name], "--to", tmp_path)
    assert done.returncode == 0, done.stderr
    assert names(tmp_path)


@pytest.mark.parametrize("name", COMMANDS)
def test_each_says_that_nothing_flew_in_a_record_without_a_liftoff(run_station: Run, tmp_path: Path, name: str) -> None:
    done = run_station(name, SAMPLES / "pad-lifted.flight", *COMMANDS[name], "--to", tmp_path)
    assert "no liftoff was observed" in refused(done)
    assert names(tmp_path) == set()


@pytest.mark.parametrize("name", COMMANDS)
def test_each_refuses_what_is_there_and_replaces_it_only_if_told(run_station: Run, log: Path, name: str) -> None:
    arguments = (name, log.name, *COMMANDS[name])
    assert run_station(*arguments).returncode == 0
    assert "exists already: --force replaces it" in refused(run_station(*arguments))
    assert run_station(*arguments, "--force").returncode == 0


@pytest.mark.parametrize("name", COMMANDS)
def test_each_refuses_a_file_that_is_not_there_a_folder_and_a_strange_ending(
    run_station: Run, log: Path, name: str
) -> None:
    extra = COMMANDS[name]
    assert "does not exist" in refused(run_station(name, "nothing.flight", *extra))
    assert "is a folder" in refused(run_station(name, ".", *extra))
    assert "neither a folder nor a name that ends in" in refused(run_station(name, log.name, *extra, "--to", "x.pdf"))


def test_a_capture_that_is_named_like_the_outcome_is_never_written_over(run_station: Run, tmp_path: Path) -> None:
    capture = Path(shutil.copy(SAMPLES / "nominal-dual-capture.txt", tmp_path / "one.csv"))
    before = capture.read_bytes()
    assert "the flight itself" in refused(run_station("export", "one.csv", "--force"))
    assert capture.read_bytes() == before


def test_the_ending_of_the_name_says_what_is_made(run_station: Run, log: Path) -> None:
    assert run_station("picture", log.name, "--to", "comet.svg").returncode == 0
    assert run_station("captions", log.name, "--liftoff-at", "9", "--to", "film.vtt").returncode == 0
    assert run_station("export", log.name, "--to", "comet.json").returncode == 0
    assert names(log.parent) == {"one.flight", "comet.svg", "film.vtt", "comet.json"}


def test_the_log_s_plan_names_the_rocket_and_its_day_is_told(run_station: Run, log: Path) -> None:
    header = LogHeader(
        opened=read_flight_file(log).header.opened,  # type: ignore[union-attr]
        port="p", software="s", clock="c", plan='[rocket]\nname = "<i>Komét</i> 7"\n',
    )  # fmt: skip
    entries = read_flight_file(log).entries
    mark = entry_text(LogEntry(EntryKind.MARK, 1_000_000, "=1+1 sécret".encode()))
    log.write_bytes(b"".join([header.text(), mark, *map(entry_text, entries)]))
    assert run_station("share", log.name).returncode == 0
    page = log.with_suffix(".html").read_text(encoding="utf-8")
    assert "<h1>&lt;i&gt;Komét&lt;/i&gt; 7</h1>" in page
    assert " May 2031</p>" in page
    assert "cret" not in re.sub(r"<script.*?</script>|<style.*?</style>|base64,[^\"]*", "", page, flags=re.DOTALL)
    assert run_station("export", log.name).returncode == 0
    events = (log.parent / "one-events.csv").read_text(encoding="utf-8-sig")
    assert "'=1+1 sécret" in events


@pytest.mark.parametrize(
    ("extra", "film_liftoff_s"),
    [
        (("--liftoff-at", "83.4"), 83.4),
        (("--liftoff-at", "1:23.4"), 83.4),
        (("--liftoff-at", "1:00:00"), 3600.0),
        # In the true flight (replay_samples/expected.json) and the log, liftoff comes 9.03 s after the log's beginning.
        (("--video-offset", "0"), 9.03),
        (("--video-offset", "-4"), 5.03),
    ],
)
def test_film_and_flight_are_fitted_together_either_way(
    run_station: Run, log: Path, extra: tuple[str, ...], film_liftoff_s: float
) -> None:
    done = run_station("captions", log.name, *extra, "--to", "film.srt")
    assert done.returncode == 0, done.stderr
    captions = pysubs2.load(str(log.parent / "film.srt"))
    shown = next(event for event in captions if "Liftoff" in event.plaintext)
    assert shown.start / 1000.0 == pytest.approx(film_liftoff_s, abs=0.05)
    assert f"liftoff is at {film_liftoff_s:.1f} s of the film" in done.stdout.decode()
    assert "left out" not in done.stdout.decode()


def test_captions_say_what_comes_before_the_film_s_start(run_station: Run, log: Path) -> None:
    """Liftoff comes 9.03 s after the log's beginning, so this film begins 1 s after liftoff; half seconds from T-5."""
    done = run_station("captions", log.name, "--video-offset", "-10.03")
    assert "liftoff is 1.0 s before the film's start" in done.stdout.decode()
    (said,) = [line for line in done.stdout.decode().splitlines() if line.startswith("left out")]
    match = re.fullmatch(
        r"left out: (\d+) captions that come before the film's start \(flight time (\S+) to (\S+)\)", said
    )
    assert match is not None, said
    assert int(match[1]) == 12
    assert match[2] == "T-00:05.0"
    assert match[3] in ("T+00:01.0", "T+00:00.9")


@pytest.mark.parametrize(
    ("extra", "why"),
    [
        ((), "give one of --liftoff-at TIME and --video-offset S"),
        (("--liftoff-at", "1", "--video-offset", "1"), "give one of"),
        (("--liftoff-at", "soon"), "not a film's time"),
        (("--liftoff-at", "1:2:3:4"), "not a film's time"),
        (("--video-offset", "nan"), "not a number"),
        (("--video-offset", "-500"), "the flight is over before the film begins"),
        (("--liftoff-at", "1", "--every", "0"), "0"),
    ],
)
def test_captions_that_cannot_be_placed_are_refused(
    run_station: Run, log: Path, extra: tuple[str, ...], why: str
) -> None:
    assert why in refused(run_station("captions", log.name, *extra))
    assert names(log.parent) == {"one.flight"}


def test_export_writes_each_form_that_is_asked_for(run_station: Run, log: Path) -> None:
    pytest.importorskip("pyarrow", reason="pyarrow is not installed here: install '.[test]'")
    forms = ("csv", "json", "parquet")
    assert run_station("export", log.name, *(word for form in forms for word in ("--format", form))).returncode == 0
    by_csv = pandas.read_csv(log.with_suffix(".csv"))
    by_parquet = pandas.read_parquet(BytesIO(log.with_suffix(".parquet").read_bytes()))
    by_json = pandas.DataFrame(json.loads(log.with_suffix(".json").read_text(encoding="utf-8"))["samples"])
    pandas.testing.assert_frame_equal(by_csv, by_parquet)
    pandas.testing.assert_frame_equal(by_csv, by_json)


def test_export_refuses_what_contradicts_itself(run_station: Run, log: Path) -> None:
    assert "leave one out" in refused(run_station("export", log.name, "--to", "x.json", "--format", "csv"))
    assert "for CSV alone" in refused(run_station("export", log.name, "--to", "x.json", "--decimal-comma"))


def test_feet_are_feet_everywhere(run_station: Run, log: Path) -> None:
    run_station("picture", log.name, "--units", "feet", "--to", "x.svg")
    run_station("captions", log.name, "--units", "feet", "--liftoff-at", "9", "--to", "x.srt")
    assert "1,398 ft" in (log.parent / "x.svg").read_text(encoding="utf-8")
    assert "Apogee: 1,398 ft" in (log.parent / "x.srt").read_text(encoding="utf-8")
