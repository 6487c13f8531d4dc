"""The one path from received lines to what is known of the flight: live, replay and check all use it.

Pure: no clock, file, socket or thread. Feeding the same lines with the same arrival times gives the same
results to the last bit, whenever and however fast they are fed.
"""

from collections import Counter
from typing import Final

from station.alerts import flight_alerts
from station.channels import ChannelBook
from station.deployment_evidence import judge_deployments, opening_events
from station.deployment_facts import Facts
from station.drift import WindDrift, planned_main
from station.flight_state import (
    Alert,
    Deployment,
    Estimate,
    Event,
    EventName,
    Fix,
    LinkStatus,
    Phase,
    Snapshot,
    TakenBack,
    Unit,
)
from station.flight_tracker import FlightTracker
from station.ground_track import GroundTrack
from station.link_minute import LinkMinute
from station.opening_watch import OpeningWatch
from station.outlook import LookAhead
from station.pad import PadReference
from station.plan import FlightPlan, Recovery
from station.records import (
    ChannelRecord,
    FixRecord,
    OtherRecord,
    Reject,
    SampleRecord,
    SignalRecord,
    UnitRecord,
)
from station.refined_flight import RefinedFlight
from station.slow_sensor import SlowSensor
from station.unit_clock import UnitClock
from station.whereabouts import Whereabouts
from station.wire import decode_line, noise_before

FRAME_START: Final = ord("@")
# What its channels are for an altimeter says every ten seconds at the latest; two may be lost.
ROLES_COME_MS: Final = 30_000.0


class Pipeline:
    """Lines in; estimates, events, link and channel status out."""

    def __init__(self, *, air_temperature_c: float | None = None, plan: FlightPlan | None = None) -> None:
        if air_temperature_c is None and plan is not None:
            air_temperature_c = plan.air_temperature_c
        self.plan = plan
        self.pad = PadReference(air_temperature_c)
        self.tracker = FlightTracker(self.pad)
        self.clock = UnitClock()
        self._sensor = SlowSensor()
        self.channels = ChannelBook()
        self.unit: Unit | None = None
        self.fix: Fix | None = None
        self.ground = GroundTrack()
        self._good = self._noise_bytes = self._unknown = 0
        self._rejected: Counter[str] = Counter()
        self._last_heard_us: int | None = None
        self._signal: SignalRecord | None = None
        self._restart_ms: list[float] = []
        self._minute = LinkMinute()
        self._begin_flight()

    def _begin_flight(self) -> None:
        """What looks at a flight point by point begins with its first."""
        self._begun_anew = len(self.tracker.taken_back)
        self._wind_drift = WindDrift()
        self._look_ahead = LookAhead()
        self._opening_watch = OpeningWatch()

    @property
    def track(self) -> list[Estimate]:
        """Every estimate of the flight in order; only appended to, unless a liftoff is `taken_back`."""
        return self.tracker.track

    @property
    def taken_back(self) -> tuple[TakenBack, ...]:
        """The liftoffs that were called and then taken back; with each the flight has begun anew."""
        return tuple(self.tracker.taken_back)

    def take_line(self, line: bytes, arrival_us: int | None) -> Estimate | None:
        """Take one framed line (without its LF), and its arrival time on the recorder's clock if known.

        Returns the new estimate if the line was a sample that the filter used, else None. Never raises on
        bad input: what is not believed is counted.
        """
        record = decode_line(line)
        if record is None:
            return None
        if line[0] != FRAME_START:
            self._noise_bytes += noise_before(line)
        clock = self.clock
        lost = clock.lost
        estimate = None
        if isinstance(record, SampleRecord):
            # Nine lines in ten: `_place` and the opening's watch stand here themselves, for a call less each.
            seq, raw_t_ms, pressure_pa, temperature_c, axial_mps2 = record
            restarts = clock.restarts
            t_ms = clock.take(seq, raw_t_ms, arrival_us)
            if clock.restarts != restarts:
                self._restarted(t_ms)
            tracker = self.tracker
            last_ms = tracker.last_sample_ms
            if pressure_pa is None or (last_ms is not None and t_ms <= last_ms):
                pass  # nothing measured, or heard late or twice
            elif self._sensor.is_reading(pressure_pa, clock.lost):
                estimate = tracker.take(float(t_ms), pressure_pa, temperature_c, axial_mps2)
                if len(tracker.taken_back) != self._begun_anew:
                    self._begin_flight()
                if tracker.descent is not None and not self._opening_watch.looked:
                    self._watch_opening()
            elif axial_mps2 is not None:
                tracker.feel(float(t_ms), axial_mps2)
        elif isinstance(record, Reject):
            self._rejected[record.reason.value] += 1
            if arrival_us is not None:
                self._minute.take_rejected(arrival_us)
            return None
        else:
            self._take_other(record, arrival_us)
        self._good += 1
        if arrival_us is not None:
            self._last_heard_us = arrival_us
            self._minute.take_believed(arrival_us, clock.lost - lost)
        return estimate

    def _watch_opening(self) -> None:
        if self._opening_watch.is_due(self.tracker):
            self._opening_watch.look(self.tracker, by_motor=self.by_motor)

    def snapshot(self, *, over: bool = False) -> Snapshot:
        """Everything known after the last line; `over` says that no more lines will come."""
        tracker = self.tracker
        deployments = self._opening_watch.told(judge_deployments(self.facts(over=over)), tracker)
        return Snapshot(
            phase=tracker.phase,
            liftoff_t_ms=tracker.liftoff_ms,
            estimate=tracker.estimate,
            highest_m=tracker.highest_m,
            fastest_mps=tracker.fastest_mps,
            pad_pressure_pa=self.pad.pressure_pa,
            air_temperature_c=self.pad.air_temperature_c,
            isa_to_true=self.pad.ratio,
            temperature_is_given=self.pad.given_temperature_c is not None,
            events=self._events(deployments),
            deployments=deployments,
            alerts=self.alerts(deployments, over=over),
            unit=self.unit,
            channels=self.channels.status,
            fix=self.fix,
            link=self._link(),
            outlook=None if over else self._look_ahead.outlook(tracker, deployments, self.main_height_m, self.plan),
            whereabouts=self._whereabouts(),
        )

    @property
    def by_motor(self) -> bool:
        """The motor throws the only parachute out: by the plan, else because the altimeter has no channels."""
        if self.plan is not None and self.plan.recovery is not None:
            return self.plan.recovery is Recovery.MOTOR
        return self.unit is not None and not self.channels.reports(self.unit)

    @property
    def main_height_m(self) -> float | None:
        """Where the main should be fired, true metres above the pad: by the altimeter, else by the plan."""
        if self.unit is not None and self.unit.main_altitude_m is not None:
            return self.unit.main_altitude_m * self.pad.ratio
        return self.plan.main_height_m if self.plan is not None else None

    def _place(self, seq: int, raw_t_ms: int, arrival_us: int | None) -> int:
        clock = self.clock
        restarts = clock.restarts
        t_ms = clock.take(seq, raw_t_ms, arrival_us)
        if clock.restarts != restarts:
            self._restarted(t_ms)
        return t_ms

    def _restarted(self, t_ms: int) -> None:
        self._restart_ms.append(t_ms)
        self.tracker.restarted()

    def _take_other(
        self,
        record: UnitRecord | ChannelRecord | FixRecord | SignalRecord | OtherRecord,
        arrival_us: int | None,
    ) -> None:
        if isinstance(record, SignalRecord):
            self._signal = record
            return
        if isinstance(record, OtherRecord):
            self._unknown += 1
            if record.seq is not None and record.t_ms is not None:
                self._place(record.seq, record.t_ms, arrival_us)
            return
        t_ms = float(self._place(record.seq, record.t_ms, arrival_us))
        if isinstance(record, UnitRecord):
            self.unit = Unit(
                record.unit_name,
                record.protocol_version,
                record.sample_period_ms,
                record.channel_1_role,
                record.channel_2_role,
                record.main_altitude_m,
            )
        elif isinstance(record, ChannelRecord):
            self.channels.take(t_ms, record, self.clock)
            for fired_ms in self.channels.fired_ms:
                self.tracker.hear_fired(fired_ms)
        else:
            self._take_fix(t_ms, record, arrival_us)

    def _take_fix(self, t_ms: float, record: FixRecord, arrival_us: int | None) -> None:
        if record.latitude_deg is not None and record.longitude_deg is not None:
            self.fix = Fix(t_ms, record.latitude_deg, record.longitude_deg, record.height_m, record.satellites)
        self.ground.take(t_ms, record, self.tracker.phase, self.tracker.estimate, arrival_us)

    def _whereabouts(self) -> Whereabouts:
        tracker, ground = self.tracker, self.ground
        liftoff_ms, touchdown = tracker.liftoff_ms, tracker.event(EventName.TOUCHDOWN)
        main = planned_main(self.main_height_m, self.plan)
        now_ms = float(self.clock.t_ms or 0)
        place = ground.place(now_ms, liftoff_ms, None if touchdown is None else touchdown.t_ms, main)
        return Whereabouts(
            pad=ground.pad(liftoff_ms),
            place=place,
            points=ground.way_over_ground(liftoff_ms),
            refused=ground.refused,
            drift=None if place is not None else self._wind_drift.wedge(tracker, self.plan, self.main_height_m),
            wind_is_planned=self.plan is not None and self.plan.wind_mps is not None,
        )

    def facts(self, *, over: bool, refined: RefinedFlight | None = None) -> Facts:
        """What the verdicts rest on; after landing with the refined events and stretches in place of the live ones."""
        tracker = self.tracker
        if refined is None:
            events, stretches = tuple(tracker.events), tuple(tracker.stretches())
        else:
            events, stretches = refined.events, refined.stretches
        by_name = {event.name: event for event in events}
        touchdown = by_name.get(EventName.TOUCHDOWN)
        landed_ms = None if touchdown is None else (tracker.last_sample_ms or touchdown.t_ms) - touchdown.t_ms
        return Facts(
            plan=self.plan,
            unit=self.unit,
            channels=self.channels.reports(self.unit),
            channels_heard=self.channels.status is not None,
            liftoff=by_name.get(EventName.LIFTOFF),
            apogee=by_name.get(EventName.APOGEE),
            touchdown=touchdown,
            stretches=stretches,
            track=tracker.track,
            last_sample_ms=tracker.last_sample_ms,
            isa_to_true=self.pad.ratio,
            restarts_ms=tuple(self._restart_ms),
            fired_without_role_ms=self.channels.fired_ms if self.unit is None else (),
            charges=self.channels.charges,
            roles_may_come=not over and self.unit is None and landed_ms is not None and landed_ms < ROLES_COME_MS,
            pad_density_kgpm3=self.pad.density_kgpm3,
            over=over or tracker.phase is Phase.DOWN,
        )

    def alerts(
        self, deployments: tuple[Deployment, ...], *, over: bool, apogee: Event | None = None
    ) -> tuple[Alert, ...]:
        """What a person should act on, given these verdicts; `apogee` where it is known better than live."""
        return flight_alerts(self, deployments, over=over, apogee=apogee)

    def _events(self, deployments: tuple[Deployment, ...]) -> tuple[Event, ...]:
        found = [*self.tracker.events, *opening_events(deployments)]
        return tuple(sorted(found, key=lambda event: event.t_ms))

    def _link(self) -> LinkStatus:
        by_reason = tuple(sorted(self._rejected.items()))
        rejected = sum(self._rejected.values())
        signal = self._signal
        return LinkStatus(
            lines=self._good + rejected,
            good=self._good,
            rejected=rejected,
            rejected_by_reason=by_reason,
            noise_bytes=self._noise_bytes,
            lost=self.clock.lost,
            loss_fraction=self.clock.loss_fraction,
            unknown_kinds=self._unknown,
            restarts=self.clock.restarts,
            last_t_ms=None if self.clock.t_ms is None else float(self.clock.t_ms),
            last_heard_us=self._last_heard_us,
            signal_dbm=None if signal is None else signal.signal_dbm,
            snr_db=None if signal is None else signal.snr_db,
            last_minute=self._minute.seconds,
        )
