"""A flight that never ends, many times as fast as a real one, made by no pipeline and kept nowhere: for what grows."""

import math
import time

from long_flight import RATE_HZ

from station.flight_state import Estimate, LinkSecond, LinkStatus, Phase, Snapshot
from station.session import SessionStatus

# A machine that cannot keep up makes the day longer, not the messages.
MOST_AT_ONCE = 1500


class EndlessSession:
    """Looks to the page's server like a session that gets `points_per_s` points a second, or as many as it can take."""

    session_id = "endless"
    plan = None
    prediction = None

    def __init__(self, points_per_s: int) -> None:
        self._points_per_s = points_per_s
        self._began_s = time.monotonic()
        self._told = 0

    def _count(self) -> int:
        return int((time.monotonic() - self._began_s) * self._points_per_s)

    def wait_newer(self, version: int, timeout_s: float) -> int:
        time.sleep(min(timeout_s, 0.01))
        return self._count()

    def points(self, start: int) -> list[Estimate]:
        return [estimate(index) for index in range(start, self._told)]

    def snapshot(self) -> tuple[int, Snapshot, SessionStatus]:
        self._told = min(max(1, self._count()), self._told + MOST_AT_ONCE)
        newest = estimate(self._told - 1)
        now_us = int(1000 * newest.t_ms)
        second = now_us // 1_000_000
        link = LinkStatus(
            lines=self._told,
            good=self._told,
            rejected=0,
            rejected_by_reason=(),
            noise_bytes=0,
            lost=0,
            loss_fraction=0.0,
            unknown_kinds=0,
            restarts=0,
            last_t_ms=newest.t_ms,
            last_heard_us=now_us,
            signal_dbm=-70.0,
            snr_db=None,
            last_minute=tuple(LinkSecond(at_s, RATE_HZ, 0) for at_s in range(max(0, second - 59), second + 1)),
        )
        snapshot = Snapshot(
            phase=Phase.DESCENT,
            liftoff_t_ms=0.0,
            estimate=newest,
            highest_m=1000.0,
            fastest_mps=150.0,
            pad_pressure_pa=98_000.0,
            air_temperature_c=20.0,
            isa_to_true=1.0,
            temperature_is_given=False,
            events=(),
            deployments=(),
            alerts=(),
            unit=None,
            channels=None,
            fix=None,
            link=link,
        )
        status = SessionStatus("endless", True, "", None, None, now_us, ())
        return self._told, snapshot, status


def estimate(index: int) -> Estimate:
    """Point `index`, 20 ms after the one before: up and down for ever."""
    t_s = index / RATE_HZ
    height_m, speed_mps = 500.0 + 400.0 * math.sin(t_s / 60.0), 6.7 * math.cos(t_s / 60.0)
    return Estimate(1000.0 * t_s, height_m, speed_mps, -0.1 * math.sin(t_s / 60.0), 0.4, 0.3, 0.2)
