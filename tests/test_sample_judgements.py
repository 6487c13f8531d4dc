"""Every flight in `replay_samples/` is judged as `expected.json` beside it says, by the check and on the page."""

import json
from pathlib import Path
from typing import Any

import pytest

from dashboard.state_json import state_json
from station.after_landing import exit_status, judge_lines
from station.flight_log import read_flight_file
from station.pipeline import Pipeline
from station.session import FlightSession

SAMPLES = Path(__file__).resolve().parent.parent / "replay_samples"
EXPECTED: dict[str, dict[str, Any]] = json.loads((SAMPLES / "expected.json").read_text(encoding="utf-8"))


def verdicts(deployments: list[dict[str, Any]]) -> dict[str, str]:
    return {each["role"]: each["verdict"] for each in deployments}


def test_every_flight_file_in_the_folder_has_its_judgement() -> None:
    files = {path.name for path in SAMPLES.iterdir() if path.suffix in {".flight", ".txt"}}
    assert files == set(EXPECTED)


@pytest.mark.parametrize("told_the_temperature", [True, False])
@pytest.mark.parametrize("name", EXPECTED)
def test_the_check_judges_a_sample_as_written_beside_it(name: str, told_the_temperature: bool) -> None:
    expected = EXPECTED[name]
    report = judge_lines(
        read_flight_file(SAMPLES / name).lines,
        file=name,
        air_temperature_c=expected["air_temperature_c"] if told_the_temperature else None,
    )
    judged = {each.role.value: each.verdict.value if each.verdict else None for each in report.deployments}
    assert judged == verdicts(expected["deployments"])
    assert report.verdict.value == expected["verdict"]
    assert exit_status(report) == expected["exit_status"]


@pytest.mark.parametrize("name", EXPECTED)
def test_the_page_judges_a_sample_as_written_beside_it(name: str) -> None:
    session = FlightSession(Pipeline(), name, lambda: 0)
    for line, arrival_us in read_flight_file(SAMPLES / name).lines:
        session.take_line(line, arrival_us)
    session.end_of_lines()
    _, snapshot, status = session.snapshot()
    state = state_json(session.session_id, 0, snapshot, status)
    assert verdicts(state["deployments"]) == verdicts(EXPECTED[name]["deployments"])
    # Without a liftoff there is no flight to answer for.
    assert state["answer"] == (None if snapshot.liftoff_t_ms is None else EXPECTED[name]["verdict"])
