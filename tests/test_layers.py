"""The layers of the house: each part imports only from those below, and the core touches nothing outside.

Read from the source text, so that an import inside a function counts too.
"""

import ast
import subprocess
import sys
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest

# From the bottom up. A module of `station` that is named nowhere here is of the core.
VALUES = {"station", "station.errors", "station.records", "station.flight_state", "station.whereabouts"}
PIPELINE = {
    "station.after_landing",
    "station.alerts",
    "station.apogee_fit",
    "station.ascent_review",
    "station.check_report",
    "station.flown_record",
    "station.next_time",
    "station.logbook.judged_log",
    "station.pipeline",
    "station.read_out",
    "station.refined_descent",
    "station.refining",
    "station.renditions.after_curves",
    "station.renditions.after_page",
    "station.renditions.after_rates",
    "station.renditions.after_words",
    "station.renditions.captions",
    "station.renditions.course",
    "station.renditions.csv_text",
    "station.renditions.flight_json",
    "station.renditions.flight_record",
    "station.renditions.player_data",
    "station.renditions.share_page",
    "station.renditions.still",
    "station.renditions.table",
    "station.renditions.words",
    "station.whole_flight",
}
EDGES = {
    "station.flight_log",
    "station.flight_log.folder",
    "station.flight_log.reading",
    "station.flight_log.writing",
    "station.live",
    "station.logbook.book",
    "station.logbook.index",
    "station.logbook.judging_logs",
    "station.logbook.notes",
    "station.outlets",
    "station.plan_file",
    "station.port_errors",
    "station.prediction_file",
    "station.ports",
    "station.renditions.output_file",
    "station.renditions.page_parts",
    "station.renditions.parquet",
    "station.renditions.png",
    "station.replay",
    "station.serial_link",
    "station.session",
    "station.transmission",
    "station.virtual_port",
}
LAYERS = ("values", "core", "pipeline", "edges", "command line", "page")

# What only the edges may touch: the clock, files, sockets, threads, ports, chance without a seed, other programs.
OUTSIDE = {
    "asyncio", "ctypes", "fcntl", "glob", "http", "io", "logging", "multiprocessing", "os", "pathlib",
    "queue", "random", "secrets", "select", "selectors", "serial", "shutil", "signal", "socket", "subprocess",
    "sys", "tempfile", "threading", "time", "urllib", "uuid", "click", "dash", "flask", "plotly", "waitress",
}  # fmt: skip
OUTSIDE_CALLS = {"open", "print", "input", "breakpoint", "exec", "eval", "now", "utcnow", "today"}


def folder(package: str) -> Path:
    spec = find_spec(package)
    assert spec is not None
    assert spec.submodule_search_locations is not None
    return Path(spec.submodule_search_locations[0])


def module_files() -> dict[str, Path]:
    found = {}
    for package in ("station", "dashboard"):
        root = folder(package)
        for path in root.rglob("*.py"):
            parts = [package, *path.relative_to(root).with_suffix("").parts]
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = module_files()


def layer(module: str) -> str:
    if module.startswith("dashboard"):
        return "page"
    if module.startswith("station.command"):
        return "command line"
    for name, members in (("values", VALUES), ("pipeline", PIPELINE), ("edges", EDGES)):
        if module in members:
            return name
    return "core"


@cache
def tree(module: str) -> ast.Module:
    return ast.parse(MODULES[module].read_text(encoding="utf-8"))


@cache
def imports(module: str) -> frozenset[str]:
    """Every module that `module` imports, ours in full, others as written."""
    found = set()
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module} imports relatively: the rest of the house does not"
            assert node.module is not None
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                found.add(inner if inner in MODULES else node.module)
    return frozenset(found)


def ours(module: str) -> set[str]:
    return {name for name in imports(module) if name.split(".")[0] in ("station", "dashboard")}


@cache
def run_time_imports(module: str) -> frozenset[str]:
    """As `ours`, without those that only the type checker sees."""
    hidden = {
        id(inner)
        for node in ast.walk(tree(module))
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    visible = [node for node in ast.walk(tree(module)) if isinstance(node, ast.ImportFrom) and id(node) not in hidden]
    return frozenset(
        inner if inner in MODULES else str(node.module)
        for node in visible
        for inner in (f"{node.module}.{alias.name}" for alias in node.names)
        if inner in MODULES or node.module in MODULES
    )


def test_every_module_named_in_the_layers_exists() -> None:
    assert (VALUES | PIPELINE | EDGES) - set(MODULES) == set()


@pytest.mark.parametrize("module", sorted(MODULES))
def test_a_module_imports_only_from_its_own_layer_and_below(module: str) -> None:
    own = LAYERS.index(layer(module))
    above = {f"{name} ({layer(name)})" for name in ours(module) if LAYERS.index(layer(name)) > own}
    assert above == set()


@pytest.mark.parametrize("module", sorted(name for name in MODULES if layer(name) in ("values", "core", "pipeline")))
def test_the_core_has_no_clock_file_socket_or_thread(module: str) -> None:
    roots = {name.split(".")[0] for name in imports(module)}
    calls = {
        node.func.id if isinstance(node.func, ast.Name) else node.func.attr
        for node in ast.walk(tree(module))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
    }
    assert roots & OUTSIDE == set()
    assert calls & OUTSIDE_CALLS == set()


def test_no_modules_import_each_other_in_a_circle() -> None:
    finished: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, " -> ".join([*path[path.index(module) :], module])
        if module not in finished:
            for name in sorted(run_time_imports(module) - {module}):
                visit(name, (*path, module))
            finished.add(module)

    for module in sorted(MODULES):
        visit(module, ())


@pytest.mark.parametrize("module", sorted(MODULES))
def test_no_module_hides_one_of_the_standard_library(module: str) -> None:
    assert module.split(".")[-1] not in {"serial", "filter", "signal", "queue", "time", "select", "utils", "helpers"}


def loaded_after(arguments: list[str], folder: Path) -> set[str]:
    """The top-level modules that the real command has loaded when it ends."""
    program = (
        "import atexit, sys\n"
        "from dashboard.command import main\n"
        "atexit.register(lambda: print('LOADED', *{name.split('.')[0] for name in sys.modules}))\n"
        "main()"
    )
    done = subprocess.run(
        [sys.executable, "-P", "-c", program, *arguments], cwd=folder, capture_output=True, text=True, check=False
    )
    (line,) = (line for line in done.stdout.splitlines() if line.startswith("LOADED "))
    return set(line.split())


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "flight.txt"],
        ["export", "flight.txt"],
        ["emulate", "nominal-dual", "--to", "flight.txt", "--pace", "0"],
        ["ports"],
        ["--help"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_command_without_a_page_does_not_load_the_page(arguments: list[str], tmp_path: Path) -> None:
    (tmp_path / "flight.txt").write_bytes(b"")
    assert loaded_after(arguments, tmp_path) & {"dash", "flask", "plotly", "waitress", "pandas", "scipy"} == set()


def test_the_check_does_not_load_serial_port_or_virtual_rocket(tmp_path: Path) -> None:
    (tmp_path / "flight.txt").write_bytes(b"")
    assert "serial" not in loaded_after(["check", "flight.txt"], tmp_path)
