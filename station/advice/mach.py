"""The highest Mach number, and when the pressure could not be trusted for it."""

from math import hypot

import numpy as np

from station.advice.advice import Advice, Topic
from station.advice.facts import FlightFacts
from station.advice.wording import with_bar
from station.flight_state import EventName
from station.rules import MACH
from station.vertical_motion import TRUST_AGAIN_MS, TRUSTED_MACH

# The air's temperature is known to some 10 K.
SOUND_SIGMA_SHARE = 0.015
# By pressure alone a speed near that of sound is hardly known.
SIGMA_TRANSONIC_BY_PRESSURE = 0.15
TOLD_FROM = 0.6


def mach_advice(facts: FlightFacts) -> Advice | None:
    """The highest Mach number of the climb; None if it was not observed."""
    curve, speed_mps, apogee_s = facts.curve, facts.max_speed_mps, facts.seconds(EventName.APOGEE)
    if curve is None or speed_mps is None or apogee_s is None:
        return None
    climb = curve.rows((curve.t_s > 0.0) & (curve.t_s < apogee_s) & (curve.velocity_mps > 0.0))
    if len(climb.t_s) < 4:
        return None
    fastest = int(np.argmax(climb.velocity_mps))
    mach = speed_mps / float(climb.sound_mps[fastest])
    share = hypot(facts.top_speed_sigma_share, SOUND_SIGMA_SHARE)
    if mach > TRUSTED_MACH and not facts.by_force:
        share = SIGMA_TRANSONIC_BY_PRESSURE
    sigma = share * mach
    fast = climb.t_s[climb.mach > TRUSTED_MACH]
    shown = with_bar(mach, sigma, "")
    if fast.size == 0:
        return Advice(
            topic=Topic.MACH,
            headline=f"Mach: at most {shown}, slow enough for the pressure to be trusted all the way.",
            change=False,
            value=mach,
            sigma=sigma,
        )
    rest = "on the accelerometer" if facts.by_force else "on little, and the top speed is a rough guide"
    start_s, end_s = float(fast[0]), float(fast[-1]) + TRUST_AGAIN_MS / 1000.0
    return Advice(
        topic=Topic.MACH,
        headline=f"Mach: at most {shown}; from {start_s:.1f} s to {end_s:.1f} s the pressure could not be trusted.",
        change=False,
        reasoning=(
            f"Above Mach {TRUSTED_MACH:g} the shock near the ports shows as height that is none. In that time the "
            f"heights rest {rest}.",
        ),
        value=mach,
        sigma=sigma,
        caution="Set the altimeter, by its maker's instructions, to ignore the pressure until well after that time.",
        source=f"{MACH.says} ({MACH.reference})",
    )
