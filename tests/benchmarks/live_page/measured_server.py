"""A `serve.py` of its own process, its processor time and its memory (Linux: proc(5))."""

import os
import subprocess
import sys
from pathlib import Path
from types import TracebackType

HERE = Path(__file__).parent
PATIENCE_S = 30.0


def environment() -> dict[str, str]:
    """So that a child finds this folder's modules and what this Python finds."""
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE), *filter(None, sys.path)])}


class MeasuredServer:
    """Started on entering, killed on leaving."""

    def __init__(self, way: str, points: int) -> None:
        self._process = subprocess.Popen(
            [sys.executable, HERE / "serve.py", way, str(points)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=environment(),
        )

    def __enter__(self) -> "MeasuredServer":
        assert self._process.stdout is not None
        said = self._process.stdout.readline().split()
        if len(said) != 2:
            raise RuntimeError(f"the server did not start; its exit status: {self._process.wait(PATIENCE_S)}")
        self.address, self.zero_ms = said[0], float(said[1])
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.kill()
        self._process.communicate()

    @property
    def port(self) -> int:
        return int(self.address.rstrip("/").rpartition(":")[2])

    def restart(self) -> None:
        """Have it serve the page anew; back once it does."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write("restart\n")
        self._process.stdin.flush()
        assert self._process.stdout.readline() == "restarted\n"

    def processor_s(self) -> float:
        """Processor time used so far."""
        fields = Path(f"/proc/{self._process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def memory_bytes(self) -> int:
        """What it holds in memory now."""
        return int(Path(f"/proc/{self._process.pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
