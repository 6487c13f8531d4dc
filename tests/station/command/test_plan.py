"""`station plan`, run as a program of its own."""

import contextlib
import json
import os
import pty
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest

from station.plan_file import read_plan
from station.plan_questions import QUESTIONS

Run = Callable[..., subprocess.CompletedProcess[bytes]]
# A throw without air at 103.7 m/s: v^2/(2 g) = 548.3 m, the apogee of the document's plan.
SIMULATION = "Time (s),Height[ft]\n" + "".join(
    f"{0.1 * n:.1f},{(103.7 * 0.1 * n - 4.903325 * (0.1 * n) ** 2) / 0.3048:.2f}\n" for n in range(212)
)
PROGRAM = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]


PlanNew = Callable[..., subprocess.CompletedProcess[bytes]]


@pytest.fixture
def plan_new(run_station: Run) -> PlanNew:
    """Run `station plan new ARGUMENTS` with these answers piped into it."""

    def run(answers: str | bytes, *arguments: str, fresh: bool = False) -> subprocess.CompletedProcess[bytes]:
        data = answers if isinstance(answers, bytes) else answers.encode()
        return run_station("plan", "new", *arguments, stdin=data, fresh=fresh)

    return run


@pytest.fixture
def example(tmp_path: Path) -> Path:
    """The worked example of PLAN.md as a file."""
    document = files("station").joinpath("PLAN.md").read_text(encoding="utf-8")
    match = re.search(r"```toml\n(.*?)```", document, re.DOTALL)
    assert match is not None
    path = tmp_path / "comet.toml"
    path.write_text(match[1], encoding="utf-8")
    (tmp_path / "simulation.csv").write_text(SIMULATION, encoding="utf-8")
    return path


def test_piped_answers_make_a_plan_that_can_be_shown(tmp_path: Path, run_station: Run, plan_new: PlanNew) -> None:
    done = plan_new("".join(f"{question.example}\n" for question in QUESTIONS), "comet.toml", fresh=True)
    assert (done.returncode, done.stderr) == (0, b"")
    plan = read_plan(tmp_path / "comet.toml")
    assert plan.rocket_name == "Little Comet"
    assert plan.prediction_file == "simulation.csv"
    (tmp_path / "simulation.csv").write_text(SIMULATION, encoding="utf-8")
    shown = run_station("plan", "show", "comet.toml")
    assert (shown.returncode, shown.stderr) == (0, b"")


def test_where_the_answers_end_the_rest_is_skipped(plan_new: PlanNew, tmp_path: Path) -> None:
    done = plan_new("Little Comet\n\n2.6 in")
    assert done.returncode == 0
    plan = read_plan(tmp_path / "plan.toml")
    assert (plan.rocket_name, plan.rocket_mass_kg) == ("Little Comet", None)
    assert plan.rocket_diameter_m == pytest.approx(0.06604)


def test_a_wrong_answer_is_explained_and_asked_again(plan_new: PlanNew, tmp_path: Path) -> None:
    done = plan_new("\n5\n5 lb\n")
    assert done.returncode == 0
    assert b'Not taken: "5" has no unit: write for example "5 lb" or "2.3 kg"' in done.stdout
    assert read_plan(tmp_path / "plan.toml").rocket_mass_kg == pytest.approx(2.26796185)


def test_answers_that_end_with_a_wrong_one_write_nothing(plan_new: PlanNew, tmp_path: Path) -> None:
    done = plan_new("\n5\n")
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert b"mass in [rocket]" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_answers_in_another_character_set_do_not_end_it(plan_new: PlanNew, tmp_path: Path) -> None:
    done = plan_new("Kom\xe9t\n".encode("latin-1"))
    assert done.returncode == 0
    assert (tmp_path / "plan.toml").exists()


@pytest.mark.parametrize("answer", ["n\n", "\n", ""])
def test_a_plan_is_not_written_over_unasked(plan_new: PlanNew, tmp_path: Path, answer: str) -> None:
    (tmp_path / "plan.toml").write_text("# mine\n", encoding="utf-8")
    done = plan_new(answer)
    assert done.returncode == 2
    assert b"left as it is" in done.stderr
    assert (tmp_path / "plan.toml").read_text(encoding="utf-8") == "# mine\n"


def test_a_plan_is_written_over_when_that_is_wanted(plan_new: PlanNew, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text("# mine\n", encoding="utf-8")
    assert plan_new("y\nLittle Comet\n").returncode == 0
    assert read_plan(tmp_path / "plan.toml").rocket_name == "Little Comet"


@pytest.mark.parametrize(
    ("file", "said"),
    [("folder", b"is a folder"), ("none/plan.toml", b"no folder none"), ("x.flight", b"recorded flights")],
)
def test_a_name_that_will_not_do_is_said_before_the_first_question(
    plan_new: PlanNew, tmp_path: Path, file: str, said: bytes
) -> None:
    (tmp_path / "folder").mkdir()
    done = plan_new("Little Comet\n", file)
    assert (done.returncode, done.stdout, done.stderr.count(b"\n")) == (2, b"", 1)
    assert said in done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_answers_are_shown_when_they_cannot_be_written(plan_new: PlanNew, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").symlink_to("/dev/full")
    done = plan_new("y\nLittle Comet\n")
    assert done.returncode == 2
    assert b'name = "Little Comet"' in done.stdout
    assert done.stderr.startswith(b"station: plan.toml: cannot write the plan")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminal of this kind")
def test_at_a_terminal_it_asks_one_question_at_a_time_and_ctrl_c_writes_nothing(tmp_path: Path) -> None:
    mine, theirs = pty.openpty()
    with subprocess.Popen(
        [*PROGRAM, "plan", "new"],
        cwd=tmp_path,
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
        # Tests that run in the background of a shell inherit that Ctrl-C is ignored; a person's terminal does not.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as program:
        os.close(theirs)
        seen = b""
        while b"What is the rocket called?" not in seen or not seen.endswith(b"> "):
            seen += os.read(mine, 1000)
        assert b"weigh" not in seen
        os.write(mine, b"Little Comet\n")
        while b"weigh" not in seen or not seen.endswith(b"> "):
            seen += os.read(mine, 1000)
        # One that comes between the prompt and the reading is only noted when a key is pressed: press it again.
        for _ in range(60):
            program.send_signal(signal.SIGINT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                program.wait(1)
                break
        assert program.wait(1) == 130
        while b"Nothing was written." not in seen:
            seen += os.read(mine, 1000)
    os.close(mine)
    assert b"Traceback" not in seen
    assert list(tmp_path.iterdir()) == []


def test_the_example_of_the_document_does_not_stand_out(example: Path, run_station: Run) -> None:
    done = run_station("plan", "show", example)
    text = done.stdout.decode()
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Nothing in this plan stands out." in text
    assert "class H" in text
    assert "certification level 1" in text


def test_the_simulation_that_a_plan_names_is_opened_and_told(example: Path, run_station: Run) -> None:
    text = " ".join(run_station("plan", "show", example).stdout.decode().split())
    assert re.search(
        r"simulation\.csv can be read \(time from .*\): 10\d(\.\d)? m/s .* at most, apogee at 548\.\d m", text
    )


@pytest.mark.parametrize(
    ("simulation", "says"),
    [
        (None, "simulation.csv: cannot read the prediction: No such file or directory: check the name"),
        ("Time (s),Altitude (m)\n0,0\n0.1,nan\n", "simulation.csv: line 3: altitude is nan: leave such rows out"),
        ("Clock,Up\n0,0\n1,5\n", 'simulation.csv: line 1: column 1 "Clock" has no unit'),
        (SIMULATION.replace("[ft]", "[m]"), "The plan's apogee is 548.6 m (1,800 ft): look at both, and at the units."),
    ],
)
def test_a_simulation_that_will_not_do_stands_out(
    example: Path, run_station: Run, simulation: str | None, says: str
) -> None:
    path = example.parent / "simulation.csv"
    path.unlink() if simulation is None else path.write_text(simulation, encoding="utf-8")
    done = run_station("plan", "show", "--json", example)
    assert (done.returncode, done.stderr) == (1, b"")
    (finding,) = (each for each in json.loads(done.stdout)["findings"] if each["stands_out"])
    assert finding["code"] == "simulation"
    assert says in finding["text"]


def test_what_stands_out_is_status_1_and_too_little_is_3(tmp_path: Path, run_station: Run) -> None:
    (tmp_path / "windy.toml").write_text('[field]\nwind = "25 mph"\n', encoding="utf-8")
    (tmp_path / "empty.toml").write_text("", encoding="utf-8")
    windy, empty = (run_station("plan", "show", name) for name in ("windy.toml", "empty.toml"))
    assert windy.returncode == 1
    assert b"over the limit of 20 mph" in windy.stdout
    assert empty.returncode == 3
    assert b"leaves open" in empty.stdout


def test_json_for_programs(example: Path, run_station: Run) -> None:
    document = json.loads(run_station("plan", "show", "--json", example).stdout)
    assert document["schema"] == "station-plan/1"
    assert document["file"] == str(example)
    assert document["follows"]["impulse_class"] == "H"
    assert len(document["follows"]["descents"]) == 2


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("plan show none.toml", b"none.toml: cannot read the plan"),
        ("plan show bad.toml", b"bad.toml: line 2: wind in [field]"),
        ("plan show none.flight", b"none.flight does not exist"),
        ("plan show bare.flight", b"recorded without a plan"),
        ("plan shwo x", b"station plan --help"),
        ("plan show", b"FILE"),
    ],
)
def test_bad_input_is_one_line(tmp_path: Path, run_station: Run, arguments: str, said: bytes) -> None:
    (tmp_path / "bad.toml").write_text('[field]\nwind = "25"\n', encoding="utf-8")
    (tmp_path / "bare.flight").write_text("station flight log 1\nport: x\n\n", encoding="utf-8")
    done = run_station(*arguments.split())
    assert (done.returncode, done.stdout, done.stderr.count(b"\n")) == (2, b"", 1)
    assert said in done.stderr


def test_plan_alone_explains_itself(run_station: Run) -> None:
    done = run_station("plan")
    assert done.returncode == 0
    assert b"station plan new comet.toml" in done.stdout
