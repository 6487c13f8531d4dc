"""What really happened on a virtual flight: the yardstick for everything that is estimated from its lines."""

from dataclasses import dataclass

from station.virtual.air import Array
from station.virtual.satellites import FieldPlace, landing_of


@dataclass(frozen=True, slots=True, eq=False)
class ParachuteTruth:
    """One parachute. Times in seconds since the recording began, None for what never happened.

    `fired_t_s`: its charge fired (the motor's ejection charge included). `opened`: it came out and filled,
    if only in part. `stretched_t_s`: its lines were stretched and it began to fill. `took_hold_t_s`: its own
    drag first came to half of what it is in the steady descent that follows; before that the air is too slow
    or the canopy too small to show. `full_t_s`: the canopy was full. `settled_t_s`: the descent rate had come
    within 10 % of the rate it then kept. `rate_mps`: mean descent rate from there to the next change, between
    the two altitudes given; None if that is under a second or a larger canopy was out as well. `let_go_t_s`: it tore,
    or its cord parted.
    """

    fired_t_s: float | None = None
    fired_altitude_m: float | None = None
    fired_velocity_mps: float | None = None
    opened: bool = False
    stretched_t_s: float | None = None
    took_hold_t_s: float | None = None
    took_hold_altitude_m: float | None = None
    full_t_s: float | None = None
    settled_t_s: float | None = None
    rate_mps: float | None = None
    rate_from_m: float | None = None
    rate_to_m: float | None = None
    let_go_t_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """The flight as it was.

    Times `t_s` are seconds since the recording began; `t_ms_of` puts them on the altimeter's own clock.
    Altitudes are true metres above the pad; `apogee_isa_m` is what a perfect barometer set to the standard
    atmosphere would say of the apogee. A flight that never left the pad has None for every event.
    `liftoff_t_s`: first motion. `burnout_t_s`: thrust under 5 % of its peak. `max_velocity_mps`: vertical.
    `restart_t_s`: when the altimeter came up again after a restart. `place`: where the pad is; `downrange_m`: how far
    down the wind from it the rocket is.
    """

    first_t_ms: int
    ignition_t_s: float | None
    liftoff_t_s: float | None
    burnout_t_s: float | None
    burnout_altitude_m: float | None
    apogee_t_s: float | None
    apogee_m: float | None
    apogee_isa_m: float | None
    max_velocity_mps: float | None
    max_velocity_t_s: float | None
    max_acceleration_mps2: float | None
    max_mach: float | None
    drogue: ParachuteTruth
    main: ParachuteTruth
    touchdown_t_s: float | None
    touchdown_rate_mps: float | None
    channel_1_fired_t_s: float | None
    channel_2_fired_t_s: float | None
    restart_t_s: float | None
    t_s: Array
    altitude_m: Array
    velocity_mps: Array
    acceleration_mps2: Array
    downrange_m: Array
    place: FieldPlace

    @property
    def landing(self) -> tuple[float, float] | None:
        """Range (m) and bearing (degrees, from true north) from the pad to where it landed."""
        return None if self.touchdown_t_s is None else landing_of(self.place, float(self.downrange_m[-1]))

    def t_ms_of(self, t_s: float) -> float:
        """The unwrapped T_MS of a moment, counted on from the first line as if there were no restart."""
        return self.first_t_ms + 1000.0 * t_s
