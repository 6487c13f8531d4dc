import numpy as np
import pytest

from station.records import ChannelState, Role
from station.virtual.air import Day
from station.virtual.altimeter import Altimeter, FlightComputer, isa_altitude_m

DAY = Day(pad_pressure_pa=101325.0, pad_temperature_c=15.0)


def fly(computer: FlightComputer, heights_m: list[float], period_s: float = 0.02) -> list[float]:
    """The times at which it decided something, for standard-atmosphere heights sample by sample."""
    pressures = DAY.pressure_pa(np.array(heights_m))
    return [k * period_s for k, p in enumerate(pressures.tolist()) if computer.take(k * period_s, p)]


def lob(top_m: float = 300.0, rate_mps: float = 18.0, wait_s: float = 2.0) -> list[float]:
    """On the pad, up and over under gravity, then down at a steady rate to the ground."""
    rise_s = (2.0 * top_m / 9.8) ** 0.5
    heights = [0.0] * round(wait_s / 0.02)
    t = 0.0
    while t < rise_s + 1.8:
        heights.append(top_m - 4.9 * (rise_s - t) ** 2)
        t += 0.02
    while heights[-1] > 0.0:
        heights.append(heights[-1] - rate_mps * 0.02)
    return [*heights, *[0.0] * 100]


@pytest.mark.parametrize(
    ("pressure_pa", "altitude_m"),
    # Altitudes of round pressures in the standard atmosphere (ISO 2533 relation, computed with ICAO constants).
    [(101325.0, 0.0), (100000.0, 110.884), (90000.0, 988.500), (70000.0, 3012.181), (30000.0, 9163.951)],
)
def test_isa_altitude_of_round_pressures(pressure_pa: float, altitude_m: float) -> None:
    assert isa_altitude_m(pressure_pa) == pytest.approx(altitude_m, abs=0.001)


def test_apogee_and_main_are_decided_once_each_and_in_time() -> None:
    computer = FlightComputer(Altimeter(main_altitude_m=120.0), 101325.0)
    decided = fly(computer, lob())
    top_s = 2.0 + (600.0 / 9.8) ** 0.5
    assert decided == [computer.apogee_t_s, computer.main_t_s]
    assert decided[0] == pytest.approx(top_s, abs=0.5)
    assert decided[0] > top_s
    below_s = top_s + 1.8 + (300.0 - 4.9 * 1.8**2 - 120.0) / 18.0
    assert decided[1] == pytest.approx(below_s, abs=0.3)


def test_nothing_is_decided_on_the_pad() -> None:
    heights = (15.0 * np.sin(np.arange(6000) / 40.0)).tolist()
    assert fly(FlightComputer(Altimeter(), 101325.0), heights) == []


def test_no_apogee_is_decided_before_the_lockout_ends() -> None:
    # The shock passes the ports: the pressure drops, which reads as height, and comes back.
    heights = [0.0] * 100 + [k * 0.02 * 300.0 for k in range(500)]
    heights = [h + (250.0 if 200 <= k < 230 else 0.0) for k, h in enumerate(heights)]
    fooled, wary = FlightComputer(Altimeter(), 101325.0), FlightComputer(Altimeter(), 101325.0)
    wary.lockout_t_s = 9.0
    assert fly(fooled, heights) != []
    assert fly(wary, heights) == []


def test_without_a_main_height_only_apogee_is_decided() -> None:
    assert len(fly(FlightComputer(Altimeter(main_altitude_m=None), 101325.0), lob())) == 1


def test_channel_states_before_firing() -> None:
    unit = Altimeter(channel_2_role=Role.NONE, channel_1_continuity=False)
    assert unit.state_before_firing(1) is ChannelState.OPEN
    assert unit.state_before_firing(2) is ChannelState.OFF
    assert Altimeter().state_before_firing(1) is ChannelState.READY
