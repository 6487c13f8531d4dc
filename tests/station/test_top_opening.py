"""A parachute that comes out on the way up or near the top, on virtual rockets whose truth is known."""

from dataclasses import dataclass

import numpy as np
import pytest

from station.flown_curve import FlownCurve
from station.top_opening import TopOpening, find_top_opening
from station.virtual.air import Day
from station.virtual.flight_physics import FlightPhysics, motion_at
from station.virtual.rocket import Motor, Parachute, Rocket

BURN_S = 1.5
MASS_KG = 1.1
DAY = Day()


@dataclass(frozen=True, slots=True, eq=False)
class Flown:
    """A flight, its samples and its truth; `lines_s` is when the parachute's lines were stretched."""

    curve: FlownCurve
    fired_mps: float
    lines_s: float
    lines_mps: float
    apogee_s: float
    apogee_m: float
    rate_mps: float

    def found(self) -> TopOpening | None:
        return find_top_opening(self.curve, BURN_S, self.apogee_s + 0.4, self.rate_mps)


def flown(fires_s: float, parachute: Parachute, *, noise_m: float = 0.35, seed: int = 1, spike_m: float = 0.0) -> Flown:
    physics = FlightPhysics(
        Rocket(dry_mass_kg=MASS_KG, diameter_m=0.066, drag_coefficient=0.6),
        Motor(((0.0, 0.0), (0.05, 105.0), (BURN_S - 0.05, 90.0), (BURN_S, 0.0)), propellant_mass_kg=0.07),
        DAY,
    )
    canopy = physics.open_canopy(parachute, fires_s)
    physics.fly_to(40.0)
    t = np.arange(-1.0, 30.0, 0.02)
    motion = motion_at(physics, np.maximum(t, 0.0))
    heights = motion.altitude_m + np.random.default_rng(seed).normal(0.0, noise_m, len(t))
    fired = t >= fires_s
    heights[fired] -= spike_m * np.exp(-(t[fired] - fires_s) / 0.15)
    none = np.full(len(t), np.nan)
    sigma = np.full(len(t), max(noise_m, 0.1))
    curve = FlownCurve(t, heights, sigma, none, motion.velocity_mps, DAY.sound_speed_mps(motion.altitude_m))
    top = int(np.argmax(motion.altitude_m))
    area = parachute.drag_area_m2 + physics.rocket.tumbling_drag_area_m2
    return Flown(
        curve,
        float(np.interp(fires_s, t, motion.velocity_mps)),
        canopy.stretched_t_s,
        float(np.interp(canopy.stretched_t_s, t, motion.velocity_mps)),
        float(t[top]),
        float(motion.altitude_m[top]),
        # Terminal speed: v = sqrt(2 m g / (rho Cd A)).
        float(np.sqrt(2.0 * MASS_KG * 9.80665 / (DAY.pad_density_kgm3 * area))),
    )


SMALL = Parachute(drag_area_m2=0.40, diameter_m=0.70)
LARGE_AND_SLOW = Parachute(drag_area_m2=0.9, diameter_m=1.6, stretch_s=0.5, fill_diameters=14.0)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("fires_s", [3.5, 5.0, 6.0, 7.0])
@pytest.mark.parametrize("spike_m", [0.0, 35.0])
def test_the_moment_the_speed_and_the_top_are_found(fires_s: float, seed: int, spike_m: float) -> None:
    """Whether or not the charge's pressure gets into the altimeter's bay."""
    flight = flown(fires_s, SMALL, seed=seed, spike_m=spike_m)
    found = flight.found()
    assert found is not None
    # From the charge on the open airframe brakes, from the stretched lines on the canopy, full some 0.3 s later.
    assert fires_s < found.t_s < flight.lines_s + 0.4
    slack = 2.0 * found.velocity_sigma_mps
    assert flight.lines_mps - slack < found.velocity_mps < flight.fired_mps + slack
    assert found.in_the_climb
    assert abs(found.apogee_s - flight.apogee_s) < 2.0 * found.apogee_sigma_s
    assert found.apogee_m == pytest.approx(flight.apogee_m, abs=1.5)


def test_a_canopy_that_takes_its_time_to_fill_is_found_too() -> None:
    flight = flown(5.0, LARGE_AND_SLOW)
    found = flight.found()
    assert found is not None
    assert flight.lines_s - 0.2 < found.t_s < flight.lines_s + 0.6
    assert found.apogee_m == pytest.approx(flight.apogee_m, abs=2.0)


@pytest.mark.parametrize("fires_s", [8.5, 9.0, 9.5, 10.5, 11.5, 13.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_comes_out_at_the_top_or_later_is_no_opening_in_the_climb(fires_s: float, seed: int) -> None:
    flight = flown(fires_s, SMALL, seed=seed)
    assert flight.lines_mps < 7.0
    found = flight.found()
    assert found is not None
    assert not found.in_the_climb
    # The lines stretched near the top have to wait until the rocket falls: the drag is half the weight at 4.8 m/s.
    waits_until_s = flight.apogee_s + 4.8 / 9.8
    assert found.t_s == pytest.approx(max(flight.lines_s, waits_until_s) + 0.15, abs=0.6)
    assert found.apogee_m == pytest.approx(flight.apogee_m, abs=0.5)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_comes_out_long_after_the_top_is_for_others_to_find(seed: int) -> None:
    assert flown(15.0, SMALL, seed=seed).found() is None


def test_a_climb_that_was_hardly_heard_says_nothing() -> None:
    flight = flown(5.0, SMALL)
    heard = flight.curve.rows((flight.curve.t_s < 2.0) | (flight.curve.t_s > 9.0))
    assert find_top_opening(heard, BURN_S, flight.apogee_s, flight.rate_mps) is None
