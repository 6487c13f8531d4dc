"""Every check that a change must pass: format, lint, types, tests. `python tests/all_checks.py [NAME...]`."""

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CHECKS = {
    "format": ["ruff", "format", "--check", "."],
    "lint": ["ruff", "check", "."],
    "types": ["mypy"],
    # The script and not `python -m pytest`, which would test this folder and not what is installed.
    "tests": ["pytest"],
}


def tool(name: str) -> str:
    """The tool that is installed beside this Python."""
    found = shutil.which(name, path=str(Path(sys.executable).parent))
    if found is None:
        sys.exit(f"{name} is not installed beside {sys.executable}: install '.[test]' there, see README.md")
    return found


def main(names: list[str]) -> int:
    """Run the named checks, all of them without a name; 0 if all pass."""
    if unknown := set(names) - set(CHECKS):
        sys.exit(f"no such check: {', '.join(sorted(unknown))}: there are {', '.join(CHECKS)}")
    failed = []
    for name in names or CHECKS:
        program, *arguments = CHECKS[name]
        print(f"== {name}: {program} {' '.join(arguments)}", flush=True)
        if subprocess.run([tool(program), *arguments], cwd=ROOT, check=False).returncode:
            failed.append(name)
    print(f"failed: {', '.join(failed)}" if failed else "all passed", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
