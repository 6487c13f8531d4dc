"""The coast's drag and the way to its top, against closed forms and scipy's integrator."""

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from station.coast_drag import CoastDrag, drag_rise, mach_at, way_to_top

G = 9.80665
NO_LAPSE = 1e12
"""A pad so hot that density and speed of sound do not change with height, and no speed is near it."""
K_OVER_M = 0.001623565 / 2.0


# Fehskens-Malewicki closed form, h = (m/2k) ln(1 + k v^2/(m g)), t = sqrt(m/(k g)) atan(v sqrt(k/(m g))), for
# m 2.0 kg, k = 0.5 * 1.225 * 0.60 * pi/4 * 0.075^2 = 0.001623565 kg/m; agreed with scipy's DOP853 to four decimals.
@pytest.mark.parametrize(
    ("v", "metres", "seconds"),
    [
        (50.0, 115.852, 4.7850),
        (100.0, 371.470, 8.2738),
        (150.0, 647.774, 10.5178),
        (200.0, 899.998, 11.9732),
        (300.0, 1314.500, 13.6692),
        (164.6211, 724.6989, 11.0072),
    ],
)
def test_constant_density_is_the_closed_form(v, metres, seconds):
    t, h = way_to_top(0.0, v, K_OVER_M, NO_LAPSE)
    assert t == pytest.approx(seconds, abs=2e-4)
    assert h == pytest.approx(metres, abs=5e-3)


def test_without_drag_it_is_a_throw_in_vacuum():
    t, h = way_to_top(0.0, 100.0, 1e-15, NO_LAPSE)
    assert (t, h) == (pytest.approx(100.0 / G), pytest.approx(100.0**2 / (2.0 * G)))


@pytest.mark.parametrize(
    ("height", "v", "k", "kelvin"),
    [
        (200.0, 90.0, 0.0012, 268.0),
        (350.0, 180.0, 0.0007, 290.0),
        (800.0, 260.0, 0.0003, 311.0),
        (600.0, 420.0, 0.0002, 288.15),
    ],
)
def test_thinning_air_and_the_rise_near_mach_1_are_those_of_the_equations(height, v, k, kelvin):
    def rates(t, y):
        del t
        share = 1.0 - 0.0065 * y[0] / kelvin
        rise = drag_rise(y[1] / sqrt(1.4 * 287.05287 * kelvin * share))
        # Density of the standard lapse: (1 - L h/T)^(g/(R L) - 1), U.S. Standard Atmosphere 1976.
        return [y[1], -G - k * rise * share**4.255876 * y[1] * abs(y[1])]

    def top(t, y):
        del t
        return y[1]

    top.terminal = True
    flown = solve_ivp(rates, (0.0, 100.0), [height, v], events=top, method="DOP853", rtol=1e-10, atol=1e-9)
    t, h = way_to_top(height, v, k, kelvin)
    # The rise is made of straight lines, whose corners cost the fast one some accuracy.
    assert t == pytest.approx(flown.t_events[0][0], rel=1e-3 if v > 300.0 else 1e-4)
    assert height + h == pytest.approx(flown.y_events[0][0][0], rel=1e-3 if v > 300.0 else 1e-5)


def test_drag_rises_near_the_speed_of_sound_alone():
    assert [drag_rise(mach) for mach in (0.0, 0.5, 0.8)] == [1.0, 1.0, 1.0]
    assert 1.0 < drag_rise(0.95) < drag_rise(1.1) > drag_rise(2.0) > 1.0
    assert mach_at(0.0, 340.294, 288.15) == pytest.approx(1.0, abs=1e-5)  # ISO 2533


# -- the fit -----------------------------------------------------------------------------------------------------


def coast(v: float, k: float, until_s: float, kelvin: float = 288.15, height: float = 100.0, rate_hz: float = 50.0):
    """Times (s) and heights (m) of a coast without any noise."""
    times = np.arange(0.0, until_s, 1.0 / rate_hz)

    def rates(t, y):
        del t
        return [y[1], -G - k * (1.0 - 0.0065 * y[0] / kelvin) ** 4.255876 * y[1] * abs(y[1])]

    flown = solve_ivp(rates, (0.0, until_s), [height, v], t_eval=times, method="DOP853", rtol=1e-9, atol=1e-9)
    return times, flown.y[0], flown.y[1]


def begun(v: float, kelvin: float = 288.15, height: float = 100.0) -> CoastDrag:
    return CoastDrag(0.0, height, v, 1.0, 8.0, kelvin)


def test_the_drag_comes_out_of_the_heights():
    times, heights, speeds = coast(170.0, 0.0011, 6.0)
    fit = begun(175.0)
    for t, h in zip(times[1:], heights[1:], strict=True):
        fit.take(1000.0 * t, h, 0.01)
    assert fit.drag_per_m == pytest.approx(0.0011, rel=0.03)
    assert fit.v == pytest.approx(speeds[-1], abs=0.1)
    assert not fit.lost


def test_what_it_claims_to_know_it_knows():
    """Normalised errors squared of (h, v, ln k) over 60 noisy coasts, inside the chi-square 95 % bounds.

    Bar-Shalom, Li and Kirubarajan 2001, section 5.4: the sum over N runs is chi-square with 3 N degrees of freedom.
    The fit allows for gusts that these coasts do not have, so only the upper bound (scipy: 216.6 for 180) is strict.
    """
    chance = np.random.default_rng(5)
    runs = 60
    total = 0.0
    for _ in range(runs):
        k = 0.0006 * exp(0.5 * chance.standard_normal())
        v0 = 150.0
        times, heights, speeds = coast(v0, k, 5.0)
        fit = CoastDrag(
            0.0, heights[0] + chance.standard_normal(), v0 + 4.0 * chance.standard_normal(), 1.0, 4.0, 288.15
        )
        for t, h in zip(times[1:], heights[1:], strict=True):
            fit.take(1000.0 * t, h + 0.4 * chance.standard_normal(), 0.16)
        error = np.array([fit.h - heights[-1], fit.v - speeds[-1], fit.ln_k - log(k)])
        covariance = np.array([[fit.phh, fit.phv, fit.phk], [fit.phv, fit.pvv, fit.pvk], [fit.phk, fit.pvk, fit.pkk]])
        total += float(error @ np.linalg.solve(covariance, error))
    assert 60.0 < total < 216.6


def test_the_speed_at_the_start_is_known_as_well_as_it_says():
    """Normalised errors squared of the speed that the fit began with, over 60 noisy coasts: chi-square, 60 degrees.

    Only the upper bound is strict (scipy: 83.3), as above; what the heights tell is far better than the first guess.
    """
    chance = np.random.default_rng(6)
    total = 0.0
    for _ in range(60):
        v0, k = 150.0, 0.0006 * exp(0.5 * chance.standard_normal())
        times, heights, _ = coast(v0, k, 5.0)
        guess = v0 + 4.0 * chance.standard_normal()
        fit = CoastDrag(0.0, heights[0] + chance.standard_normal(), guess, 1.0, 4.0, 288.15)
        felt = -G - k * (1.0 - 0.0065 * 100.0 / 288.15) ** 4.255876 * v0**2
        fit.take_deceleration(felt + 0.5 * chance.standard_normal(), 0.5)
        for t, h in zip(times[1:], heights[1:], strict=True):
            fit.take(1000.0 * t, h + 0.4 * chance.standard_normal(), 0.16)
        assert fit.pss < 0.25
        total += (fit.start_mps - v0) ** 2 / fit.pss
    assert 15.0 < total < 83.3


def test_a_charges_spike_is_passed_over():
    times, heights, _ = coast(150.0, 0.0008, 5.0)
    clean, spiked = begun(150.0), begun(150.0)
    for t, h in zip(times[1:], heights[1:], strict=True):
        clean.take(1000.0 * t, h, 0.1)
        spiked.take(1000.0 * t, h - (40.0 * exp(-(t - 3.0) / 0.1) if t >= 3.0 else 0.0), 0.1)
    assert spiked.v == pytest.approx(clean.v, abs=1.0)
    assert not spiked.lost


def test_a_fit_that_does_not_describe_the_flight_says_so():
    times, heights, _ = coast(150.0, 0.0008, 3.0)
    wrong = CoastDrag(0.0, 100.0, 90.0, 0.5, 0.5, 288.15)
    for t, h in zip(times[1:], heights[1:], strict=True):
        wrong.take(1000.0 * t, h, 0.1)
    assert wrong.lost


def test_it_can_begin_with_heights_alone():
    times, heights, speeds = coast(200.0, 0.0006, 6.0)
    points = [(1000.0 * t, h) for t, h in zip(times[:25], heights[:25], strict=True)]
    fit = CoastDrag.through(points, 0.3, 288.15)
    assert fit.v == pytest.approx(speeds[24], abs=2.0 * sqrt(fit.pvv))
    for t, h in zip(times[25:], heights[25:], strict=True):
        fit.take(1000.0 * t, h, 0.09)
    assert fit.v == pytest.approx(speeds[-1], abs=0.2)


def test_a_felt_deceleration_tells_the_drag_at_once():
    fit = begun(150.0)
    felt = -G - 0.0015 * (1.0 - 0.0065 * 100.0 / 288.15) ** 4.255876 * 150.0**2
    before = fit.pkk
    fit.take_deceleration(felt, 0.5)
    assert fit.drag_per_m == pytest.approx(0.0015, rel=0.03)
    assert fit.pkk < 0.03 * before
    fit.take_deceleration(-G + 1.0, 0.5)  # pushed, not dragged: says nothing
    assert fit.drag_per_m == pytest.approx(0.0015, rel=0.03)
