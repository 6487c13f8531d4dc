"""The top of a coast that `CoastDrag` has fitted, and how sure it is."""

from math import exp, sqrt

from station.atmosphere import G0_MPS2
from station.coast_drag import DRAG_RISE_LN_SIGMA, RISE_FROM_MACH, CoastDrag, way_to_top


def top_of(coast: CoastDrag) -> tuple[float, float, float, float]:
    """(Seconds, metres) from the fit's last moment to the top, and their standard deviations, to first order.

    Over the top already, by a speed that is below zero, it lies back (seconds below zero) and still higher.
    """
    if coast.v <= 0.0:
        since_s = coast.v / G0_MPS2
        return since_s, 0.5 * coast.v * since_s, sqrt(coast.pvv) / G0_MPS2, sqrt(coast.phh)
    k, kelvin = coast.drag_per_m, coast.kelvin
    seconds, metres = way_to_top(coast.h, coast.v, k, kelvin)
    dv = 0.01 * coast.v
    t_v, m_v = way_to_top(coast.h, coast.v + dv, k, kelvin)
    t_k, m_k = way_to_top(coast.h, coast.v, k * exp(0.01), kelvin)
    t_by_v, m_by_v = (t_v - seconds) / dv, (m_v - metres) / dv
    t_by_k, m_by_k = (t_k - seconds) / 0.01, (m_k - metres) / 0.01
    ln_k_variance = coast.pkk + (DRAG_RISE_LN_SIGMA**2 if coast.mach > RISE_FROM_MACH else 0.0)
    t_variance = t_by_v**2 * coast.pvv + 2.0 * t_by_v * t_by_k * coast.pvk + t_by_k**2 * ln_k_variance
    m_variance = (
        coast.phh
        + m_by_v**2 * coast.pvv
        + m_by_k**2 * ln_k_variance
        + 2.0 * (m_by_v * coast.phv + m_by_k * coast.phk + m_by_v * m_by_k * coast.pvk)
    )
    return seconds, metres, sqrt(max(0.0, t_variance)), sqrt(max(0.0, m_variance))
