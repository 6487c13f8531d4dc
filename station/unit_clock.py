"""The altimeter's own clock and counter: T_MS unwrapped to one time line, lost lines, restarts.

Flight time comes from T_MS, never from when a line arrived. Only a restart of the altimeter is placed by the host's
arrival times: T_MS goes back by more than a second other than by its 2^32 wrap, or SEQ begins anew within a second.
"""

from typing import Final

T_MS_MODULUS: Final = 1 << 32
SEQ_MODULUS: Final = 1 << 16
RESTART_BACKSTEP_MS: Final = 1000
LEAST_STEP_MS: Final = 1.0
# T_MS near the top followed by T_MS near the bottom is the wrap (49.7 days after switch-on) unless the silence
# between would have been longer than this, or longer than it was: then the altimeter restarted before the wrap.
LONGEST_WRAP_GAP_MS: Final = 3_600_000
WRAP_GAP_SHARE: Final = 0.25
WRAP_LINES_SHARE: Final = 0.05
WRAP_GAP_MARGIN_MS: Final = 1500.0
WRAP_MARGIN_LINES: Final = 5
# How many of the newest lines are told apart as heard or lost, so that a late one counts once.
WINDOW_LINES: Final = 256
_ALL_HEARD: Final = (1 << WINDOW_LINES) - 1
# No line comes so many lines out of order, and so many are not sent within a second: the count began anew.
FAR_LINES: Final = 1000
LONG_SILENCE_MS: Final = 60_000
STEP_MEMORY_LINES: Final = 1024


class UnitClock:
    """Follows SEQ and T_MS line by line."""

    __slots__ = (
        "_before_restart",
        "_heard",
        "_in_order",
        "_latency_ms",
        "_offset_ms",
        "_raw_t_ms",
        "_seq",
        "_step_ms",
        "_steps",
        "_unique",
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
        self._heard = _ALL_HEARD
        self._unique = 0
        # Lines since then that came one after the other; what else is counted of them is only when it matters.
        self._in_order = 0
        self._latency_ms: float | None = None
        self._step_ms = 20.0
        self._steps = 0
        self._before_restart: tuple[int, int] | None = None

    @property
    def loss_fraction(self) -> float:
        """Lost lines as a fraction of all lines the altimeter is known to have sent."""
        sent = self._unique + self._in_order + self.lost
        return self.lost / sent if sent else 0.0

    def take(self, seq: int, raw_t_ms: int, arrival_us: int | None) -> int:
        """Take the SEQ and T_MS of one good line; returns its time (ms) on the flight's time line.

        A line that is older than the newest by less than a second, and whose SEQ is too, is late, not a restart: it
        gets its own time.
        """
        if self.t_ms is None:
            self._unique += 1
            self._begin(seq, raw_t_ms, raw_t_ms, arrival_us)
            return raw_t_ms
        ahead = raw_t_ms - self._raw_t_ms
        if 0 <= ahead <= LONG_SILENCE_MS and seq - self._seq == 1:
            # Nearly every line is the next one: no wrap, no restart, nothing lost. What `_follow` and `_learn_latency`
            # do stands here once more for it, for the two calls would take as long as all the rest.
            self._seq = seq
            self._raw_t_ms = raw_t_ms
            self._in_order += 1
            steps = self._steps
            if steps < STEP_MEMORY_LINES:
                self._steps = steps = steps + 1
            learned = self._step_ms + (ahead - self._step_ms) * (1 / steps)
            self._step_ms = learned if learned > LEAST_STEP_MS else LEAST_STEP_MS
            t_ms = self.t_ms = self.t_ms + ahead
            if arrival_us is not None:
                latency = arrival_us / 1000.0 - t_ms
                if self._latency_ms is None or latency < self._latency_ms:
                    self._latency_ms = latency
            return t_ms
        self._catch_up()
        self._unique += 1
        if ahead < 0 and self._is_wrap(seq, ahead + T_MS_MODULUS, arrival_us):
            ahead += T_MS_MODULUS
        elif ahead > T_MS_MODULUS - RESTART_BACKSTEP_MS:
            ahead -= T_MS_MODULUS  # a late line from just before the wrap
        if ahead < -RESTART_BACKSTEP_MS or (ahead < RESTART_BACKSTEP_MS and self._is_far(seq)):
            self.restarts += 1
            self._before_restart = self._offset_ms, self.t_ms
            t_ms = self._place_restart(arrival_us)
            self._begin(seq, raw_t_ms, t_ms, arrival_us)
            return t_ms
        t_ms = self.t_ms + ahead
        self._count(seq, ahead)
        if ahead >= 0:
            self.t_ms = t_ms
            self._raw_t_ms = raw_t_ms
            self._offset_ms = t_ms - raw_t_ms
            self._learn_latency(t_ms, arrival_us)
        return t_ms

    def place(self, raw_t_ms: int) -> int:
        """Put a T_MS that a line quotes (when a channel fired) on the time line; it lies in the past.

        One that the present stretch has not reached yet was quoted from the clock as it ran before the restart.
        """
        t_ms = raw_t_ms + self._offset_ms
        if self.t_ms is None or t_ms <= self.t_ms:
            return t_ms
        if t_ms - self.t_ms > T_MS_MODULUS // 2:
            return t_ms - T_MS_MODULUS
        if self._before_restart is not None:
            offset_ms, last_ms = self._before_restart
            return min(raw_t_ms + offset_ms, last_ms)
        return self.t_ms

    def _begin(self, seq: int, raw_t_ms: int, t_ms: int, arrival_us: int | None) -> None:
        self.t_ms = t_ms
        self._raw_t_ms = raw_t_ms
        self._offset_ms = t_ms - raw_t_ms
        self._seq = seq
        self._heard = _ALL_HEARD
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

    def _is_wrap(self, seq: int, gap_ms: int, arrival_us: int | None) -> bool:
        """T_MS went back: does it fit its wrap, by the host's clock and by how many lines were sent meanwhile?"""
        if gap_ms > LONGEST_WRAP_GAP_MS:
            return False
        if arrival_us is not None and self._latency_ms is not None and self.t_ms is not None:
            silence_ms = arrival_us / 1000.0 - self._latency_ms - self.t_ms
            if silence_ms < (1.0 - WRAP_GAP_SHARE) * gap_ms - WRAP_GAP_MARGIN_MS:
                return False
        lines = gap_ms / self._step_ms
        off = (seq - self._seq - round(lines)) % SEQ_MODULUS
        return min(off, SEQ_MODULUS - off) <= WRAP_LINES_SHARE * lines + WRAP_MARGIN_LINES

    def _is_far(self, seq: int) -> bool:
        step = (seq - self._seq) % SEQ_MODULUS
        return FAR_LINES < step < SEQ_MODULUS - FAR_LINES

    def _count(self, seq: int, ahead_ms: int) -> None:
        step = (seq - self._seq) % SEQ_MODULUS
        if step != 1:
            if ahead_ms < RESTART_BACKSTEP_MS and (step == 0 or step >= SEQ_MODULUS // 2):
                self._count_late((self._seq - seq) % SEQ_MODULUS)
                return
            self._count_lost(step, ahead_ms)
        self._follow(seq, step, ahead_ms)

    def _follow(self, seq: int, step: int, ahead_ms: int) -> None:
        """The newest line, `step` after the one before: which were heard, and how far lines are apart."""
        self._seq = seq
        self._heard = (self._heard << step | 1) & _ALL_HEARD if step < WINDOW_LINES else 1
        if step and 0 <= ahead_ms <= LONG_SILENCE_MS:
            steps = self._steps = min(self._steps + step, STEP_MEMORY_LINES)
            learned = self._step_ms + (ahead_ms / step - self._step_ms) * min(step / steps, 1.0)
            self._step_ms = max(learned, LEAST_STEP_MS)  # several lines may share one T_MS

    def _catch_up(self) -> None:
        """Count what came in order since the last time."""
        count = self._in_order
        self._unique += count
        shifted = self._heard << count | (1 << count) - 1 if count < WINDOW_LINES else _ALL_HEARD
        self._heard = shifted & _ALL_HEARD
        self._in_order = 0

    def _count_lost(self, step: int, ahead_ms: int) -> None:
        # Silence so long that SEQ itself went round: T_MS tells how often.
        rounds = round((ahead_ms / self._step_ms - step) / SEQ_MODULUS) if ahead_ms > LONG_SILENCE_MS else 0
        self.lost += max(0, step - 1 + max(0, rounds) * SEQ_MODULUS)

    def _count_late(self, back: int) -> None:
        """A line `back` lines older than the newest: it had been counted as lost, unless it comes a second time."""
        bit = 1 << back if back < WINDOW_LINES else 0
        if self._heard & bit or self.lost == 0:
            self._unique -= 1
            return
        self._heard |= bit
        self.lost -= 1
