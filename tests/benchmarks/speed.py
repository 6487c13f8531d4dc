"""How fast is the station, beside named baselines of the same run? `python tests/benchmarks/speed.py [PART ...]`

    path   the whole live path (decode, filter, detect) a line, against filterpy's predict and update a sample
    pad    cost a line in the first minute of waiting on the pad against the last of `--hours`; memory likewise
    check  `station check` of a flight of ten minutes, a process of its own, user and system time together

What every line passes through is measured as it is installed: compiled, or plain Python after `pip install -e`.
Baselines are timed in turn with what they stand beside, and ratios taken turn by turn: what else the machine does
meanwhile falls on both. All parts take about four minutes, nearly all of them 24 hours on the pad.
"""

import argparse
import gc
import os
import random
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import numpy as np
from filterpy.kalman import KalmanFilter

import station.pipeline
from station.flight_state import Phase
from station.pipeline import Pipeline
from station.virtual.flight_setup import FlightSetup
from station.virtual.saved_flight import flight_log
from station.virtual.scenarios import club_rocket, mach_rocket
from station.virtual.virtual_flight import fly_setup
from station.wire.crc import crc16

PATH_TARGET = 1.0 / 3.0
PAD_TARGET = 1.1
CHECK_TARGET_S = 1.0
PERIOD_MS = 20
TURNS = 7
MINUTE = 60_000 // PERIOD_MS
CHUNK = 500
LEAST_HOURS = 0.05
STATION = [sys.executable, "-P", "-c", "from dashboard.command import main; main()"]

Line = tuple[bytes, int]


def ten_minutes() -> FlightSetup:
    """Past the speed of sound to 3.4 km, down under a drogue, and for most of ten minutes under a main set high."""
    setup = mach_rocket(1)
    unit = replace(setup.altimeter, sample_period_ms=PERIOD_MS, main_altitude_m=2900.0)
    return replace(setup, altimeter=unit, pad_s=30.0)


def seconds(work: Callable[[], object]) -> float:
    """Processor time of this thread, without the collector's pauses."""
    gc.collect()
    gc.disable()
    start = time.thread_time()
    work()
    spent = time.thread_time() - start
    gc.enable()
    return spent


def feed(pipeline: Pipeline, lines: Sequence[Line]) -> None:
    """As live."""
    take = pipeline.take_line
    for line, arrival_us in lines:
        take(line, arrival_us)


def filter_steps(count: int) -> None:
    """filterpy's predict and update alone, three states and one measurement, `count` times."""
    kalman = KalmanFilter(dim_x=3, dim_z=1)
    dt = PERIOD_MS / 1000.0
    kalman.F = np.array([[1.0, dt, 0.5 * dt * dt], [0.0, 1.0, dt], [0.0, 0.0, 1.0]])
    kalman.H = np.array([[1.0, 0.0, 0.0]])
    kalman.Q = np.eye(3) * 0.01
    for _ in range(count):
        kalman.predict()
        kalman.update(1.0)


# -- the live path -------------------------------------------------------------------------------------------------


def measure_path(turns: int) -> bool:
    """A line of the table for each kind of flight."""
    form = "plain Python" if str(station.pipeline.__file__).endswith(".py") else "compiled"
    print(f"live path ({form}): decode, filter and detect, against filterpy's predict and update on as many samples")
    met = True
    kinds = {
        "a flight of the club rocket": club_rocket(1),
        "the same without accelerometer": replace(club_rocket(1), accelerometer=None),
        "a flight of ten minutes": ten_minutes(),
    }
    for name, setup in kinds.items():
        lines = list(fly_setup(setup, 1, name).heard())
        samples = sum(line.startswith(b"@SMP") for line, _ in lines)
        ours, theirs = [], []
        for _ in range(turns):
            ours.append(seconds(lambda lines=lines: feed(Pipeline(), lines)))  # type: ignore[misc]
            theirs.append(seconds(lambda samples=samples: filter_steps(samples)))  # type: ignore[misc]
        ratio = median(a / b for a, b in zip(ours, theirs, strict=True))
        met &= ratio <= PATH_TARGET
        print(
            f"  {name:32} {len(lines):6d} lines: {1e6 * median(ours) / len(lines):5.1f} us a line, "
            f"filterpy {1e6 * median(theirs) / samples:5.1f} us a sample, ratio of the wholes {ratio:.3f} "
            f"{verdict(ratio, PATH_TARGET)}"
        )
    return met


# -- waiting on the pad --------------------------------------------------------------------------------------------


def pad_lines(seed: int) -> Iterator[Line]:
    """Lines from a rocket that waits: 50 samples a second, and each second the channels, a fix and the signal."""
    chance = random.Random(seed)
    noise = [chance.gauss(0.0, 4.0) for _ in range(9973)]
    shake = [chance.gauss(9.8, 0.15) for _ in range(9967)]
    seq = t_ms = sample = 0

    def line(body: bytes) -> Line:
        return b"@%s*%04X" % (body, crc16(body)), 1000 * t_ms

    while True:
        if sample % 500 == 0:
            yield line(b"ID,%d,%d,1,WAIT-1,%d,drogue,main,150" % (seq % 65536, t_ms, PERIOD_MS))
            seq += 1
        if sample % 50 == 0:
            yield line(b"CHN,%d,%d,8250,ready,,ready," % (seq % 65536, t_ms))
            yield line(b"RXQ,,,-70.5,12.0")
            east, north = shake[sample % 9967] - 9.8, shake[sample % 9949] - 9.8
            yield line(b"FIX,%d,%d,%.7f,%.7f,211.0,9" % ((seq + 1) % 65536, t_ms, 48 + 3e-5 * north, 9 + 3e-5 * east))
            seq += 2
        # The weather moves the ground's pressure by a hundred pascal or two within the day.
        pressure = 98_000.0 + 200.0 * np.sin(t_ms / 1.2e7) + noise[sample % 9973]
        axial = shake[sample % 9967]
        yield line(b"SMP,%d,%d,%.1f,18.5,%.2f" % (seq % 65536, t_ms, pressure, axial))
        seq += 1
        sample += 1
        t_ms += PERIOD_MS


def memory_bytes() -> int:
    """Memory in use by this process now (Linux), elsewhere the most it ever used."""
    try:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def measure_pad(hours: float, turns: int) -> bool:
    """Wait for hours, then time the newest lines in turn with the first minute of fresh pipelines."""
    print(f"\nwaiting on the pad: {hours:g} h, {1000 // PERIOD_MS} samples a second")
    waiting, source = Pipeline(), pad_lines(1)
    marks = [float(hour) for hour in range(1, round(hours) + 1)] if hours >= 2.0 else [hours / 2.0, hours]
    total, arrival_us = 0, 0
    memories = []
    for mark in marks:
        spent, began = 0.0, total
        while arrival_us < 3.6e9 * mark:
            chunk = list(islice(source, MINUTE))
            spent += seconds(lambda chunk=chunk: feed(waiting, chunk))  # type: ignore[misc]
            total += len(chunk)
            arrival_us = chunk[-1][1]
        memories.append(memory_bytes())
        print(f"  {mark:5.2f} h: {1e6 * spent / (total - began):5.2f} us a line, {memories[-1] / 2**20:6.1f} MiB")
    ratios, looks = [], []
    for turn in range(turns):
        fresh, first = Pipeline(), pad_lines(turn)
        for _ in range(MINUTE // CHUNK):
            new, old = list(islice(first, CHUNK)), list(islice(source, CHUNK))
            young = seconds(lambda new=new, fresh=fresh: feed(fresh, new))  # type: ignore[misc]
            ratios.append(seconds(lambda old=old: feed(waiting, old)) / young)  # type: ignore[misc]
            looks.append((seconds(fresh.snapshot), seconds(waiting.snapshot)))
    assert waiting.tracker.phase is Phase.WAITING
    ratio, grown = median(ratios), memories[-1] / memories[0]
    print(f"  cost a line after {total} lines, against the first minute: {ratio:.3f} {verdict(ratio, PAD_TARGET)}")
    look_first, look_last = (1e6 * median(side) for side in zip(*looks, strict=True))
    print(f"  a snapshot for the page: {look_last:.0f} us, in the first minute {look_first:.0f} us")
    print(f"  memory of this process, against {marks[0]:g} h: {grown:.3f} {verdict(grown, PAD_TARGET)}")
    return ratio <= PAD_TARGET and grown <= PAD_TARGET


# -- the check -----------------------------------------------------------------------------------------------------


def child_seconds(command: list[str]) -> float:
    """User and system time of a process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def measure_check(turns: int) -> bool:
    """The whole process, beside a Python that only loads numpy and beside filterpy on as many samples."""
    flight = fly_setup(ten_minutes(), 1, "ten minutes")
    lines = list(flight.heard())
    samples = sum(line.startswith(b"@SMP") for line, _ in lines)
    print(f"\nstation check: one flight of {flight.lines[-1].t_s:.0f} s, {len(lines)} lines")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ten-minutes.flight"
        path.write_bytes(flight_log(flight))
        checks, loads, filters = [], [], []
        for _ in range(turns):
            checks.append(child_seconds([*STATION, "check", str(path)]))
            loads.append(child_seconds([sys.executable, "-c", "import numpy"]))
            filters.append(seconds(lambda: filter_steps(samples)))
    spent = median(checks)
    ratio = median(a / b for a, b in zip(checks, filters, strict=True))
    print(f"  processor time of the whole process {spent:.2f} s {verdict(spent, CHECK_TARGET_S)}")
    print(f"  of it Python and numpy loading: {median(loads):.2f} s")
    print(f"  against filterpy's predict and update alone on as many samples: {ratio:.2f}")
    return spent <= CHECK_TARGET_S


def verdict(value: float, target: float) -> str:
    """The target, and whether it is met."""
    return f"(at most {target:.3g}: {'ok' if value <= target else 'OVER'})"


def main() -> None:
    """Command line; exit status 1 if a target is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("parts", nargs="*", metavar="PART", help="path, pad, check [default: all]")
    parser.add_argument("--hours", type=float, default=24.0, help="how long to wait on the pad [default: 24]")
    parser.add_argument("--turns", type=int, default=TURNS, help="how often each timing is repeated")
    given = parser.parse_args()
    if given.hours < LEAST_HOURS:
        parser.error(f"--hours must be at least {LEAST_HOURS}")
    parts: dict[str, Callable[[], bool]] = {
        "path": lambda: measure_path(given.turns),
        "pad": lambda: measure_pad(given.hours, given.turns),
        "check": lambda: measure_check(given.turns),
    }
    if unknown := set(given.parts) - set(parts):
        parser.error(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(parts)}")
    met = [parts[name]() for name in given.parts or parts]
    sys.exit(0 if all(met) else 1)


if __name__ == "__main__":
    main()
