import json
from pathlib import Path
from subprocess import CompletedProcess
from typing import Protocol

import pytest

from station.flight_log import parse_flight
from station.flight_log.entries import EntryKind
from station.records import Record, RejectReason
from station.virtual.samples import SAMPLES, Sample, expected_document, flown, made
from station.wire import decode_line

FOLDER = Path(__file__).parents[3] / "replay_samples"
README = (FOLDER / "README.md").read_text(encoding="utf-8")
EXPECTED = json.loads((FOLDER / "expected.json").read_bytes())


class RunStation(Protocol):
    def __call__(self, *arguments: str | Path) -> CompletedProcess[bytes]: ...


def sample_id(sample: Sample) -> str:
    return sample.file


every_sample = pytest.mark.parametrize("sample", SAMPLES, ids=sample_id)


@every_sample
def test_a_sample_made_again_is_the_same_to_the_last_byte(sample: Sample) -> None:
    assert made(sample.file) == (FOLDER / sample.file).read_bytes()


def test_the_machine_readable_expectations_made_again_are_the_same() -> None:
    assert expected_document() == (FOLDER / "expected.json").read_bytes()


def test_no_file_lies_beside_the_samples_unexplained() -> None:
    known = {sample.file for sample in SAMPLES} | {"README.md", "comet.toml", "expected.json", ".gitattributes"}
    assert {path.name for path in FOLDER.iterdir()} == known


@every_sample
def test_a_sample_is_small(sample: Sample) -> None:
    assert (FOLDER / sample.file).stat().st_size < 400_000


@every_sample
def test_the_readme_says_of_a_sample_what_the_list_says(sample: Sample) -> None:
    verdicts = ", ".join(f"{role} `{verdict}`" for role, verdict in sample.deployments)
    row = next(line for line in README.splitlines() if line.startswith(f"| `{sample.file}` "))
    assert row.startswith(f"| `{sample.file}` | {sample.scenario} | {sample.seed} |")
    assert row.endswith(f"| {verdicts} | `{sample.overall}` | {sample.exit_status} |")


@every_sample
def test_a_sample_reads_back_as_the_lines_that_were_heard(sample: Sample) -> None:
    flight = flown(sample)
    read = parse_flight((FOLDER / sample.file).read_bytes(), sample.file)
    entries = [entry for entry in read.entries if entry.kind is EntryKind.LINE]
    heard = b"".join(line.data for line in flight.lines)
    assert b"".join(entry.data + b"\n" for entry in entries) == heard
    sent = {record for _, record in flight.records}
    decoded = [record for entry in entries if isinstance(record := decode_line(entry.data), Record)]
    from_altimeter = [record for record in decoded if hasattr(record, "seq")]
    assert len(from_altimeter) > 0.9 * len(entries) - 100
    assert set(from_altimeter) <= sent


@every_sample
def test_a_log_keeps_when_each_line_came(sample: Sample) -> None:
    entries = parse_flight((FOLDER / sample.file).read_bytes(), sample.file).entries
    times = [entry.arrival_us for entry in entries]
    if sample.file.endswith(".flight"):
        arrivals = [time for time in times if time is not None]
        assert len(arrivals) == len(times)
        assert arrivals == sorted(arrivals)
        assert arrivals[-1] == pytest.approx(flown(sample).lines[-1].t_s * 1e6, abs=1.0)
    else:
        assert set(times) == {None}


def test_some_lines_of_the_samples_are_spoilt_and_refused_by_their_crc() -> None:
    entries = [
        entry for sample in SAMPLES for entry in parse_flight((FOLDER / sample.file).read_bytes(), sample.file).entries
    ]
    reasons = [getattr(decode_line(entry.data), "reason", None) for entry in entries]
    assert reasons.count(RejectReason.BAD_CRC) > 10


def test_the_list_covers_every_verdict_that_there_is() -> None:
    verdicts = {deployment["verdict"] for entry in EXPECTED.values() for deployment in entry["deployments"]}
    assert verdicts == {"confirmed", "too_fast", "no_effect", "early", "not_fired", "not_observed"}
    assert {entry["exit_status"] for entry in EXPECTED.values()} == {0, 1, 3}


def test_the_emulate_command_makes_the_bare_capture_again(run_station: RunStation, tmp_path: Path) -> None:
    done = run_station("emulate", "nominal-dual", "--seed", "2", "--pace", "0", "--to", "again.txt")
    assert done.returncode == 0
    assert (tmp_path / "again.txt").read_bytes() == (FOLDER / "nominal-dual-capture.txt").read_bytes()
