"""A saved flight ready to be shown or kept: the check's report, the smoothed curve, every sample as it came. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from station.after_landing import CheckReport, judge_pipeline
from station.columns import Array
from station.errors import NoLiftoffError
from station.flight_state import Event, EventName
from station.pipeline import Pipeline
from station.plan import FlightPlan
from station.prediction import Prediction
from station.records import SampleRecord
from station.smoothed_flight import Moments, SmoothedFlight, smooth_flight
from station.wire import decode_line

NEAR_LIFTOFF_MS = 30_000.0


@dataclass(frozen=True, slots=True)
class HeardSample:
    """One sample with a pressure as it was heard, on the flight's time line (ms), and the height that it stands for.

    `row` is its place in the curve, None outside it.
    """

    t_ms: float
    pressure_pa: float
    altitude_m: float
    temperature_c: float | None
    axial_mps2: float | None
    row: int | None


@dataclass(frozen=True, slots=True, eq=False)
class WholeFlight:
    """A judged flight with a liftoff.

    `liftoff_arrival_us` is when, on the recorder's clock, a line sent at liftoff would have come in; None in a bare
    capture. `begins_s` is when the first line of the record was sent, s from liftoff, so mostly negative.
    """

    report: CheckReport
    plan: FlightPlan | None
    curve: SmoothedFlight
    samples: tuple[HeardSample, ...]
    liftoff_ms: float
    liftoff_arrival_us: float | None
    begins_s: float

    @property
    def name(self) -> str:
        """What the rocket is called: by the plan, else by its altimeter."""
        if self.plan is not None and self.plan.rocket_name is not None:
            return self.plan.rocket_name
        unit = self.report.snapshot.unit
        return "Rocket flight" if unit is None else unit.name

    @property
    def end_s(self) -> float:
        """The last moment of the curve, s from liftoff."""
        return float(self.curve.t_s[-1])

    def seconds(self, event: Event) -> float:
        """When an event happened, s from liftoff."""
        return (event.t_ms - self.liftoff_ms) / 1000.0


def whole_flight(
    lines: Iterable[tuple[bytes, int | None]],
    *,
    file: str,
    torn: bool = False,
    unheard: int | None = None,
    air_temperature_c: float | None = None,
    plan: FlightPlan | None = None,
    prediction: Prediction | None = None,
) -> WholeFlight:
    """Judge the lines of a saved flight as `station check` does, and smooth its curve.

    Raises NoLiftoffError if no liftoff was observed in them.
    """
    pipeline = Pipeline(air_temperature_c=air_temperature_c, plan=plan)
    tracker = pipeline.tracker
    heard: list[tuple[float, float, SampleRecord]] = []
    arrivals: list[tuple[float, int]] = []
    begins_ms: int | None = None
    for line, arrival_us in lines:
        before_ms = tracker.last_sample_ms
        pipeline.take_line(line, arrival_us)
        if begins_ms is None:
            begins_ms = pipeline.clock.t_ms
        t_ms = tracker.last_sample_ms
        if t_ms is None or t_ms == before_ms:
            continue
        record = decode_line(line)
        assert isinstance(record, SampleRecord)
        assert record.pressure_pa is not None
        heard.append((t_ms, record.pressure_pa, record))
        if arrival_us is not None:
            arrivals.append((t_ms, arrival_us))
    report = judge_pipeline(pipeline, file=file, torn=torn, unheard=unheard, prediction=prediction)
    if report.liftoff_ms is None or begins_ms is None or not tracker.flown:
        raise NoLiftoffError(
            f"{file}: no liftoff was observed in it, so there is no flight to show: station check says what was heard."
        )
    liftoff_ms = report.liftoff_ms
    curve = smooth_flight(tracker.flown, _live_speeds(pipeline), liftoff_ms, _moments(pipeline, report))
    rows = {sample.t_ms: row for row, sample in enumerate(tracker.flown)}
    return WholeFlight(
        report=report,
        plan=plan,
        curve=curve,
        samples=tuple(
            HeardSample(
                t_ms,
                pressure_pa,
                pipeline.pad.altitude_m(pressure_pa),
                record.temperature_c,
                record.axial_mps2,
                rows.get(t_ms),
            )
            for t_ms, pressure_pa, record in heard
        ),
        liftoff_ms=liftoff_ms,
        liftoff_arrival_us=_arrival_at(liftoff_ms, arrivals),
        begins_s=(begins_ms - liftoff_ms) / 1000.0,
    )


def _live_speeds(pipeline: Pipeline) -> Array:
    track = pipeline.tracker.track
    return np.interp(
        [sample.t_ms for sample in pipeline.tracker.flown],
        [estimate.t_ms for estimate in track],
        [estimate.velocity_mps for estimate in track],
    )


def _moments(pipeline: Pipeline, report: CheckReport) -> Moments:
    motion = pipeline.tracker.motion
    assert motion is not None
    assert report.liftoff_ms is not None
    fired = [channel.fired_ms for channel in pipeline.channels.reports(pipeline.unit)]
    burnout = next((event for event in report.events if event.name is EventName.BURNOUT), None)
    return Moments(
        {event.name: (event.t_ms - report.liftoff_ms) / 1000.0 for event in report.events},
        tuple((t_ms - report.liftoff_ms) / 1000.0 for t_ms in fired if t_ms is not None),
        pipeline.pad.noise_pa,
        motion.pad_kelvin,
        None if burnout is None else (burnout.altitude_m, burnout.velocity_mps),
        report.summary.max_speed_mps,
    )


def _arrival_at(t_ms: float, arrivals: list[tuple[float, int]]) -> float | None:
    """A moment of the altimeter's clock on the recorder's, by the line near it that was held back least on its way.

    Only lines within half a minute: over hours of waiting the two clocks drift apart.
    """
    near = [us - 1000.0 * at_ms for at_ms, us in arrivals if abs(at_ms - t_ms) <= NEAR_LIFTOFF_MS]
    return 1000.0 * t_ms + min(near) if near else None
