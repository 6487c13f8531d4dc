"""How sure the refined moments are: what the fits say of the noise, and what their models leave out.

A fit's own standard deviation knows the sensor's noise and no more. Thrust that comes up and tails off, a canopy that
takes time to fill, a rocket that bounces: each adds an error that the noise does not show. Their sizes below are
measured on virtual flights (no source), so that two standard deviations cover the truth 90 to 99 times in 100.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import hypot

from station.flight_state import Event, EventName
from station.stretch import Stretch

# s, with an accelerometer and by pressure alone
MODEL_SIGMA_S = {
    EventName.LIFTOFF: (0.01, 0.04),
    EventName.BURNOUT: (0.015, 0.07),
    EventName.APOGEE: (0.022, 0.022),
    EventName.TOUCHDOWN: (0.2, 0.2),
}
# By pressure alone, where the shock at the ports hides the end of the burn.
BURNOUT_NEAR_SOUND_S = 0.65
# Where force and pressure do not tell of the same climb: as late as ports that are much too small make it, and an
# opening that they smear.
AT_ODDS_S = 0.25
AT_ODDS_HOLD_S = 0.5
# Near apogee the air is too slow to show when a parachute begins to hold.
FIRST_HOLD_SIGMA_S = 0.35
LATER_HOLD_SIGMA_S = 0.08
# Out of a fall as fast as this it shows at once, the first one too.
FAST_FALL_MPS = 25.0


def widened_events(
    events: Sequence[Event], *, by_force: bool, near_sound: bool = False, at_odds: bool = False
) -> tuple[Event, ...]:
    """The events with what their models leave out added to their standard deviations.

    `near_sound`: on the way up it came near the speed of sound. `at_odds`: force and pressure disagree on the climb.
    """
    odd_s = AT_ODDS_S if at_odds else 0.0

    def model_s(name: EventName) -> float:
        if name is EventName.BURNOUT and near_sound and not by_force:
            return BURNOUT_NEAR_SOUND_S
        return MODEL_SIGMA_S[name][0 if by_force else 1]

    return tuple(replace(event, sigma_s=hypot(event.sigma_s, model_s(event.name), odd_s)) for event in events)


def widened_stretches(stretches: Sequence[Stretch], *, at_odds: bool = False) -> tuple[Stretch, ...]:
    """The stretches, each moment of opening with what a canopy's filling adds to its standard deviation."""
    odd_s = AT_ODDS_HOLD_S if at_odds else 0.0
    found = []
    held = False
    for stretch in stretches:
        if stretch.opened_ms is not None:
            slow = not held and stretch.speed_at_opening_mps < FAST_FALL_MPS
            model = FIRST_HOLD_SIGMA_S if slow else LATER_HOLD_SIGMA_S
            stretch = replace(stretch, opened_sigma_s=hypot(stretch.opened_sigma_s, model, odd_s))
            held = True
        found.append(stretch)
    return tuple(found)
