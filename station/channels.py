"""What the altimeter reports of its charges: the last `CHN` line, when each channel fired, when we last heard."""

from dataclasses import dataclass

from station.flight_state import ChannelStatus, Unit
from station.records import ChannelRecord, ChannelState, Role
from station.unit_clock import UnitClock


@dataclass(frozen=True, slots=True)
class ChannelReport:
    """All that was heard of one channel. Times ms on the flight's time line."""

    number: int
    role: Role
    state: ChannelState | None
    heard_ms: float | None
    fired_ms: float | None
    ready_heard_ms: float | None


class ChannelBook:
    """Remembers, over a restart of the altimeter too, that a channel was once reported as fired."""

    def __init__(self) -> None:
        self.status: ChannelStatus | None = None
        self._fired_ms: list[float | None] = [None, None]
        self._ready_ms: list[float | None] = [None, None]

    def take(self, t_ms: float, record: ChannelRecord, clock: UnitClock) -> None:
        """Take one `CHN` line."""
        states = (record.channel_1_state, record.channel_2_state)
        quoted = (record.channel_1_fired_t_ms, record.channel_2_fired_t_ms)
        for index in (0, 1):
            if states[index] is ChannelState.FIRED:
                if self._fired_ms[index] is None:
                    when = quoted[index]
                    self._fired_ms[index] = t_ms if when is None else float(clock.place(when))
            elif states[index] is not None:
                self._ready_ms[index] = t_ms
        self.status = ChannelStatus(t_ms, record.battery_mv, states[0], self._fired_ms[0], states[1], self._fired_ms[1])

    @property
    def fired_ms(self) -> tuple[float, ...]:
        """When channels fired, whatever they are for."""
        return tuple(fired for fired in self._fired_ms if fired is not None)

    @property
    def charges(self) -> int:
        """How many channels have a charge by what was heard, whatever they are for: ready for it, or fired."""
        states = () if self.status is None else (self.status.channel_1_state, self.status.channel_2_state)
        found = zip(states, self._fired_ms, strict=False)
        return sum(state is ChannelState.READY or fired is not None for state, fired in found)

    def reports(self, unit: Unit | None) -> tuple[ChannelReport, ...]:
        """What is known of each channel that has a role (the roles come from the `ID` line)."""
        if unit is None:
            return ()
        status = self.status
        states = (None, None) if status is None else (status.channel_1_state, status.channel_2_state)
        roles = (unit.channel_1_role, unit.channel_2_role)
        return tuple(
            ChannelReport(
                index + 1,
                roles[index],
                states[index],
                None if status is None else status.t_ms,
                self._fired_ms[index],
                self._ready_ms[index],
            )
            for index in (0, 1)
            if roles[index] is not Role.NONE
        )
