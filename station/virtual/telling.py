"""What the altimeter says and when: its lines in the order in which it sends them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from station.records import ChannelRecord, ChannelState, FixRecord, Record, SampleRecord, UnitRecord
from station.virtual.air import Array
from station.virtual.altimeter import Altimeter
from station.virtual.satellites import SatelliteReading
from station.wire import crc16, encode

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
    fixes: Sequence[SatelliteReading] = ()


def tell(telling: Telling) -> Iterator[tuple[float, bytes, Record]]:
    """(Seconds since the recording began, line with LF, its record) of every line, in order."""
    settings = telling.settings
    first_ms, seq = settings.first_t_ms, settings.first_seq
    origin_t = 0.0
    restarted = False
    off, on = telling.off_t_s, telling.on_t_s
    moments = _moments(telling)
    fixes = {reading.t_s: reading for reading in telling.fixes}
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
                record = _fix(fixes[at], seq, t_ms)
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
    moments += [(reading.t_s, "fix") for reading in telling.fixes]
    if telling.on_t_s is not None:
        moments.append((telling.on_t_s, "id"))
        if settings.sends_channels:
            moments.append((telling.on_t_s + 0.02, "channels"))
    return sorted((round(t, 3), kind) for t, kind in moments)


def _fix(reading: SatelliteReading, seq: int, t_ms: int) -> FixRecord:
    place = (reading.latitude_deg, reading.longitude_deg, reading.height_m)
    return FixRecord(seq, t_ms, *place, reading.satellites)


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
