"""Everything that decides a virtual flight, and what is to go wrong on it."""

from dataclasses import dataclass, field
from enum import StrEnum

from station.records import Role
from station.virtual.air import Day
from station.virtual.altimeter import Altimeter
from station.virtual.radio import Radio
from station.virtual.rocket import Motor, Recovery, Rocket
from station.virtual.satellites import FieldPlace
from station.virtual.sensors import Accelerometer, Barometer, Thermometer


class Moment(StrEnum):
    """A moment of the true flight that something can be timed by."""

    START = "start"
    LIFTOFF = "liftoff"
    BURNOUT = "burnout"
    APOGEE = "apogee"
    DROGUE_FIRED = "drogue fired"
    MAIN_FIRED = "main fired"
    TOUCHDOWN = "touchdown"


class Outcome(StrEnum):
    """What becomes of one parachute.

    `silent`: its charge never fires. `stays in`: the charge fires and nothing comes out. `tangled`: it comes
    out and fills in part. `with drogue`: the main is dragged out by the drogue's charge.
    """

    WORKS = "works"
    SILENT = "silent"
    STAYS_IN = "stays in"
    TANGLED = "tangled"
    WITH_DROGUE = "with drogue"


class Mischief(StrEnum):
    """What happens to a rocket that waits on the pad."""

    GUSTS = "gusts"
    LIFTED = "lifted"
    CAR_DOOR = "car door"
    FRONT = "front"
    SUN = "sun"


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing is heard from `start_s` to `end_s` after a moment; for good when `end_s` is None."""

    moment: Moment
    start_s: float
    end_s: float | None = None


@dataclass(frozen=True, slots=True)
class Restart:
    """The altimeter loses power at `after_s` past a moment, for `off_s`, and counts from `first_t_ms` again.

    `resumes`: it kept in memory that it flies and what it has done, and goes on; else it takes the air for
    the pad and fires nothing any more. Either way its lines begin as after power-up.
    """

    moment: Moment
    after_s: float
    off_s: float = 0.8
    first_t_ms: int = 140
    resumes: bool = True


@dataclass(frozen=True, slots=True)
class LetGo:
    """A parachute that has filled tears, `after_s` after its lines were stretched, and keeps a share of its drag.

    `role` None: the cord parts so long after the main's lines were stretched, and no parachute holds the altimeter.
    """

    role: Role | None
    after_s: float
    kept_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Faults:
    """What goes wrong. `drogue_shift_s`: its charge fires that much before (-) or after (+) it should.

    Before: counted from the apogee that the rocket would have had.
    """

    drogue: Outcome = Outcome.WORKS
    main: Outcome = Outcome.WORKS
    tangled_share: float = 0.15
    drogue_shift_s: float = 0.0
    both_at_once: bool = False
    let_go: LetGo | None = None
    restart: Restart | None = None
    silences: tuple[Silence, ...] = ()


@dataclass(frozen=True, slots=True)
class FlightSetup:
    """One flight before chance has its say. Without a motor the rocket stays on the pad for `pad_s`."""

    rocket: Rocket
    motor: Motor | None
    recovery: Recovery
    day: Day = field(default_factory=Day)
    place: FieldPlace = field(default_factory=FieldPlace)
    barometer: Barometer = field(default_factory=Barometer)
    thermometer: Thermometer = field(default_factory=Thermometer)
    accelerometer: Accelerometer | None = field(default_factory=Accelerometer)
    altimeter: Altimeter = field(default_factory=Altimeter)
    radio: Radio = field(default_factory=Radio)
    faults: Faults = field(default_factory=Faults)
    pad_s: float = 9.0
    after_s: float = 15.0
    rail_length_m: float = 1.8
    rail_tilt_deg: float = 3.0
    landing_height_m: float = 0.0
    mischief: Mischief | None = None
    drogue_spike_pa: float = 450.0
    main_spike_pa: float = 380.0
    spike_decay_s: float = 0.15
