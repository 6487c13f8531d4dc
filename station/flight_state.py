"""What the station knows of a flight at one moment: plain frozen values, made by the pipeline alone.

Times named `t_ms` are milliseconds on the flight's own time line: the altimeter's T_MS, unwrapped, and after
a restart of the altimeter placed by the host's arrival times. Altitudes are metres above the pad, corrected
for the air temperature unless the name says `isa` (standard atmosphere, what altimeters report).
Speeds are vertical, + up; a `rate` is a descent rate, + down.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from station.records import ChannelState, Role
from station.whereabouts import Whereabouts


class Phase(StrEnum):
    """What the rocket is doing, in order."""

    WAITING = "waiting"
    THRUST = "thrust"
    COAST = "coast"
    DESCENT = "descent"
    DOWN = "down"


class EventName(StrEnum):
    """Moments of a flight. `drogue` and `main` are when the parachute took hold, not when a channel fired."""

    LIFTOFF = "liftoff"
    BURNOUT = "burnout"
    APOGEE = "apogee"
    DROGUE = "drogue"
    MAIN = "main"
    TOUCHDOWN = "touchdown"


class Basis(StrEnum):
    """Where an event's time comes from: our own estimate, or the altimeter's report."""

    ESTIMATED = "estimated"
    REPORTED = "reported"


class Verdict(StrEnum):
    """What the evidence says of one planned deployment (see `station/deployment_evidence.py`)."""

    CONFIRMED = "confirmed"
    TOO_FAST = "too_fast"
    NO_EFFECT = "no_effect"
    EARLY = "early"
    NOT_FIRED = "not_fired"
    NOT_OBSERVED = "not_observed"


class FlightVerdict(StrEnum):
    """The whole flight in a word: every planned deployment confirmed, look here, or too little data."""

    BOTH_CONFIRMED = "both_confirmed"
    ATTENTION = "attention"
    NOT_OBSERVED = "not_observed"


class Estimate(NamedTuple):
    """The filter's state after one sample: mean and standard deviation of each quantity."""

    t_ms: float
    altitude_m: float
    velocity_mps: float
    acceleration_mps2: float
    altitude_sigma_m: float
    velocity_sigma_mps: float
    acceleration_sigma_mps2: float


# A height that was not seen is told within two standard deviations of a tenth, or of 20 m (our choice, no source).
TOLD_SIGMA_M = 10.0
TOLD_SIGMA_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Event:
    """A moment of the flight; `called_t_ms` is when, on the same time line, the data first let us say it.

    `altitude_sigma_m` is None where the height was seen. Where a silence of the link hid it, it is reckoned from what
    was heard before and after: with this standard deviation (m), infinite where it is no more than the least it was.
    """

    name: EventName
    t_ms: float
    altitude_m: float
    velocity_mps: float
    sigma_s: float
    basis: Basis
    called_t_ms: float
    altitude_sigma_m: float | None = None

    @property
    def height_is_known(self) -> bool:
        """It was seen, or is reckoned well enough to be told."""
        sigma_m = self.altitude_sigma_m
        return sigma_m is None or sigma_m <= max(TOLD_SIGMA_M, TOLD_SIGMA_SHARE * self.altitude_m)


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A called liftoff that what came after it spoke against; `highest_m` is the most that was seen meanwhile."""

    liftoff_t_ms: float
    called_t_ms: float
    taken_back_t_ms: float
    highest_m: float


@dataclass(frozen=True, slots=True)
class Deployment:
    """What is known of one planned deployment. `verdict` is None while the flight leaves it open.

    `opened_velocity_mps` (+ up) is how fast the rocket was when it began to hold, where the whole record shows that.
    """

    role: Role
    channel: int | None
    charge: ChannelState | None
    fired_t_ms: float | None
    fired_altitude_m: float | None
    fired_velocity_mps: float | None
    opened_t_ms: float | None
    opened_altitude_m: float | None
    rate_before_mps: float | None
    rate_after_mps: float | None
    verdict: Verdict | None
    reasons: tuple[str, ...]
    opened_sigma_s: float | None = None
    opened_called_t_ms: float | None = None
    opened_velocity_mps: float | None = None
    opened_velocity_sigma_mps: float | None = None


@dataclass(frozen=True, slots=True)
class Alert:
    """Something a person should act on: a stable code and a sentence that says what to do."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is still to come, each with its standard deviation; None for what cannot be told (see `station/outlook.py`).

    The apogee during the coast, the others during the descent. `main_height` is when the rocket comes down past the
    height where its main should be fired. Altitudes are as the station measures them: an error in the air temperature
    is not in their sigma.
    """

    apogee_t_ms: float | None = None
    apogee_t_sigma_s: float | None = None
    apogee_altitude_m: float | None = None
    apogee_altitude_sigma_m: float | None = None
    main_height_t_ms: float | None = None
    main_height_t_sigma_s: float | None = None
    touchdown_t_ms: float | None = None
    touchdown_t_sigma_s: float | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """The altimeter as its last `ID` line described it."""

    name: str
    protocol_version: int
    sample_period_ms: int
    channel_1_role: Role
    channel_2_role: Role
    main_altitude_m: float | None


@dataclass(frozen=True, slots=True)
class ChannelStatus:
    """The last `CHN` line: battery (mV) and both channels' states, with when it was sent."""

    t_ms: float
    battery_mv: int | None
    channel_1_state: ChannelState | None
    channel_1_fired_t_ms: float | None
    channel_2_state: ChannelState | None
    channel_2_fired_t_ms: float | None


@dataclass(frozen=True, slots=True)
class Fix:
    """The last `FIX` line."""

    t_ms: float
    latitude_deg: float
    longitude_deg: float
    height_m: float | None
    satellites: int | None


@dataclass(frozen=True, slots=True)
class LinkSecond:
    """One second of the recorder's clock: lines believed, and lines lost or rejected."""

    at_s: int
    good: int
    bad: int


@dataclass(frozen=True, slots=True)
class LinkStatus:
    """How well the line is heard. Host times are microseconds on the recorder's monotonic clock."""

    lines: int
    good: int
    rejected: int
    rejected_by_reason: tuple[tuple[str, int], ...]
    noise_bytes: int
    lost: int
    loss_fraction: float
    unknown_kinds: int
    restarts: int
    last_t_ms: float | None
    last_heard_us: int | None
    signal_dbm: float | None
    snr_db: float | None
    last_minute: tuple[LinkSecond, ...] = ()


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything known at one moment; the page, the check and other programs read this."""

    phase: Phase
    liftoff_t_ms: float | None
    estimate: Estimate | None
    highest_m: float | None
    fastest_mps: float | None
    pad_pressure_pa: float | None
    air_temperature_c: float | None
    isa_to_true: float
    temperature_is_given: bool
    events: tuple[Event, ...]
    deployments: tuple[Deployment, ...]
    alerts: tuple[Alert, ...]
    unit: Unit | None
    channels: ChannelStatus | None
    fix: Fix | None
    link: LinkStatus
    outlook: Outlook | None = None
    whereabouts: Whereabouts = field(default_factory=Whereabouts)

    @property
    def flight_time_s(self) -> float | None:
        """Seconds since liftoff at the last estimate, or None before liftoff."""
        if self.liftoff_t_ms is None or self.estimate is None:
            return None
        return (self.estimate.t_ms - self.liftoff_t_ms) / 1000.0
