"""A long flight for measuring: thousands of seconds under a parachute, as lines of the wire, sample by sample."""

import math

from station.records import ChannelRecord, ChannelState, Role, SampleRecord, UnitRecord
from station.wire import encode

RATE_HZ = 50
WAIT_S, BURN_S, BURN_MPS2, FALL_MPS = 20.0, 2.0, 100.0, 2.0
PAD_PA = 98_000.0


def altitude_m(t_s: float) -> float:
    """Up with a burning motor, over the top in free flight, down slowly."""
    t = t_s - WAIT_S
    if t <= 0:
        return 0.0
    if t <= BURN_S:
        return 0.5 * (BURN_MPS2 - 9.8) * t * t
    top_speed = (BURN_MPS2 - 9.8) * BURN_S
    burnout_m = 0.5 * (BURN_MPS2 - 9.8) * BURN_S**2
    coast = min(t - BURN_S, (top_speed + FALL_MPS) / 9.8)
    height = burnout_m + top_speed * coast - 0.5 * 9.8 * coast * coast
    return max(0.0, height - FALL_MPS * (t - BURN_S - coast))


def line(index: int) -> bytes:
    """Line number `index`: a sample, or once a second the channels, without its LF."""
    t_ms = 1000 * index // RATE_HZ
    if index == 0:
        record: SampleRecord | ChannelRecord | UnitRecord = UnitRecord(
            0, 0, 1, "BENCH-1", 20, Role.DROGUE, Role.MAIN, 100.0
        )
    elif index % RATE_HZ == 0:
        ready = ChannelState.READY
        record = ChannelRecord(index % 65536, t_ms, 8300, ready, None, ready, None)
    else:
        # Pressure falls with height about as in the lower standard atmosphere; a little noise by a fixed rule.
        noise_m = 0.3 * math.sin(12.9898 * index) * math.sin(78.233 * index)
        pressure = PAD_PA * (1 - 2.2558e-5 * (altitude_m(index / RATE_HZ) + noise_m)) ** 5.2559
        record = SampleRecord(index % 65536, t_ms, pressure, 20.0, None)
    return encode(record).rstrip(b"\r\n")
