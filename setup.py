"""Compiles what every received line passes through, and the steps of a coast, where a C compiler is at hand.

All else is in pyproject.toml. The modules below are plain Python, and run as such where they were not compiled: with
the same results to the last bit (tests/test_compiled.py), at a half to a third of the speed. So a build that lacks a
compiler, or Python's headers, says so and goes on. An editable build (`pip install -e`) is not compiled, so that an
edit counts at once.

Their constants are `Final`: those of a number stand in the C code as such, others are looked up by name each time. A
tuple of floats must not be (mypyc 2.x takes it for one that was never set).
"""

import shutil
import sys
from pathlib import Path

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext

COMPILED = [
    "station/flight_log/entries.py",
    "station/wire/decoding.py",
    "station/wire/fields.py",
    "station/atmosphere.py",
    "station/unit_clock.py",
    "station/link_minute.py",
    "station/pipeline.py",
    "station/slow_sensor.py",
    "station/stuck_force.py",
    "station/flight_tracker.py",
    "station/pad.py",
    "station/ascent.py",
    "station/coast_drag.py",
    "station/coast_path.py",
    "station/estimator.py",
    "station/passing_shock.py",
    "station/vertical_motion.py",
    "station/charge_spike.py",
    "station/descent.py",
    "station/stretch.py",
    "station/touchdown.py",
]
# The types are judged by tests/all_checks.py; here only what they say is used, and the libraries are not at hand.
MYPY_OPTIONS = ["--config-file=", "--ignore-missing-imports", "--follow-imports=silent", "--disable-error-code=misc"]


def as_c() -> list[Extension]:
    """The modules translated to C, or none where that fails."""
    try:
        from mypyc.build import mypycify

        return mypycify([*MYPY_OPTIONS, *COMPILED], group_name="station", debug_level="0")
    except (Exception, SystemExit) as error:  # mypy ends the program where it finds fault
        print(f"Not compiled, so it runs as plain Python: {error}", file=sys.stderr)
        return []


class CompiledOrPlain(build_ext):
    """All of the modules compiled, or none."""

    def build_extension(self, ext: Extension) -> None:
        """Without the multiply-add of some processors, which rounds once where plain Python rounds twice."""
        if self.compiler.compiler_type != "msvc":
            ext.extra_compile_args.append("-ffp-contract=off")
        super().build_extension(ext)

    def run(self) -> None:
        """Compile; what a failure left half done goes."""
        try:
            super().run()
        except Exception as error:  # every compiler has its own errors
            print(f"Not compiled, so it runs as plain Python: {error}", file=sys.stderr)
            for name in self.get_outputs():
                Path(name).unlink(missing_ok=True)
            self.extensions = []


# Asked for metadata, or for an editable install, setuptools runs this file too, with other words.
builds = {"build", "build_ext", "bdist_wheel"} & set(sys.argv)
if builds:
    # What an older build left there would go along: modules since moved, or compiled then and not now.
    for older in Path("build").glob("lib*"):
        shutil.rmtree(older)
setup(ext_modules=as_c() if builds else [], cmdclass={"build_ext": CompiledOrPlain})
