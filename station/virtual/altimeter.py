"""The flight computer aboard: apogee and the main's height by pressure alone."""

from dataclasses import dataclass
from math import exp

from station.records import ChannelState, Role
from station.virtual.air import PRESSURE_EXPONENT, STANDARD_PRESSURE_PA, STANDARD_TEMPERATURE_K
from station.virtual.satellites import SatelliteReceiver

LONG_WAIT_S = 60.0
FOLLOWS_GROUND_S = 30.0
_ISA_SCALE_M = STANDARD_TEMPERATURE_K / 0.0065


def isa_altitude_m(pressure_pa: float) -> float:
    """Standard-atmosphere altitude (m) of a pressure (ISO 2533, below 11 km).

    Its own, not the station's: what is judged and what it is judged against share no formula.
    """
    return _ISA_SCALE_M * (1.0 - float((pressure_pa / STANDARD_PRESSURE_PA) ** (1.0 / PRESSURE_EXPONENT)))


@dataclass(frozen=True, slots=True)
class Altimeter:
    """The unit's settings. `main_altitude_m` is in standard-atmosphere metres above the pad.

    `first_t_ms` and `first_seq` are where its clock and its line count stand when the recording begins.
    """

    unit_name: str = "SWIFT-2"
    sample_period_ms: int = 20
    channel_1_role: Role = Role.DROGUE
    channel_2_role: Role = Role.MAIN
    main_altitude_m: float | None = 150.0
    first_t_ms: int = 41_230
    first_seq: int = 2_050
    first_id_s: float = 0.05
    id_period_s: float = 7.0
    channel_period_s: float = 1.0
    sends_channels: bool = True
    channel_1_continuity: bool = True
    channel_2_continuity: bool = True
    battery_mv: int = 8_310
    satellites: SatelliteReceiver | None = None

    @property
    def period_s(self) -> float:
        """Seconds between two samples."""
        return self.sample_period_ms / 1000.0

    def has_continuity(self, channel: int) -> bool:
        """Whether the channel's igniter is connected; without, its charge cannot fire."""
        return self.channel_1_continuity if channel == 1 else self.channel_2_continuity

    def state_before_firing(self, channel: int) -> ChannelState:
        """What a channel that has not fired reports."""
        role = self.channel_1_role if channel == 1 else self.channel_2_role
        if role is Role.NONE:
            return ChannelState.OFF
        return ChannelState.READY if self.has_continuity(channel) else ChannelState.OPEN


class FlightComputer:
    """Decides when to fire from pressure, sample by sample.

    A fading-memory filter of second order on standard-atmosphere altitude (0.2 s). The ground is the pressure at
    power-up; once the wait is long it follows the weather. Launch: 20 m up and climbing at 10 m/s. Apogee:
    speed below zero at two samples running, not before `lockout_t_s` (set against the shock near
    Mach 1). Main: below its height at two samples running, after the apogee decision.
    """

    def __init__(self, settings: Altimeter, pad_pressure_pa: float) -> None:
        self._period_s = settings.period_s
        keep = exp(-self._period_s / 0.2)
        self._gain_1, self._gain_2 = 1.0 - keep * keep, (1.0 - keep) ** 2 / self._period_s
        self._main_m = settings.main_altitude_m
        self._pad_m = isa_altitude_m(pad_pressure_pa)
        self._altitude = 0.0
        self._speed = 0.0
        self._running = 0
        self.lockout_t_s = 0.0
        self.launch_t_s: float | None = None
        self.apogee_t_s: float | None = None
        self.main_t_s: float | None = None

    def take(self, t_s: float, pressure_pa: float) -> bool:
        """Take one reading; True when this one made it decide apogee or main."""
        altitude = isa_altitude_m(pressure_pa)
        if self.launch_t_s is None and t_s > LONG_WAIT_S:
            self._pad_m += (altitude - self._pad_m) * self._period_s / FOLLOWS_GROUND_S
        height = altitude - self._pad_m
        predicted = self._altitude + self._speed * self._period_s
        miss = height - predicted
        self._altitude = predicted + self._gain_1 * miss
        self._speed += self._gain_2 * miss
        if self.launch_t_s is None:
            if self._altitude > 20.0 and self._speed > 10.0:
                self.launch_t_s = t_s
            return False
        if self.apogee_t_s is None:
            self._running = self._running + 1 if self._speed < 0.0 and t_s >= self.lockout_t_s else 0
            if self._running >= 2:
                self.apogee_t_s, self._running = t_s, 0
                return True
            return False
        if self.main_t_s is None and self._main_m is not None:
            self._running = self._running + 1 if self._altitude < self._main_m else 0
            if self._running >= 2:
                self.main_t_s = t_s
                return True
        return False
