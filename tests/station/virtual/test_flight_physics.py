from math import atan, atan2, cos, hypot, log, pi, radians, sin, sqrt, tanh

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.virtual.air import Day, Wind
from station.virtual.flight_physics import FlightPhysics, motion_at
from station.virtual.one_piece import WEATHERCOCK_LENGTH_M
from station.virtual.rocket import CONSTANT_DRAG, Motor, Parachute, Rocket
from station.virtual.truth_of_flight import apogee_of

G = 9.80665
NO_RAIL_M = 1e-6
# No drag of the body once it is apart: only the parachute counts.
NO_LENGTH_M = 1e-9


def reference_flight() -> FlightPhysics:
    """Constant mass, thrust and density: m 2.0 kg, T 200 N for 2.0 s, D 0.075 m, Cd 0.60, rho 1.225."""
    return FlightPhysics(
        Rocket(2.0, 0.075, 0.60, drag_rise=CONSTANT_DRAG),
        Motor(((0.0, 200.0), (2.0, 200.0)), propellant_mass_kg=0.0),
        Day(),
        rail_length_m=NO_RAIL_M,
        constant_density_kgm3=1.225,
    )


# The Fehskens-Malewicki closed forms of a vertical flight with quadratic drag, as widely printed.
K = 0.5 * 1.225 * 0.60 * pi * 0.075**2 / 4.0
LIMIT = sqrt((200.0 - 2.0 * G) / K)
BURNOUT_MPS = LIMIT * tanh(K * LIMIT / 2.0 * 2.0)
BURNOUT_M = -2.0 / (2.0 * K) * log(1.0 - (BURNOUT_MPS / LIMIT) ** 2)
COAST_M = 2.0 / (2.0 * K) * log(1.0 + K * BURNOUT_MPS**2 / (2.0 * G))
COAST_S = sqrt(2.0 / (K * G)) * atan(BURNOUT_MPS * sqrt(K / (2.0 * G)))


def test_the_closed_forms_here_give_the_reference_figures() -> None:
    # Worked independently, closed form and scipy's DOP853 agreeing to four decimals.
    worked = [BURNOUT_MPS, BURNOUT_M, COAST_M, COAST_S]
    assert worked == pytest.approx([164.6211, 172.2135, 724.6989, 11.0072], abs=1e-4)


def test_boost_matches_the_closed_form() -> None:
    path = reference_flight().path
    assert path.vz[-1] == pytest.approx(BURNOUT_MPS, rel=1e-5)
    assert path.z[-1] == pytest.approx(BURNOUT_M, rel=1e-5)


def test_apogee_matches_the_closed_form_within_a_thousandth() -> None:
    flight = reference_flight()
    flight.fly_to(20.0)
    time, altitude = apogee_of(flight)
    assert altitude == pytest.approx(BURNOUT_M + COAST_M, rel=1e-4)
    assert altitude == pytest.approx(896.9124, rel=1e-3)
    assert time == pytest.approx(2.0 + COAST_S, rel=1e-4)


@pytest.mark.parametrize(
    ("parachute_m", "height_m", "rate_mps"),
    # 2 kg under a canopy of Cd 1.5 in the standard atmosphere: v = sqrt(2 m g/(rho Cd A)).
    [(0.90, 0.0, 5.7928), (0.30, 0.0, 17.378), (0.30, 1000.0, 18.243), (0.30, 3000.0, 20.173)],
)
def test_descent_rate_under_a_parachute_is_the_terminal_one(
    parachute_m: float, height_m: float, rate_mps: float
) -> None:
    flight, _, _ = _falling(parachute_m)
    flight.fly_to(1e5)
    z, vz = np.array(flight.path.z), np.array(flight.path.vz)
    k = int(np.argmin(np.abs(z[10:] - height_m))) + 10
    # The steady rate lags the thickening air a little (0.5 % for 20 m/s).
    assert -vz[k] == pytest.approx(rate_mps, rel=0.006)


def _falling(parachute_m: float) -> tuple[FlightPhysics, float, float]:
    """A 2 kg rocket whose one parachute opens at once at apogee; when that is, and how high."""
    flight = FlightPhysics(
        Rocket(2.0, 0.05, 0.4, length_m=NO_LENGTH_M, drag_rise=CONSTANT_DRAG),
        Motor(((0.0, 700.0), (2.0, 700.0)), 0.0),
        Day(pad_pressure_pa=101325.0, pad_temperature_c=15.0),
        rail_length_m=NO_RAIL_M,
    )
    flight.fly_to(3.0)
    while flight.path.vz[-1] > 0.0:
        flight.fly_to(flight.path.t[-1] + 1.0)
    area = pi * parachute_m**2 / 4.0
    time, altitude = apogee_of(flight)
    flight.open_canopy(Parachute(1.5 * area, parachute_m, stretch_s=0.0, fill_diameters=1e-3), time)
    return flight, time, altitude


def test_time_to_fall_under_the_drogue_matches_an_independent_integration() -> None:
    flight, time, altitude = _falling(0.30)

    def fall(t: float, y: np.ndarray) -> list[float]:
        density = 1.225 * (1.0 - 0.0065 * y[0] / 288.15) ** 4.2558798
        return [y[1], 0.5 * density * 1.5 * pi * 0.09 / 4.0 * y[1] ** 2 / 2.0 - G]

    hit = lambda t, y: y[0]  # noqa: E731
    hit.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(fall, (0.0, 1000.0), [altitude, 0.0], events=hit, rtol=1e-10, atol=1e-8)
    flight.fly_to(1e5)
    assert flight.touchdown_t_s is not None
    assert flight.touchdown_t_s - time == pytest.approx(float(solution.t_events[0][0]), abs=0.02)


CURVE = ((0.0, 0.0), (0.05, 900.0), (0.3, 760.0), (1.4, 690.0), (1.8, 90.0), (2.0, 0.0))
RISE = ((0.0, 1.0), (0.8, 1.0), (1.05, 1.7), (1.6, 1.4), (3.0, 1.0))


def _independent_ascent(day: Day, wind: Wind | None, start: float, state: list[float], until: float) -> np.ndarray:
    """(x, z, vx, vz) at `until` by scipy's DOP853, from equations written anew; free flight from `start` on."""
    times, forces = (np.array(column) for column in zip(*CURVE, strict=True))
    impulse = np.concatenate([[0.0], np.cumsum(np.diff(times) * (forces[1:] + forces[:-1]) / 2.0)])
    machs, factors = (np.array(column) for column in zip(*RISE, strict=True))

    def rates(t: float, y: np.ndarray) -> list[float]:
        _, z, vx, vz, nose = y
        force = float(np.interp(t, times, forces, right=0.0))
        k = min(int(np.searchsorted(times, t, side="right")) - 1, len(times) - 2)
        burnt = impulse[-1] if t >= times[-1] else impulse[k] + (t - times[k]) * (forces[k] + force) / 2.0
        mass = 2.6 + 0.5 * (1.0 - burnt / impulse[-1])
        along, up = wind.at(t, z) if wind else (0.0, 0.0)
        speed = hypot(vx - along, vz - up)
        kelvin = day.pad_temperature_k - 0.0065 * z
        pressure = day.pad_pressure_pa * (kelvin / day.pad_temperature_k) ** 5.2558798
        mach = speed / sqrt(1.4 * 287.05287 * kelvin)
        drag = (
            0.5 * pressure / (287.05287 * kelvin) * speed**2 * 0.5 * np.interp(mach, machs, factors) * pi * 0.054**2 / 4
        )
        pull = drag / mass / speed if speed > 0.0 else 0.0
        turn = (atan2(vx - along, vz - up) - nose + pi) % (2.0 * pi) - pi
        ax = force / mass * sin(nose) - pull * (vx - along)
        az = force / mass * cos(nose) - pull * (vz - up) - G
        return [vx, vz, ax, az, turn * speed / WEATHERCOCK_LENGTH_M]

    solution = solve_ivp(rates, (start, until), state, method="DOP853", rtol=1e-9, atol=1e-9, max_step=0.01)
    return np.asarray(solution.y[:4, -1])


@pytest.mark.parametrize("until", [1.0, 2.5, 8.0, 17.0])
def test_ascent_through_real_air_past_mach_1_matches_scipy(until: float) -> None:
    day = Day(pad_pressure_pa=88_000.0, pad_temperature_c=29.0)
    flight = FlightPhysics(Rocket(2.6, 0.054, 0.5, drag_rise=RISE), Motor(CURVE, 0.5), day, rail_length_m=NO_RAIL_M)
    flight.fly_to(20.0)
    motion = motion_at(flight, np.array([until]))
    # On the ground until thrust exceeds weight: start there.
    _, z, _, vz = _independent_ascent(day, None, 0.05 * 3.1 * G / 900.0, [0.0] * 5, until)
    assert motion.altitude_m[0] == pytest.approx(z, rel=1e-4)
    assert motion.velocity_mps[0] == pytest.approx(vz, rel=1e-4, abs=0.01)


def test_tilted_ascent_in_wind_matches_scipy() -> None:
    day = Day(ground_wind_mps=5.0, high_wind_mps=12.0, gust_mps=0.8, vertical_gust_mps=0.3)
    wind = Wind(day, 5, 60.0)
    tilt = radians(4.0)
    flight = FlightPhysics(
        Rocket(2.6, 0.054, 0.5, drag_rise=RISE),
        Motor(CURVE, 0.5),
        day,
        rail_length_m=NO_RAIL_M,
        rail_tilt_rad=tilt,
        wind=wind.at,
    )
    flight.fly_to(16.0)
    motion = motion_at(flight, np.array([14.0]))
    path = flight.path
    k = next(i for i, t in enumerate(path.t) if t > 0.06)
    left_rail = [path.x[k], path.z[k], path.vx[k], path.vz[k], path.tilt[k]]
    x, z, vx, vz = _independent_ascent(day, wind, path.t[k], left_rail, 14.0)
    assert abs(x) > 10.0
    assert motion.altitude_m[0] == pytest.approx(z, rel=1e-4)
    assert motion.downrange_m[0] == pytest.approx(x, abs=0.2)
    assert motion.velocity_mps[0] == pytest.approx(vz, abs=0.02)
    assert motion.speed_mps[0] == pytest.approx(hypot(vx, vz), abs=0.02)


def slim_flight() -> FlightPhysics:
    """2 kg, 60 mm thick and 1.2 m long, in air of one density (kg/m^3)."""
    return FlightPhysics(
        Rocket(2.0, 0.06, 0.5, length_m=1.2, drag_rise=CONSTANT_DRAG),
        Motor(((0.0, 200.0), (2.0, 200.0)), 0.0),
        Day(),
        rail_length_m=NO_RAIL_M,
        constant_density_kgm3=1.2,
    )


def test_a_main_that_opens_in_a_fast_dive_matches_scipy() -> None:
    flight = slim_flight()
    flight.fly_to(24.0)
    begun = flight.path.z[-1], flight.path.vz[-1]
    flight.open_canopy(Parachute(1.1, 1.0, stretch_s=0.3, fill_diameters=8.0), 24.0)
    flight.fly_to(27.0)
    body = 0.12 * 1.2 * 0.06

    def rates(t: float, y: np.ndarray) -> list[float]:
        area = body + 1.1 * min(y[2], 1.0) ** 2
        filling = abs(y[1]) / 8.0 if t >= 0.3 and y[2] < 1.0 else 0.0
        return [y[1], 0.5 * 1.2 * area * y[1] ** 2 / 2.0 - G, filling]

    solution = solve_ivp(rates, (0.0, 3.0), [*begun, 0.0], max_step=1e-3, rtol=1e-8, atol=1e-8)
    assert begun[1] < -70.0
    assert flight.path.z[-1] == pytest.approx(solution.y[0, -1], abs=0.1)
    assert flight.path.vz[-1] == pytest.approx(solution.y[1, -1], abs=0.05)


def test_flying_back_and_on_again_changes_nothing() -> None:
    straight, looped = reference_flight(), reference_flight()
    straight.fly_to(9.0)
    straight.fly_to(13.0)
    looped.fly_to(30.0)
    looped.rewind(9.0)
    looped.fly_to(13.0)
    assert looped.path.t[-1] == straight.path.t[-1] == 13.0
    assert looped.path.z[-1] == pytest.approx(straight.path.z[-1], abs=1e-6)


def test_first_motion_is_when_thrust_first_exceeds_weight() -> None:
    flight = FlightPhysics(
        Rocket(1.0, 0.05, 0.5), Motor(((0.0, 0.0), (0.5, 100.0), (1.0, 100.0)), 0.0), Day(), ignition_t_s=7.0
    )
    assert flight.liftoff_t_s == pytest.approx(7.0 + 0.5 * G / 100.0, abs=1e-6)


def test_a_motor_that_cannot_lift_the_rocket_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot lift"):
        FlightPhysics(Rocket(10.0, 0.05, 0.5), Motor(((0.0, 50.0), (1.0, 50.0)), 0.0), Day())


def test_on_the_pad_and_after_landing_nothing_moves() -> None:
    flight, _, _ = _falling(0.9)
    flight.fly_to(1e5)
    assert flight.touchdown_t_s is not None
    motion = motion_at(flight, np.array([-5.0, flight.touchdown_t_s + 0.01, flight.touchdown_t_s + 60.0]))
    assert motion.velocity_mps.tolist() == [0.0, 0.0, 0.0]
    assert motion.altitude_m == pytest.approx([0.0, 0.0, 0.0], abs=0.01)


def test_between_its_nodes_the_path_is_smooth() -> None:
    flight = reference_flight()
    flight.fly_to(14.0)
    times = np.linspace(2.1, 12.5, 5000)
    motion = motion_at(flight, times)
    by_difference = np.gradient(motion.altitude_m, times)
    assert np.abs(by_difference - motion.velocity_mps)[1:-1].max() < 0.01


def test_the_nose_turns_into_the_wind() -> None:
    day = Day(ground_wind_mps=6.0, high_wind_mps=6.0, gust_mps=0.0, vertical_gust_mps=0.0)
    flight = FlightPhysics(
        Rocket(1.0, 0.06, 0.6),
        Motor(((0.0, 60.0), (2.0, 60.0)), 0.0),
        day,
        wind=lambda t_s, height_m: (6.0, 0.0),
    )
    # The wind blows to +x; a stable rocket points to where it comes from, -x, and climbs that way under thrust.
    assert flight.path.x[-1] < -1.0


def test_a_parachute_that_lets_go_leaves_a_fall_that_matches_scipy() -> None:
    flight = slim_flight()
    flight.fly_to(14.0)
    canopy = flight.open_canopy(Parachute(1.1, 1.0), 14.0)
    canopy.lets_go_t_s, canopy.kept_share = 20.03, 0.1
    flight.fly_to(24.0)
    torn = flight.path.t.index(20.03)
    begun = flight.path.z[torn], flight.path.vz[torn]
    held_mps = -sqrt(2.0 * 2.0 * G / (1.2 * (1.1 + 0.12 * 1.2 * 0.06)))
    assert begun[1] == pytest.approx(held_mps, rel=1e-3)
    area = 0.12 * 1.2 * 0.06 + 0.11

    def rates(t: float, y: np.ndarray) -> list[float]:
        return [y[1], 0.5 * 1.2 * area * y[1] ** 2 / 2.0 - G]

    solution = solve_ivp(rates, (0.0, 24.0 - 20.03), begun, rtol=1e-9, atol=1e-9)
    assert flight.path.z[-1] == pytest.approx(solution.y[0, -1], abs=0.05)
    assert flight.path.vz[-1] == pytest.approx(solution.y[1, -1], abs=0.02)
    # Its pull is gone at once, not over a step.
    (before, after) = [a for t, a in zip(flight.path.t, flight.path.az, strict=True) if t == 20.03]
    assert before == pytest.approx(0.0, abs=0.05)
    assert after == pytest.approx(0.5 * 1.2 * area * held_mps**2 / 2.0 - G, abs=0.05)
