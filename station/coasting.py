"""What the rocket did, and would have done, in one piece after burnout: speed, drag, and the top it was on its way to.

The coast from burnout to the first parachute is fitted as physics (`station/coast_fit.py`). Beyond the parachute the
same curve goes on as if nothing had come out: it tells where the highest point would have been, and how fast the rocket
was at the moment of opening, on the way up or down.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from station.atmosphere import G0_MPS2
from station.coast_drag import way_to_top
from station.coast_fit import SMALL, CoastFit, fit_coast
from station.columns import Array
from station.flown_curve import FlownCurve
from station.vertical_motion import TRUSTED_MACH

# The thrust's tail, and the port's lag after a sudden change.
AFTER_BURNOUT_S = 0.35
SPIKE_S = 0.6
LEAST_S = 0.8
LEAST_SAMPLES = 8
# What the model of a vertical coast leaves out: lean, wind, gusts. Shares of the drag and of the way to the top,
# measured on virtual flights drawn by chance (no source).
DRAG_MODEL_SIGMA = 0.03
DRAG_WIND_MPS = 2.0
TOP_MODEL_SIGMA = 0.006
TOP_MODEL_SIGMA_S = 0.03
SPEED_MODEL_SIGMA = 0.01
SPEED_MODEL_SIGMA_MPS = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Coasting:
    """The fitted coast. Times s from liftoff, `top_*` where nothing coming out would have let it rise to.

    `drag_per_m` is drag per mass and speed squared (1/m) at the pad's air density, below the speeds near that of sound.
    The samples that it rests on run from `start_s` to `end_s`, at speeds (m/s) from `fastest_mps` down.
    """

    fit: CoastFit
    start_s: float
    end_s: float
    fastest_mps: float
    drag_per_m: float
    drag_sigma_per_m: float
    top_s: float
    top_sigma_s: float
    top_m: float

    def velocity_at(self, t_s: float) -> tuple[float, float]:
        """(Velocity m/s + up, standard deviation m/s) at a time, as if nothing had come out by then."""
        at = np.array([t_s])
        now = float(self.fit.at(at)[1][0])
        sigma = _sigma(self.fit, self.fit.moves(at)[1][0])
        return now, hypot(sigma, SPEED_MODEL_SIGMA * abs(now), SPEED_MODEL_SIGMA_MPS)


def observe_coast(
    curve: FlownCurve, burnout_s: float, end_s: float, pad_kelvin: float, fired_s: Sequence[float] = ()
) -> Coasting | None:
    """Fit the coast between burnout and the first parachute, or apogee (`end_s`), whichever came first.

    None when too few samples were heard, or the speed was never low enough for the pressure to be trusted.
    """
    use = (curve.t_s >= burnout_s + AFTER_BURNOUT_S) & (curve.t_s <= end_s) & (curve.mach <= TRUSTED_MACH)
    for at_s in fired_s:
        use &= (curve.t_s < at_s) | (curve.t_s > at_s + SPIKE_S)
    part = curve.rows(use)
    if len(part.t_s) < LEAST_SAMPLES or part.t_s[-1] - part.t_s[0] < LEAST_S:
        return None
    start_s = float(part.t_s[0])
    fit = fit_coast(part.t_s, part.altitude_m, np.maximum(part.sigma_m, 1e-3), start_s, float(part.velocity_mps[0]))
    if fit is None or fit.velocity_mps <= 0.0:
        return None
    end_s = float(part.t_s[-1])
    h, v = (float(values[0]) for values in fit.at(np.array([end_s])))
    left_s, left_m = _to_top(h, v, fit.drag_per_m, pad_kelvin)
    at_start = _to_top(fit.altitude_m, fit.velocity_mps, fit.drag_per_m, pad_kelvin)[0]
    changes = [_to_top(c.altitude_m, c.velocity_mps, c.drag_per_m, pad_kelvin)[0] - at_start for c in _changed(fit)]
    fastest = fit.velocity_mps
    drag_model = hypot(DRAG_MODEL_SIGMA, DRAG_WIND_MPS / fastest)
    return Coasting(
        fit=fit,
        start_s=start_s,
        end_s=end_s,
        fastest_mps=fastest,
        drag_per_m=fit.drag_per_m,
        drag_sigma_per_m=hypot(float(fit.covariance[2, 2]) ** 0.5, drag_model * fit.drag_per_m),
        top_s=end_s + left_s,
        top_sigma_s=hypot(
            _sigma(fit, np.array(changes) / SMALL), TOP_MODEL_SIGMA_S, TOP_MODEL_SIGMA * max(0.0, left_s)
        ),
        top_m=h + left_m,
    )


def _to_top(altitude_m: float, velocity_mps: float, drag_per_m: float, pad_kelvin: float) -> tuple[float, float]:
    """(Seconds, metres) to the highest point; just past it, back to it, where drag is all but nothing."""
    if velocity_mps > 0.0:
        return way_to_top(altitude_m, velocity_mps, drag_per_m, pad_kelvin)
    return velocity_mps / G0_MPS2, 0.5 * velocity_mps**2 / G0_MPS2


def _changed(fit: CoastFit) -> tuple[CoastFit, CoastFit, CoastFit]:
    """The fit with each of its three numbers changed by `SMALL`."""
    return (
        replace(fit, altitude_m=fit.altitude_m + SMALL[0]),
        replace(fit, velocity_mps=fit.velocity_mps + SMALL[1]),
        replace(fit, drag_per_m=fit.drag_per_m + SMALL[2]),
    )


def _sigma(fit: CoastFit, slopes: Array) -> float:
    """Standard deviation of what changes so with the fit's three numbers, by its covariance (first order)."""
    return sqrt(max(0.0, float(slopes @ fit.covariance @ slopes)))
