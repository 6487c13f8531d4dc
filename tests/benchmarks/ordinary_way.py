"""The ordinary way of doing the job, as a baseline: one Kalman filter with constant noises, and thresholds.

Pressure becomes height by the standard atmosphere, corrected for the same given air temperature as ours. On the pad
the ground's pressure is a running mean. From two seconds before the launch is noticed, filterpy's KalmanFilter on
(altitude, velocity, acceleration) takes the height, and up to apogee the accelerometer as a second measurement where
there is one. Every event is a threshold that must hold for a while; the figures after landing are those of the same
filter, for an ordinary logger has nothing more. Lines are decoded and T_MS is unwrapped by the station's own code.
"""

from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from filterpy.common import Q_continuous_white_noise
from filterpy.kalman import KalmanFilter
from scored_flight import Claims, Score, score_after, score_live

from station.atmosphere import G0_MPS2, isa_altitude_m, isa_to_true_ratio
from station.flight_state import Basis, Event, EventName
from station.records import Role, SampleRecord
from station.unit_clock import UnitClock
from station.virtual.virtual_flight import VirtualFlight
from station.wire import decode_line

# Chosen on flights that the table does not use (seeds 900,001 and on): each moved up and down until errors grew.
PRESSURE_SIGMA_M = 1.5
FORCE_SIGMA_MPS2 = 0.5
JERK_DENSITY = 300.0
LIFTOFF_HEIGHT_M = 5.0
LIFTOFF_GAIN_MPS2 = 20.0
LIFTOFF_HOLDS_S = 0.1
BURNOUT_HOLDS_S = 0.1
APOGEE_HOLDS_S = 0.2
# The usual lockout: no apogee for a while after the filter was fast, for the shock may pass the ports.
LOCKOUT_MPS = 120.0
LOCKOUT_S = 6.0
FALLING_MPS = 5.0
CARRIED_G = 0.3
MAIN_MPS = 9.5
HELD_S = 0.35
STILL_MPS = 3.0
STILL_S = 2.0
# The last seconds on the pad are kept out of the mean, and given to the filter once the launch is noticed.
YOUNG_S = 2.0
PAD_MEAN_S = 10.0
SETTLES_S = 1.0


@dataclass(frozen=True, slots=True)
class State:
    """The filter's mean at a time (ms): metres above the pad, m/s, m/s^2."""

    t_ms: float
    altitude_m: float
    velocity_mps: float
    acceleration_mps2: float


@dataclass(slots=True)
class Threshold:
    """True once a condition has held for `holds_s`; `since_ms` is when it began to."""

    holds_s: float
    since_ms: float | None = field(default=None, init=False)

    def take(self, t_ms: float, *, met: bool) -> bool:
        """One sample."""
        if not met:
            self.since_ms = None
            return False
        if self.since_ms is None:
            self.since_ms = t_ms
        return t_ms - self.since_ms >= 1000.0 * self.holds_s


class ConstantFilter:
    """filterpy's KalmanFilter on altitude, velocity, acceleration: constant noises, steps by the samples' times."""

    def __init__(self) -> None:
        self._kalman = KalmanFilter(dim_x=3, dim_z=1)
        self._height = np.array([[1.0, 0.0, 0.0]]), np.array([[PRESSURE_SIGMA_M**2]])
        self._force = np.array([[0.0, 0.0, 1.0]]), np.array([[FORCE_SIGMA_MPS2**2]])
        self._models: dict[float, tuple[np.ndarray, np.ndarray]] = {}
        self._t_ms: float | None = None

    def take(self, t_ms: float, altitude_m: float, gained_mps2: float | None) -> State:
        """One sample: predict, update."""
        kalman = self._kalman
        if self._t_ms is not None:
            kalman.F, kalman.Q = self._model((t_ms - self._t_ms) / 1000.0)
            kalman.predict()
        self._t_ms = t_ms
        kalman.update(altitude_m, self._height[1], self._height[0])
        if gained_mps2 is not None:
            kalman.update(gained_mps2, self._force[1], self._force[0])
        altitude, velocity, acceleration = (float(part) for part in kalman.x[:, 0])
        return State(t_ms, altitude, velocity, acceleration)

    def _model(self, dt_s: float) -> tuple[np.ndarray, np.ndarray]:
        if dt_s not in self._models:
            motion = np.array([[1.0, dt_s, 0.5 * dt_s**2], [0.0, 1.0, dt_s], [0.0, 0.0, 1.0]])
            self._models[dt_s] = motion, Q_continuous_white_noise(3, dt_s, JERK_DENSITY)
        return self._models[dt_s]


class Ground:
    """The running mean of the last samples on the pad (pressure, axial force), the newest kept out of it."""

    def __init__(self) -> None:
        self.young: deque[tuple[float, float, float | None]] = deque()
        self._old: deque[tuple[float, float, float | None]] = deque()
        self._pressure_sum = self._axial_sum = 0.0
        self._axial_count = 0

    def take(self, t_ms: float, pressure_pa: float, axial_mps2: float | None) -> None:
        """One sample."""
        self.young.append((t_ms, pressure_pa, axial_mps2))
        while t_ms - self.young[0][0] > 1000.0 * YOUNG_S:
            self._old.append(self.young.popleft())
            self._count(self._old[-1], 1)
        while self._old and t_ms - self._old[0][0] > 1000.0 * (YOUNG_S + PAD_MEAN_S):
            self._count(self._old.popleft(), -1)

    @property
    def pressure_pa(self) -> float | None:
        """None while nothing old enough was heard."""
        return self._pressure_sum / len(self._old) if self._old else None

    @property
    def rest_mps2(self) -> float:
        """What the accelerometer reads at rest."""
        return self._axial_sum / self._axial_count if self._axial_count else G0_MPS2

    def _count(self, sample: tuple[float, float, float | None], sign: int) -> None:
        _, pressure_pa, axial_mps2 = sample
        self._pressure_sum += sign * pressure_pa
        if axial_mps2 is not None:
            self._axial_sum += sign * axial_mps2
            self._axial_count += sign


class OrdinaryLogger:
    """Samples in, events out."""

    def __init__(self, air_temperature_c: float) -> None:
        self._air_temperature_c = air_temperature_c
        self._ground = Ground()
        self._filter: ConstantFilter | None = None
        self._pad_m = self._ratio = self._rest_mps2 = 0.0
        self._high, self._pushed = Threshold(LIFTOFF_HOLDS_S), Threshold(LIFTOFF_HOLDS_S)
        self._burnt_out, self._falls = Threshold(BURNOUT_HOLDS_S), Threshold(APOGEE_HOLDS_S)
        self._carried, self._slow, self._still = Threshold(HELD_S), Threshold(HELD_S), Threshold(STILL_S)
        self._fast_ms = -1e12
        self.events: dict[EventName, Event] = {}
        self.heights: list[tuple[float, float]] = []
        self.highest: State | None = None
        self.fastest_mps: float | None = None

    @property
    def is_over(self) -> bool:
        """It lies on the ground."""
        return EventName.TOUCHDOWN in self.events

    def take(self, t_ms: float, pressure_pa: float, axial_mps2: float | None) -> None:
        """One sample."""
        if self._filter is not None:
            self._fly(self._filter, t_ms, pressure_pa, axial_mps2)
            return
        self._ground.take(t_ms, pressure_pa, axial_mps2)
        pad_pa = self._ground.pressure_pa
        if pad_pa is None:
            return
        rise_m = isa_altitude_m(pressure_pa) - isa_altitude_m(pad_pa)
        high = self._high.take(t_ms, met=rise_m > LIFTOFF_HEIGHT_M)
        gain = 0.0 if axial_mps2 is None else axial_mps2 - self._ground.rest_mps2
        pushed = self._pushed.take(t_ms, met=gain > LIFTOFF_GAIN_MPS2)
        if high or pushed:
            since = [limit.since_ms for limit in (self._high, self._pushed) if limit.since_ms is not None]
            self._launch(t_ms, min(since), pad_pa)

    def _launch(self, t_ms: float, since_ms: float, pad_pa: float) -> None:
        self._pad_m = isa_altitude_m(pad_pa)
        self._ratio = isa_to_true_ratio(pad_pa, self._air_temperature_c)
        self._rest_mps2 = self._ground.rest_mps2
        self.events[EventName.LIFTOFF] = _event(EventName.LIFTOFF, since_ms, t_ms, State(t_ms, 0.0, 0.0, 0.0))
        self._filter = ConstantFilter()
        for sample in self._ground.young:
            self._fly(self._filter, *sample)

    def _fly(self, kalman: ConstantFilter, t_ms: float, pressure_pa: float, axial_mps2: float | None) -> None:
        altitude_m = (isa_altitude_m(pressure_pa) - self._pad_m) * self._ratio
        climbing = EventName.APOGEE not in self.events
        # After apogee the airframe swings under its parachute: its axis says nothing of the vertical.
        gained = axial_mps2 - self._rest_mps2 if axial_mps2 is not None and climbing else None
        state = kalman.take(t_ms, altitude_m, gained)
        self.heights.append((t_ms, state.altitude_m))
        if climbing and (self.highest is None or state.altitude_m > self.highest.altitude_m):
            self.highest = state
        if climbing and (self.fastest_mps is None or state.velocity_mps > self.fastest_mps):
            self.fastest_mps = state.velocity_mps
        if t_ms > self.events[EventName.LIFTOFF].called_t_ms:
            self._watch(state)

    def _watch(self, state: State) -> None:
        velocity, acceleration = state.velocity_mps, state.acceleration_mps2
        if EventName.APOGEE not in self.events:
            if EventName.BURNOUT not in self.events:
                self._call(EventName.BURNOUT, self._burnt_out, state, met=acceleration < 0.0)
            else:
                if velocity > LOCKOUT_MPS:
                    self._fast_ms = state.t_ms
                free = state.t_ms - self._fast_ms > 1000.0 * LOCKOUT_S
                self._call(EventName.APOGEE, self._falls, state, met=free and velocity < 0.0)
            return
        falling = velocity < -FALLING_MPS
        carried = falling and acceleration > (CARRIED_G - 1.0) * G0_MPS2
        self._call(EventName.DROGUE, self._carried, state, met=carried)
        if EventName.DROGUE in self.events:
            self._call(EventName.MAIN, self._slow, state, met=-MAIN_MPS < velocity < -STILL_MPS)
        self._call(EventName.TOUCHDOWN, self._still, state, met=abs(velocity) < STILL_MPS)

    def _call(self, name: EventName, threshold: Threshold, state: State, *, met: bool) -> None:
        if name not in self.events and threshold.take(state.t_ms, met=met):
            assert threshold.since_ms is not None
            self.events[name] = _event(name, threshold.since_ms, state.t_ms, state)


def _event(name: EventName, since_ms: float, called_ms: float, state: State) -> Event:
    return Event(name, since_ms, state.altitude_m, state.velocity_mps, 0.0, Basis.ESTIMATED, called_ms)


def ordinary_errors(flight: VirtualFlight) -> dict[str, float]:
    """The errors of the ordinary way on this flight, by the rows of the table."""
    logger = OrdinaryLogger(flight.setup.day.pad_temperature_c)
    clock = UnitClock()
    newest_ms = -1.0
    for line, arrival_us in flight.heard():
        record = decode_line(line)
        if isinstance(record, SampleRecord) and not logger.is_over:
            t_ms = clock.take(record.seq, record.t_ms, arrival_us)
            if record.pressure_pa is not None and t_ms > newest_ms:
                newest_ms = t_ms
                logger.take(t_ms, record.pressure_pa, record.axial_mps2)
    result = Score(flight.seed, flight.name, flight.setup.accelerometer is not None)
    claims = Claims(_events(logger), logger.fastest_mps, _rates(logger))
    score_live(result, flight, claims)
    score_after(result, flight, claims)
    return result.errors


def _events(logger: OrdinaryLogger) -> dict[EventName, Event]:
    """Apogee is called when the rocket falls, and was where the altitude was highest before."""
    events, top = dict(logger.events), logger.highest
    if EventName.APOGEE in events and top is not None:
        events[EventName.APOGEE] = _event(EventName.APOGEE, top.t_ms, events[EventName.APOGEE].called_t_ms, top)
    return events


def _rates(logger: OrdinaryLogger) -> dict[Role, float]:
    """Mean descent rates from a while after a parachute took hold to the next event."""
    rates = {}
    roles = {EventName.DROGUE: Role.DROGUE, EventName.MAIN: Role.MAIN}
    moments = [logger.events[name] for name in (*roles, EventName.TOUCHDOWN) if name in logger.events]
    for event, following in pairwise(moments):
        start_ms = event.t_ms + 1000.0 * SETTLES_S
        stretch = [(t_ms, height) for t_ms, height in logger.heights if start_ms <= t_ms <= following.t_ms]
        if len(stretch) > 1:
            (first_ms, first_m), (last_ms, last_m) = stretch[0], stretch[-1]
            rates[roles[event.name]] = 1000.0 * (first_m - last_m) / (last_ms - first_ms)
    return rates
