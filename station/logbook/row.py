"""What the station computed of one log, as the logbook lists it. Pure."""

from dataclasses import dataclass
from datetime import datetime

from station.flight_state import FlightVerdict, Verdict


@dataclass(frozen=True, slots=True)
class LogbookRow:
    """One log in figures, SI; None where it could not be had.

    `file` is the log's name without folder, `flown_at` its liftoff (else when it was opened), UTC. `has_liftoff`: a
    flight was observed in it. `drogue` and `main` are None if no such parachute was planned. `landing_rate_mps` is how
    fast it came down at the end, + down. `joined` names the log that went into this one.
    """

    file: str
    has_liftoff: bool
    flown_at: datetime | None
    unit_name: str | None
    plan_rocket: str | None
    plan_motor: str | None
    total_impulse_ns: float | None
    apogee_m: float | None
    max_speed_mps: float | None
    max_acceleration_mps2: float | None
    drogue: Verdict | None
    main: Verdict | None
    verdict: FlightVerdict
    landing_rate_mps: float | None
    flight_time_s: float | None
    loss_fraction: float
    unheard: int | None
    joined: str | None
