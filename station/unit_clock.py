"""The altimeter's own clock and counter: T_MS unwrapped to one time line, lost lines, restarts.

Flight time comes from T_MS, never from when a line arrived. Only a restart of the altimeter, T_MS going back by more
than a second other than by its 2^32 wrap, is placed by the host's arrival times.
"""

T_MS_MODULUS = 1 << 32
SEQ_MODULUS = 1 << 16
RESTART_BACKSTEP_MS = 1000
# T_MS near the top followed by T_MS near the bottom is the wrap (49.7 days after switch-on) unless the silence
# between would have been longer than this.
LONGEST_WRAP_GAP_MS = 3_600_000


class UnitClock:
    """Follows SEQ and T_MS line by line."""

    __slots__ = (
        "_good",
        "_latency_ms",
        "_offset_ms",
        "_raw_t_ms",
        "_seq",
        "_step_ms",
        "lost",
        "restarts",
        "t_ms",
    )

    def __init__(self) -> None:
        self.lost = 0
        self.restarts = 0
        self.t_ms: int | None = None
        self._offset_ms = 0
        self._raw_t_ms = 0
        self._seq = 0
        self._good = 0
        self._latency_ms: float | None = None
        self._step_ms = 20.0

    @property
    def loss_fraction(self) -> float:
        """Lost lines as a fraction of all lines the altimeter is known to have sent."""
        sent = self._good + self.lost
        return self.lost / sent if sent else 0.0

    def take(self, seq: int, raw_t_ms: int, arrival_us: int | None) -> int:
        """Take the SEQ and T_MS of one good line; returns its time (ms) on the flight's time line.

        A line that is older than the newest by less than a second is late, not a restart: it gets its own time.
        """
        self._good += 1
        if self.t_ms is None:
            self._begin(seq, raw_t_ms, raw_t_ms, arrival_us)
            return raw_t_ms
        ahead = raw_t_ms - self._raw_t_ms
        if ahead < 0 and raw_t_ms + T_MS_MODULUS - self._raw_t_ms <= LONGEST_WRAP_GAP_MS:
            ahead += T_MS_MODULUS
        elif ahead > T_MS_MODULUS - RESTART_BACKSTEP_MS:
            ahead -= T_MS_MODULUS  # a late line from just before the wrap
        if ahead < -RESTART_BACKSTEP_MS:
            self.restarts += 1
            t_ms = self._place_restart(arrival_us)
            self._begin(seq, raw_t_ms, t_ms, arrival_us)
            return t_ms
        t_ms = self.t_ms + ahead
        self._count_lost(seq, ahead)
        if ahead >= 0:
            self.t_ms = t_ms
            self._raw_t_ms = raw_t_ms
            self._offset_ms = t_ms - raw_t_ms
            self._learn_latency(t_ms, arrival_us)
        return t_ms

    def place(self, raw_t_ms: int) -> int:
        """Put a T_MS that a line quotes (when a channel fired) on the time line; it lies in the past."""
        t_ms = raw_t_ms + self._offset_ms
        if self.t_ms is not None and t_ms > self.t_ms:
            t_ms -= T_MS_MODULUS if t_ms - self.t_ms > T_MS_MODULUS // 2 else 0
        return t_ms

    def _begin(self, seq: int, raw_t_ms: int, t_ms: int, arrival_us: int | None) -> None:
        self.t_ms = t_ms
        self._raw_t_ms = raw_t_ms
        self._offset_ms = t_ms - raw_t_ms
        self._seq = seq
        self._latency_ms = None
        self._learn_latency(t_ms, arrival_us)

    def _learn_latency(self, t_ms: int, arrival_us: int | None) -> None:
        """Keep the smallest arrival delay: radio and buffers only ever add to it."""
        if arrival_us is not None:
            latency = arrival_us / 1000.0 - t_ms
            if self._latency_ms is None or latency < self._latency_ms:
                self._latency_ms = latency

    def _place_restart(self, arrival_us: int | None) -> int:
        assert self.t_ms is not None
        soonest = self.t_ms + 1
        if arrival_us is None or self._latency_ms is None:
            return soonest  # no host times: the silence cannot be known
        return max(soonest, round(arrival_us / 1000.0 - self._latency_ms))

    def _count_lost(self, seq: int, ahead_ms: int) -> None:
        step = (seq - self._seq) % SEQ_MODULUS
        if step == 0:
            return  # the same line twice
        if step >= SEQ_MODULUS // 2 and ahead_ms < RESTART_BACKSTEP_MS:
            self.lost = max(0, self.lost - 1)  # a late line that was counted as lost
            return
        self._seq = seq
        # Silence so long that SEQ itself went round: T_MS tells how often.
        rounds = round((ahead_ms / self._step_ms - step) / SEQ_MODULUS) if ahead_ms > 60_000 else 0
        self.lost += step - 1 + max(0, rounds) * SEQ_MODULUS
        if ahead_ms <= 60_000:
            self._step_ms += (ahead_ms / step - self._step_ms) / 64.0
