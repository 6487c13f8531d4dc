"""The sample flights in `replay_samples/`: how each is made again, and what it must be judged as."""

import json
from dataclasses import dataclass
from typing import Any

from station.flight_state import FlightVerdict, Verdict
from station.records import Role
from station.virtual.saved_flight import bare_capture, flight_log
from station.virtual.scenarios import SCENARIOS
from station.virtual.truth import Truth
from station.virtual.virtual_flight import VirtualFlight, fly


@dataclass(frozen=True, slots=True)
class Sample:
    """One file. A name that ends in `.flight` is a log of the station, any other a bare capture of lines."""

    file: str
    scenario: str
    seed: int
    drogue: Verdict | None
    main: Verdict | None
    overall: FlightVerdict
    exit_status: int

    @property
    def deployments(self) -> tuple[tuple[Role, Verdict], ...]:
        """Each planned deployment and its verdict."""
        both = ((Role.DROGUE, self.drogue), (Role.MAIN, self.main))
        return tuple((role, verdict) for role, verdict in both if verdict is not None)


def _sample(scenario: str, drogue: Verdict | None, main: Verdict, *, file: str = "", seed: int = 1) -> Sample:
    """The whole flight's verdict follows from those of its deployments, see the JSON contract of the check."""
    verdicts = {verdict for verdict in (drogue, main) if verdict is not None}
    if verdicts == {Verdict.CONFIRMED}:
        overall, status = FlightVerdict.BOTH_CONFIRMED, 0
    elif verdicts <= {Verdict.CONFIRMED, Verdict.NOT_OBSERVED}:
        overall, status = FlightVerdict.NOT_OBSERVED, 3
    else:
        overall, status = FlightVerdict.ATTENTION, 1
    return Sample(file or f"{scenario}.flight", scenario, seed, drogue, main, overall, status)


SAMPLES: tuple[Sample, ...] = (
    _sample("nominal-dual", Verdict.CONFIRMED, Verdict.CONFIRMED),
    _sample("nominal-dual", Verdict.CONFIRMED, Verdict.CONFIRMED, file="nominal-dual-capture.txt", seed=2),
    _sample("drogue-silent", Verdict.NOT_FIRED, Verdict.CONFIRMED, seed=3),
    _sample("main-silent", Verdict.CONFIRMED, Verdict.NOT_FIRED, seed=4),
    _sample("main-stays-in", Verdict.CONFIRMED, Verdict.NO_EFFECT, seed=5),
    _sample("late-ejection", None, Verdict.CONFIRMED, seed=6),
    _sample("early-ejection", None, Verdict.EARLY, seed=19),
    _sample("past-mach-1", Verdict.CONFIRMED, Verdict.CONFIRMED, seed=7),
    _sample("behind-the-trees", Verdict.CONFIRMED, Verdict.NOT_OBSERVED, seed=8),
    _sample("drogue-stays-in", Verdict.NO_EFFECT, Verdict.CONFIRMED, seed=9),
    _sample("tangled-drogue", Verdict.TOO_FAST, Verdict.CONFIRMED, seed=10),
    _sample("tangled-main", Verdict.CONFIRMED, Verdict.TOO_FAST, seed=11),
    _sample("main-at-apogee", Verdict.NOT_OBSERVED, Verdict.EARLY, seed=12),
    _sample("drogue-early", Verdict.EARLY, Verdict.CONFIRMED, seed=13),
    _sample("drogue-late", Verdict.CONFIRMED, Verdict.CONFIRMED, seed=14),
    _sample("ballistic", Verdict.NOT_FIRED, Verdict.NOT_FIRED, seed=15),
    _sample("restart-in-flight", Verdict.CONFIRMED, Verdict.CONFIRMED, seed=16),
    _sample("satellite-fixes", Verdict.CONFIRMED, Verdict.CONFIRMED, seed=24),
    _sample("pad-lifted", Verdict.NOT_OBSERVED, Verdict.NOT_OBSERVED, seed=17),
)


def made(file: str) -> bytes:
    """The bytes of one sample file, or of `expected.json`, made again. Raises KeyError for any other name."""
    if file == "expected.json":
        return expected_document()
    sample = {sample.file: sample for sample in SAMPLES}[file]
    return saved(sample, flown(sample))


def flown(sample: Sample) -> VirtualFlight:
    """The flight in a sample, with its truth."""
    return fly(SCENARIOS[sample.scenario], sample.seed)


def saved(sample: Sample, flight: VirtualFlight) -> bytes:
    """The flight as the sample's file holds it."""
    return flight_log(flight) if sample.file.endswith(".flight") else bare_capture(flight)


def expected_document() -> bytes:
    """`expected.json`: for each file how it was made, what it must be judged as, and what really happened."""
    entries = {}
    for sample in SAMPLES:
        flight = flown(sample)
        entry = _expected(sample, flight.truth, flight.setup.day.pad_temperature_c)
        if flight.setup.altimeter.satellites is not None and flight.truth.landing is not None:
            range_m, bearing_deg = flight.truth.landing
            entry["truth"] |= {"landed_range_m": round(range_m, 1), "landed_bearing_deg": round(bearing_deg, 1)}
        entries[sample.file] = entry
    return (json.dumps(entries, indent=2) + "\n").encode()


def _expected(sample: Sample, truth: Truth, air_temperature_c: float) -> dict[str, Any]:
    """Times of the truth in seconds since liftoff; altitudes in metres above the pad."""
    since = truth.liftoff_t_s

    def after(t_s: float | None) -> float | None:
        return None if t_s is None or since is None else round(t_s - since, 3)

    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 2)

    return {
        "scenario": sample.scenario,
        "seed": sample.seed,
        "air_temperature_c": round(air_temperature_c, 2),
        "verdict": str(sample.overall),
        "exit_status": sample.exit_status,
        "deployments": [{"role": str(role), "verdict": str(verdict)} for role, verdict in sample.deployments],
        "truth": {
            "liftoff_ms": None if since is None else figure(truth.t_ms_of(since)),
            "burnout_t_s": after(truth.burnout_t_s),
            "apogee_t_s": after(truth.apogee_t_s),
            "apogee_m": figure(truth.apogee_m),
            "apogee_isa_m": figure(truth.apogee_isa_m),
            "max_speed_mps": figure(truth.max_velocity_mps),
            "drogue_took_hold_t_s": after(truth.drogue.took_hold_t_s),
            "drogue_rate_mps": figure(truth.drogue.rate_mps),
            "main_took_hold_t_s": after(truth.main.took_hold_t_s),
            "main_rate_mps": figure(truth.main.rate_mps),
            "touchdown_t_s": after(truth.touchdown_t_s),
        },
    }
