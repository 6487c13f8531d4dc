"""`station find` as a program of its own: what it says, what it writes, what it refuses."""

from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import gpxpy
import pytest

SAMPLES = Path(__file__).parents[3] / "replay_samples"
WITH_FIXES, WITHOUT = SAMPLES / "satellite-fixes.flight", SAMPLES / "nominal-dual.flight"
RunStation = Callable[..., CompletedProcess[bytes]]


def test_it_says_where_the_rocket_lies_and_what_to_mind(run_station: RunStation) -> None:
    done = run_station("find", WITH_FIXES)
    assert done.returncode == 0
    text = done.stdout.decode()
    # The true flight of this sample landed at 274.6 m, 223.9 degrees (expected.json).
    assert text.startswith("Where it lies: 275 m (902 ft) from the pad, south-west (223°), give or take 10 m (33 ft); ")
    assert "from true north" in text
    assert "treat every charge not reported fired as live" in text


def test_it_writes_gpx_and_kml(run_station: RunStation, tmp_path: Path) -> None:
    done = run_station("find", WITH_FIXES, "--gpx", "rocket.gpx", "--kml", "rocket.kml", fresh=True)
    assert done.returncode == 0
    assert done.stdout.decode().splitlines()[-2:] == ["written: rocket.gpx", "written: rocket.kml"]
    gpx = gpxpy.parse((tmp_path / "rocket.gpx").read_bytes())
    assert [place.name for place in gpx.waypoints] == ["Pad", "Rocket"]
    assert b"http://www.opengis.net/kml/2.2" in (tmp_path / "rocket.kml").read_bytes()


def test_without_fixes_the_plans_wind_gives_a_wedge(run_station: RunStation, tmp_path: Path) -> None:
    (tmp_path / "windy.toml").write_text('[field]\nwind = "6 mph"\nwind_from = "45 deg"\n', encoding="utf-8")
    done = run_station("find", WITHOUT, "--plan", "windy.toml")
    assert done.returncode == 0
    assert "look between" in done.stdout.decode()
    assert "towards the south-west (225°), from 195° to 255°" in done.stdout.decode()


def test_with_neither_it_says_what_is_missing_and_ends_with_3(run_station: RunStation) -> None:
    done = run_station("find", WITHOUT)
    assert done.returncode == 3
    assert "no satellite fix was heard after liftoff, and no plan says the wind." in done.stdout.decode()
    assert run_station("find", SAMPLES / "pad-lifted.flight").stdout.decode().startswith("No liftoff was observed")


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (("taken.gpx",), "taken.gpx exists already: --force replaces it, or name another file"),
        (("log.flight", "--force"), "log.flight is a recorded flight and is not written over: name another file"),
        ((".", "--force"), ". is a folder: name a file in it"),
        (("missing/x.gpx",), "missing/x.gpx cannot be written (No such file or directory): name another file"),
    ],
)
def test_what_it_does_not_write_over(
    run_station: RunStation, tmp_path: Path, arguments: tuple[str, ...], complaint: str
) -> None:
    (tmp_path / "taken.gpx").write_bytes(b"mine")
    (tmp_path / "log.flight").write_bytes(WITHOUT.read_bytes())
    done = run_station("find", WITH_FIXES, "--gpx", *arguments)
    assert done.returncode == 2
    assert done.stderr.decode().strip() == f"station: {complaint}"
    assert (tmp_path / "taken.gpx").read_bytes() == b"mine"
    assert (tmp_path / "log.flight").read_bytes() == WITHOUT.read_bytes()


def test_with_force_a_file_is_replaced(run_station: RunStation, tmp_path: Path) -> None:
    (tmp_path / "taken.gpx").write_bytes(b"old")
    assert run_station("find", WITH_FIXES, "--gpx", "taken.gpx", "--force").returncode == 0
    assert len(gpxpy.parse((tmp_path / "taken.gpx").read_bytes()).waypoints) == 2


def test_a_flight_without_a_fix_has_nothing_to_write(run_station: RunStation, tmp_path: Path) -> None:
    done = run_station("find", WITHOUT, "--gpx", "x.gpx")
    assert done.returncode == 2
    assert "no satellite fix in it" in done.stderr.decode()
    assert not (tmp_path / "x.gpx").exists()


def test_a_file_that_is_no_flight_is_refused_in_one_line(run_station: RunStation, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("shopping\n", encoding="utf-8")
    done = run_station("find", "notes.txt")
    assert done.returncode == 2
    assert done.stderr.decode().startswith("station: notes.txt is not a flight")
    assert done.stderr.decode().count("\n") == 1
