"""What README shows of the commands' output is what they say."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

CHECKOUT = Path(__file__).resolve().parents[1]
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")
EXCERPTS = re.findall(r"```console\n(.*?)```", README, re.DOTALL)


def conversations() -> list[tuple[list[str], list[str]]]:
    """Each command of the excerpts in README's order, and the lines that are shown of what it says."""
    found: list[tuple[list[str], list[str]]] = []
    for line in "".join(EXCERPTS).splitlines():
        if line.startswith("$ station "):
            found.append((line.split()[2:], []))
        elif line != "...":
            found[-1][1].append(line)
    return found


def test_every_excerpt_is_real_output(tmp_path: Path, run_station: Callable[..., CompletedProcess[bytes]]) -> None:
    shutil.copytree(CHECKOUT / "replay_samples", tmp_path / "replay_samples")
    (tmp_path / "flights").mkdir()
    shutil.copy(CHECKOUT / "replay_samples" / "nominal-dual.flight", tmp_path / "flights")
    told = conversations()
    assert {arguments[0] for arguments, _ in told} == {"plan", "check", "export", "emulate", "import"}
    for arguments, shown in told:
        done = run_station(*arguments, fresh=True)
        # `plan show` ends with 1 where something stands out.
        assert (done.returncode, done.stderr) in ((0, b""), (1, b"")), arguments
        said = [line.rstrip().replace("\\", "/") for line in done.stdout.decode().splitlines()]
        places = [said.index(line) for line in shown]
        assert places == sorted(places), arguments
    (rows,) = re.findall(r"```csv\n(.*?)```", README, re.DOTALL)
    assert (tmp_path / "nominal-dual-events.csv").read_text(encoding="utf-8-sig").startswith(rows)
