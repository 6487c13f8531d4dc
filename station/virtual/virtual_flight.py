"""Flies a setup: physics and flight computer by turns, then the lines it sends and what of them is heard."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import radians

import numpy as np

from station.records import Record, Role
from station.virtual.air import Array, Wind
from station.virtual.altimeter import FlightComputer
from station.virtual.chance import stream
from station.virtual.flight_path import Motion
from station.virtual.flight_physics import Canopy, FlightPhysics, motion_at
from station.virtual.flight_setup import FlightSetup, Moment, Outcome
from station.virtual.pad_mischief import disturb
from station.virtual.radio import SentLine, receive
from station.virtual.satellites import SatelliteReading, read_satellites
from station.virtual.scenarios import Scenario
from station.virtual.sensors import (
    Charge,
    Disturbance,
    PressureSensor,
    read_axial,
    read_temperature,
)
from station.virtual.telling import Firing, Telling, tell
from station.virtual.truth import Truth
from station.virtual.truth_of_flight import apogee_of, truth_of
from station.wire import LineFramer

LONGEST_FLIGHT_S = 1500.0
FIRING_DELAY_S = 0.003


@dataclass(frozen=True, slots=True, eq=False)
class VirtualFlight:
    """A flight that never was: what the receiver heard, what the altimeter sent, and the truth."""

    name: str
    seed: int
    setup: FlightSetup
    lines: Sequence[SentLine]
    records: Sequence[tuple[float, Record]]
    truth: Truth

    def heard(self) -> Iterator[tuple[bytes, int]]:
        """The lines that a station takes from the receiver, each with its arrival time (us since the recording began).

        An unfinished last line is left out.
        """
        framer = LineFramer()
        for sent in self.lines:
            for line in framer.feed(sent.data):
                yield line, round(sent.t_s * 1e6)


def fly(scenario: Scenario, seed: int) -> VirtualFlight:
    """Fly a scenario; the same seed (0 or more) makes the same flight to the last byte."""
    return fly_setup(scenario.setup(seed), seed, scenario.name)


def fly_setup(setup: FlightSetup, seed: int, name: str = "") -> VirtualFlight:
    """Fly any setup."""
    flight = _Flight(setup, seed)
    flight.run()
    told = flight.tell()
    truth = flight.truth()
    silences = []
    moments = flight.moments
    for silence in setup.faults.silences:
        if (at := moments.get(silence.moment)) is not None:
            end = at + silence.end_s if silence.end_s is not None else float("inf")
            silences.append((at + silence.start_s, end))
    sent = [(t, data) for t, data, _ in told]
    lines = receive(sent, setup.radio, flight.distances([t for t, _ in sent]), silences, seed)
    return VirtualFlight(name, seed, setup, lines, [(t, record) for t, _, record in told], truth)


class _Flight:
    """One flight on its way; used once."""

    def __init__(self, setup: FlightSetup, seed: int) -> None:
        self.setup, self.seed = setup, seed
        self.period_s = setup.altimeter.period_s
        self.physics: FlightPhysics | None = None
        self.charges: list[Charge] = []
        self.firings: list[Firing] = []
        self.canopies: dict[Role, Canopy] = {}
        self.fired_t_s: dict[Role, float] = {}
        self.moments: dict[Moment, float] = {Moment.START: 0.0}
        self.off_t_s: float | None = None
        self.on_t_s: float | None = None
        day = setup.day
        self.sensor = PressureSensor(setup.barometer, day, self.period_s, seed)
        self.computer = FlightComputer(setup.altimeter, day.pad_pressure_pa + setup.barometer.offset_pa)
        self.next_sample = 0
        self.wind = Wind(day, seed, setup.pad_s + LONGEST_FLIGHT_S if setup.motor else setup.pad_s)
        self.spikes = stream(seed, "charges")
        self.times = np.zeros(0)
        self.motion: Motion | None = None
        self.disturbance: Disturbance | None = None

    # -- flying ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Fly to the ground, or wait on the pad."""
        setup = self.setup
        if setup.motor is None:
            self._settle(setup.pad_s)
            return
        physics = FlightPhysics(
            setup.rocket,
            setup.motor,
            setup.day,
            ignition_t_s=setup.pad_s,
            rail_length_m=setup.rail_length_m,
            rail_tilt_rad=radians(setup.rail_tilt_deg),
            wind=self.wind.at,
            ground_m=setup.landing_height_m,
        )
        self.physics = physics
        while physics.path.vz[-1] > 0.0:
            physics.fly_to(physics.path.t[-1] + 3.0)
        apogee_t, _ = apogee_of(physics)
        assert physics.liftoff_t_s is not None
        self._happened(Moment.LIFTOFF, physics.liftoff_t_s)
        self._happened(Moment.BURNOUT, setup.pad_s + setup.motor.burn_end_s)
        self._happened(Moment.APOGEE, apogee_t)
        self.computer.lockout_t_s = self._lockout_end(apogee_t)
        coming = self._planned_firings(apogee_t)
        horizon = apogee_t + 4.0
        while True:
            due = coming[0][0] if coming else float("inf")
            decided_t = self._fly_and_watch(min(horizon, due))
            if decided_t is not None:
                coming = sorted(coming + self._answer(decided_t))
            elif physics.touchdown_t_s is not None and physics.touchdown_t_s <= due:
                break
            elif due <= horizon:
                t, role = coming.pop(0)
                self._fire(t, role)
                horizon = max(horizon, t + 4.0)
            else:
                horizon += 60.0
        self._happened(Moment.TOUCHDOWN, physics.touchdown_t_s)
        self._settle(physics.touchdown_t_s + setup.after_s)

    def _lockout_end(self, apogee_t: float) -> float:
        """Until when the flyer has told the altimeter to ignore the pressure: past the shock, by the plan."""
        motion = self._motion_until(apogee_t)
        fast = motion.speed_mps > 0.72 * self.setup.day.sound_speed_mps(motion.altitude_m)
        return float(motion.t_s[fast][-1]) + 0.4 if bool(fast.any()) else 0.0

    def _planned_firings(self, apogee_t: float) -> list[tuple[float, Role | None]]:
        """Firings that no barometer decides: the motor's ejection charge, a drogue that fires too early."""
        motor, faults = self.setup.motor, self.setup.faults
        coming: list[tuple[float, Role | None]] = []
        if motor is not None and motor.ejection_delay_s is not None:
            coming.append((self.setup.pad_s + motor.burn_end_s + motor.ejection_delay_s, None))
        if faults.drogue_shift_s < 0.0:
            assert self.physics is not None
            earliest = self.physics.burn_end_t_s + 0.1
            coming.append((round(max(earliest, apogee_t + faults.drogue_shift_s), 3), Role.DROGUE))
        return sorted(coming)

    def _fly_and_watch(self, until: float) -> float | None:
        """Fly on; the time at which the flight computer decided something, or None."""
        assert self.physics is not None
        self.physics.fly_to(until)
        motion = self._motion_until(min(until, self.physics.path.t[-1]))
        pressure = self.sensor.read(motion, self.charges, self._on_pad(motion).pressure_pa).tolist()
        times = motion.t_s.tolist()
        take = self.computer.take
        for k in range(self.next_sample, len(times)):
            t = times[k]
            if self.off_t_s is not None and self._is_deaf(t):
                continue
            if take(t, pressure[k]):
                self.next_sample = k + 1
                return float(t)
        self.next_sample = len(times)
        return None

    def _is_deaf(self, t: float) -> bool:
        restart = self.setup.faults.restart
        if restart is None or self.off_t_s is None or self.on_t_s is None or t < self.off_t_s:
            return False
        return t < self.on_t_s or not restart.resumes

    def _answer(self, t: float) -> list[tuple[float, Role | None]]:
        """Which charges the flight computer's decision at `t` sets off, and when."""
        faults, unit = self.setup.faults, self.setup.altimeter
        roles = (unit.channel_1_role, unit.channel_2_role)
        # Nothing comes apart under thrust here: what a stray reading sets off then waits for the end of the burn.
        assert self.physics is not None
        at = max(t + FIRING_DELAY_S, self.physics.burn_end_t_s + 0.1)
        if self.computer.main_t_s is not None:
            wanted = [Role.MAIN]
        elif Role.DROGUE in roles:
            wanted = [Role.DROGUE]
            at += max(0.0, faults.drogue_shift_s)
            if faults.both_at_once:
                wanted.append(Role.MAIN)
        elif unit.main_altitude_m is None:
            wanted = [Role.MAIN]
        else:
            wanted = []
        return [(at, role) for role in wanted if role in roles and role not in self.fired_t_s]

    def _outcome(self, role: Role) -> Outcome:
        return self.setup.faults.drogue if role is Role.DROGUE else self.setup.faults.main

    def _fire(self, t: float, role: Role | None) -> None:
        """A charge goes off: the altimeter's for a role, or (None) the motor's own."""
        setup, physics = self.setup, self.physics
        assert physics is not None
        if role is not None:
            channel = 1 if setup.altimeter.channel_1_role is role else 2
            dead = self._outcome(role) is Outcome.SILENT or not setup.altimeter.has_continuity(channel)
            if dead or role in self.fired_t_s or self._is_deaf(t):
                return
            self.firings.append(Firing(t, channel))
        carried = role or (Role.DROGUE if setup.recovery.drogue is not None else Role.MAIN)
        self.fired_t_s[carried] = t
        self._happened(Moment.DROGUE_FIRED if carried is Role.DROGUE else Moment.MAIN_FIRED, t)
        spike = setup.drogue_spike_pa if carried is Role.DROGUE else setup.main_spike_pa
        spike *= 0.7 + 0.6 * float(self.spikes.random_sample())
        self.charges.append(Charge(t, spike, setup.spike_decay_s))
        self._come_out(carried, t)
        if carried is Role.DROGUE and setup.faults.main is Outcome.WITH_DROGUE:
            self._come_out(Role.MAIN, t)

    def _come_out(self, role: Role, t: float) -> None:
        physics, recovery = self.physics, self.setup.recovery
        parachute = recovery.drogue if role is Role.DROGUE else recovery.main
        outcome = self._outcome(role)
        if physics is None or parachute is None or outcome is Outcome.STAYS_IN or role in self.canopies:
            return
        share = self.setup.faults.tangled_share if outcome is Outcome.TANGLED else 1.0
        self.canopies[role] = opened = physics.open_canopy(parachute, t, share)
        let_go = self.setup.faults.let_go
        if let_go is None or (let_go.role or Role.MAIN) is not role:
            return
        for canopy in [opened] if let_go.role is role else physics.canopies:
            canopy.lets_go_t_s, canopy.kept_share = opened.stretched_t_s + let_go.after_s, let_go.kept_share

    def _happened(self, moment: Moment, t: float) -> None:
        self.moments[moment] = t
        restart = self.setup.faults.restart
        if restart is not None and restart.moment is moment:
            self.off_t_s = t + restart.after_s
            self.on_t_s = self.off_t_s + restart.off_s

    # -- what is measured and told ------------------------------------------------------------------------

    def _grid(self, end: float) -> Array:
        count = int(end / self.period_s + 1e-9) + 1
        return np.asarray(np.round(np.arange(count) * self.setup.altimeter.sample_period_ms) / 1000.0)

    def _motion_until(self, end: float) -> Motion:
        times = self._grid(end)
        if self.physics is not None:
            return motion_at(self.physics, times)
        zero = np.zeros_like(times)
        resting = np.full_like(times, 9.80665)
        return Motion(times, zero, zero, zero, zero, zero, resting, zero)

    def _on_pad(self, motion: Motion) -> Disturbance:
        """Wind over the ports on the ground, and what else happens there."""
        setup, t = self.setup, motion.t_s
        leave = setup.pad_s
        since = np.clip(t - leave, 0.0, None) / 0.3
        share = np.exp(-np.minimum(since, 60.0))
        if self.physics is not None and self.physics.touchdown_t_s is not None:
            share = np.where(t >= self.physics.touchdown_t_s, 0.5, share)
        wind = self.wind.along_at_ground(t)
        pressure = -share * setup.barometer.port_wind_coefficient * 0.5 * setup.day.pad_density_kgm3 * wind**2
        zero = np.zeros_like(t)
        axial, warmth = zero, zero
        if setup.mischief is not None:
            extra = disturb(setup.mischief, t, leave, self.seed)
            # What the weather does at the ground it does in proportion to the whole column of air above.
            column = setup.day.pressure_pa(motion.altitude_m) / setup.day.pad_pressure_pa
            pressure = pressure + column * extra.pressure_pa + setup.barometer.warmth_pa_per_k * extra.warmth_k
            axial, warmth = extra.axial_mps2, extra.warmth_k
        return Disturbance(np.asarray(pressure), axial, warmth)

    def _settle(self, end: float) -> None:
        self.motion = self._motion_until(end)
        self.disturbance = self._on_pad(self.motion)

    def tell(self) -> list[tuple[float, bytes, Record]]:
        """Every line that the altimeter sends."""
        setup, motion, disturbance = self.setup, self.motion, self.disturbance
        assert motion is not None
        assert disturbance is not None
        physics = self.physics
        pressure = self.sensor.read(motion, self.charges, disturbance.pressure_pa)
        temperature = read_temperature(
            setup.thermometer, setup.day, motion, disturbance.warmth_k, self.period_s, self.seed
        )
        axial = None
        if setup.accelerometer is not None:
            axial = read_axial(
                setup.accelerometer,
                motion,
                physics.apart_t_s if physics else None,
                physics.touchdown_t_s if physics else None,
                -physics.path.vz[-1] if physics else 0.0,
                self.charges,
                disturbance.axial_mps2,
                self.seed,
            )
        telling = Telling(
            setup.altimeter,
            motion.t_s,
            pressure,
            temperature,
            axial,
            self.firings,
            self.computer.launch_t_s,
            physics.touchdown_t_s if physics else None,
            self.off_t_s,
            self.on_t_s,
            setup.faults.restart.first_t_ms if setup.faults.restart else 0,
            setup.faults.restart is not None and not setup.faults.restart.resumes,
            self._fixes(motion),
        )
        return list(tell(telling))

    def _fixes(self, motion: Motion) -> Sequence[SatelliteReading]:
        receiver = self.setup.altimeter.satellites
        if receiver is None:
            return ()
        off, on = self.off_t_s, self.on_t_s
        silences = [] if off is None or on is None else [(off, on)]
        return read_satellites(receiver, self.setup.place, motion, silences, self.seed)

    def distances(self, times: list[float]) -> list[float]:
        """How far away the rocket is at these times, m (the receiver stands 60 m from the pad)."""
        assert self.motion is not None
        far = np.sqrt(60.0**2 + self.motion.altitude_m**2 + self.motion.downrange_m**2)
        return list(np.interp(times, self.motion.t_s, far).tolist())

    def truth(self) -> Truth:
        """What really happened."""
        assert self.motion is not None
        return truth_of(self.setup, self.physics, self.motion, self.canopies, self.fired_t_s, self.firings, self.on_t_s)
