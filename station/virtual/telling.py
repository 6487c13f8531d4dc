"""What the altimeter says and when: its lines in the order in which it sends them."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, radians

import numpy as np

from station.records import ChannelRecord, ChannelState, FixRecord, Record, SampleRecord, UnitRecord
from station.virtual.air import Array
from station.virtual.altimeter import Altimeter
from station.virtual.chance import stream
from station.wire import crc16, encode

# An invented field, far out at sea, 180 m above mean sea level.
FIELD_LATITUDE_DEG = 37.5
FIELD_LONGITUDE_DEG = -41.25
FIELD_HEIGHT_M = 180.0
WAY_OF_THE_WIND = (0.6, 0.8)  # north and east parts of the direction in which the rocket drifts
LANDED_AFTER_S = 6.0


@dataclass(frozen=True, slots=True)
class Firing:
    """A channel that fired."""

    t_s: float
    channel: int


@dataclass(frozen=True, slots=True, eq=False)
class Telling:
    """All that the altimeter measured and did, on its sample times (s since the recording began)."""

    settings: Altimeter
    t_s: Array
    pressure_pa: Array
    temperature_c: Array
    axial_mps2: Array | None
    firings: list[Firing]
    launch_t_s: float | None
    touchdown_t_s: float | None
    off_t_s: float | None
    on_t_s: float | None
    restart_first_t_ms: int
    forgets_flight: bool
    altitude_m: Array
    downrange_m: Array


def tell(telling: Telling, seed: int) -> Iterator[tuple[float, bytes, Record]]:
    """(Seconds since the recording began, line with LF, its record) of every line, in order."""
    settings = telling.settings
    first_ms, seq = settings.first_t_ms, settings.first_seq
    origin_t = 0.0
    restarted = False
    off, on = telling.off_t_s, telling.on_t_s
    moments = _moments(telling)
    fixes = _Fixes(telling, seed)
    next_moment = 0
    times = telling.t_s.tolist()
    pressures, temperatures = telling.pressure_pa.tolist(), telling.temperature_c.tolist()
    axials = telling.axial_mps2.tolist() if telling.axial_mps2 is not None else None
    times.append(float("inf"))
    for k, t in enumerate(times):
        while next_moment < len(moments) and moments[next_moment][0] <= t:
            at, kind = moments[next_moment]
            next_moment += 1
            if off is not None and on is not None and off <= at < on:
                continue
            if on is not None and at >= on and not restarted:
                first_ms, origin_t, seq, restarted = telling.restart_first_t_ms, on, 0, True
            t_ms = (first_ms + round(1000.0 * (at - origin_t))) & 0xFFFFFFFF
            record: Record
            if kind == "id":
                record = UnitRecord(
                    seq,
                    t_ms,
                    1,
                    settings.unit_name,
                    settings.sample_period_ms,
                    settings.channel_1_role,
                    settings.channel_2_role,
                    settings.main_altitude_m,
                )
            elif kind == "channels":
                record = _channels(telling, at, seq, t_ms, origin_t, first_ms, restarted)
            else:
                record = fixes.record(at, seq, t_ms)
            yield at, encode(record), record
            seq = (seq + 1) & 0xFFFF
        if k == len(pressures) or (off is not None and on is not None and off <= t < on):
            continue
        if on is not None and t >= on and not restarted:
            first_ms, origin_t, seq, restarted = telling.restart_first_t_ms, on, 0, True
        t_ms = (first_ms + round(1000.0 * (t - origin_t))) & 0xFFFFFFFF
        sample = SampleRecord(seq, t_ms, pressures[k], temperatures[k], axials[k] if axials is not None else None)
        yield t, sample_line(sample), sample
        seq = (seq + 1) & 0xFFFF


def sample_line(sample: SampleRecord) -> bytes:
    """The same bytes as `encode`, without its reading them again: most lines of a flight are samples."""
    axial = "" if sample.axial_mps2 is None else sample.axial_mps2
    body = f"SMP,{sample.seq},{sample.t_ms},{sample.pressure_pa},{sample.temperature_c},{axial}".encode("ascii")
    return b"@%s*%04X\n" % (body, crc16(body))


def _moments(telling: Telling) -> list[tuple[float, str]]:
    """When which line other than a sample is due."""
    settings = telling.settings
    end = float(telling.t_s[-1])
    launch = telling.launch_t_s if telling.launch_t_s is not None else end + 1.0
    landed = telling.touchdown_t_s + LANDED_AFTER_S if telling.touchdown_t_s is not None else end + 1.0
    ids = [float(t) for t in np.arange(settings.first_id_s, end, settings.id_period_s)]
    if telling.forgets_flight and telling.on_t_s is not None:
        landed = min(landed, telling.on_t_s)
    moments = [(t, "id") for t in ids if t < launch or t >= landed]
    if settings.sends_channels:
        first = settings.first_id_s + 0.1
        moments += [(float(t), "channels") for t in np.arange(first, end, settings.channel_period_s)]
        moments += [(firing.t_s, "channels") for firing in telling.firings]
    if settings.satellite_receiver:
        moments += [(float(t), "fix") for t in np.arange(0.37, end, 1.0)]
    if telling.on_t_s is not None:
        moments.append((telling.on_t_s, "id"))
        if settings.sends_channels:
            moments.append((telling.on_t_s + 0.02, "channels"))
    return sorted((round(t, 3), kind) for t, kind in moments)


def _channels(
    telling: Telling, at: float, seq: int, t_ms: int, origin_t: float, first_ms: int, restarted: bool
) -> ChannelRecord:
    settings = telling.settings
    states: list[ChannelState] = []
    fired_at: list[int | None] = []
    dip = 0.0
    for channel in (1, 2):
        state, fired = settings.state_before_firing(channel), None
        for firing in telling.firings:
            if firing.channel != channel or round(firing.t_s, 3) > at:
                continue
            dip += 1.0 if at - firing.t_s < 0.3 else 0.0
            if restarted and firing.t_s < origin_t:
                # What it fired before it lost power it has forgotten; the burnt igniter has no continuity.
                state = ChannelState.OPEN
            else:
                state = ChannelState.FIRED
                fired = (first_ms + round(1000.0 * (firing.t_s - origin_t))) & 0xFFFFFFFF
        states.append(state)
        fired_at.append(fired)
    battery = round(settings.battery_mv - 0.02 * at - 420.0 * dip)
    return ChannelRecord(seq, t_ms, battery, states[0], fired_at[0], states[1], fired_at[1])


class _Fixes:
    """Satellite fixes: the true place with a slowly wandering error of some metres (invented)."""

    def __init__(self, telling: Telling, seed: int) -> None:
        self._telling = telling
        self._chance = stream(seed, "satellites")
        self._wander = [0.0, 0.0, 0.0]

    def record(self, at: float, seq: int, t_ms: int) -> FixRecord:
        """The fix at one moment; asked in order of time."""
        telling = self._telling
        for i, size in enumerate((0.5, 0.5, 1.0)):
            self._wander[i] = 0.95 * self._wander[i] + size * float(self._chance.standard_normal())
        x = float(np.interp(at, telling.t_s, telling.downrange_m))
        z = float(np.interp(at, telling.t_s, telling.altitude_m))
        north = WAY_OF_THE_WIND[0] * x + self._wander[0]
        east = WAY_OF_THE_WIND[1] * x + self._wander[1]
        per_degree = 111_194.9  # of latitude, on a sphere of 6 371 km: good enough for a virtual drift
        latitude = FIELD_LATITUDE_DEG + north / per_degree
        longitude = FIELD_LONGITUDE_DEG + east / (per_degree * cos(radians(FIELD_LATITUDE_DEG)))
        height = FIELD_HEIGHT_M + z + self._wander[2]
        return FixRecord(seq, t_ms, round(latitude, 6), round(longitude, 6), round(height, 1), 9)
