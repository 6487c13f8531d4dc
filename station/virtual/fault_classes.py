"""Classes of faults by name: each changes a setup into a flight on which that goes wrong, details by chance."""

from collections.abc import Callable
from dataclasses import replace

from station.records import Role
from station.virtual.dice import Dice
from station.virtual.flight_setup import (
    Faults,
    FlightSetup,
    Mischief,
    Moment,
    Outcome,
    Restart,
    Silence,
)
from station.virtual.rocket import Recovery
from station.virtual.still_air import Ascent


def _works(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    del dice, ascent
    return setup


Change = Callable[[Dice, Ascent, FlightSetup], FlightSetup]


def _faults(**values: Outcome | bool) -> Change:
    made = replace(Faults(), **values)  # type: ignore[arg-type]
    return lambda dice, ascent, setup: replace(setup, faults=made)


def _tangled(role: Role) -> Change:
    def change(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
        del ascent
        if role is Role.DROGUE:
            return replace(setup, faults=Faults(drogue=Outcome.TANGLED, tangled_share=dice.between(0.0, 0.08)))
        return replace(setup, faults=Faults(main=Outcome.TANGLED, tangled_share=dice.between(0.03, 0.18)))

    return change


def _drogue_early(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    most = min(4.0, 0.6 * ascent.coast_s)
    return replace(setup, faults=Faults(drogue_shift_s=-dice.between(min(1.5, 0.8 * most), most)))


def _drogue_late(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    del ascent
    return replace(setup, faults=Faults(drogue_shift_s=dice.between(1.0, 4.0)))


def _ballistic(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    del ascent
    outcome = dice.one_of(Outcome.SILENT, Outcome.STAYS_IN) if dice.happens(0.5) else Outcome.SILENT
    dead = (Silence(Moment.TOUCHDOWN, 0.0),) if dice.happens(0.7) else ()
    return replace(setup, faults=Faults(drogue=outcome, main=outcome, silences=dead))


def _restart(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    moment = dice.one_of(Moment.LIFTOFF, Moment.BURNOUT, Moment.APOGEE, Moment.DROGUE_FIRED, Moment.MAIN_FIRED)
    late = {Moment.LIFTOFF: 2.0, Moment.BURNOUT: ascent.coast_s}.get(moment, 10.0)
    restart = Restart(
        moment,
        dice.between(0.05, late),
        dice.between(0.3, 2.0),
        round(dice.between(40.0, 900.0)),
        resumes=dice.happens(0.65),
    )
    return replace(setup, faults=Faults(restart=restart))


def _link_lost(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    del ascent
    moment = dice.one_of(*(moment for moment in Moment if moment is not Moment.START))
    start = dice.between(-4.0, 12.0)
    end = start + dice.spread(1.0, 60.0) if dice.happens(0.5) else None
    outcomes = Outcome.WORKS if dice.happens(0.7) else dice.one_of(Outcome.SILENT, Outcome.STAYS_IN)
    if dice.happens(0.5):
        return replace(setup, faults=Faults(silences=(Silence(moment, start, end),), main=outcomes))
    return replace(setup, faults=Faults(silences=(Silence(moment, start, end),), drogue=outcomes))


def _channels_unknown(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    setup = replace(setup, altimeter=replace(setup.altimeter, sends_channels=False))
    if dice.happens(0.5):
        return setup
    name = dice.one_of("main-silent", "main-stays-in", "drogue-stays-in", "tangled-drogue", "ballistic")
    return FAULT_CLASSES[name](dice, ascent, setup)


def _motor_ejection(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """One parachute thrown out by the motor, early to late; the altimeter only tells."""
    assert setup.motor is not None
    assert setup.recovery.main is not None
    delay = max(0.5, ascent.coast_s + dice.between(-1.0, 4.0))
    return replace(
        without_charges(setup),
        motor=replace(setup.motor, ejection_delay_s=delay),
        recovery=Recovery(None, setup.recovery.main),
    )


def without_charges(setup: FlightSetup) -> FlightSetup:
    """The same flight with an altimeter that only tells."""
    unit = replace(setup.altimeter, channel_1_role=Role.NONE, channel_2_role=Role.NONE, main_altitude_m=None)
    return replace(setup, altimeter=unit)


def with_one_parachute(setup: FlightSetup) -> FlightSetup:
    """The same flight with the main as its only parachute, thrown out at apogee by channel 1."""
    unit = replace(setup.altimeter, channel_1_role=Role.MAIN, channel_2_role=Role.NONE, main_altitude_m=None)
    return replace(setup, altimeter=unit, recovery=Recovery(None, setup.recovery.main))


def _one_parachute(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """A flight with one planned deployment: channel 1 throws the only parachute out at apogee."""
    del ascent
    outcome = dice.one_of(Outcome.WORKS, Outcome.WORKS, Outcome.SILENT, Outcome.STAYS_IN)
    return replace(with_one_parachute(setup), faults=Faults(main=outcome))


def _unconnected(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
    """One igniter is not connected, and the altimeter says so from the start."""
    del ascent
    first = dice.happens(0.5)
    unit = replace(setup.altimeter, channel_1_continuity=not first, channel_2_continuity=first)
    return replace(setup, altimeter=unit)


def _waits(mischief: Mischief, shortest_s: float, longest_s: float) -> Change:
    def change(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
        del ascent
        return replace(setup, motor=None, mischief=mischief, pad_s=dice.between(shortest_s, longest_s))

    return change


def _slow(change: Change, period_ms: int) -> Change:
    def slower(dice: Dice, ascent: Ascent, setup: FlightSetup) -> FlightSetup:
        unit = replace(setup.altimeter, sample_period_ms=period_ms)
        return change(dice, ascent, replace(setup, altimeter=unit))

    return slower


def _waits_then_flies(mischief: Mischief, shortest_s: float, longest_s: float) -> Change:
    return lambda dice, ascent, setup: replace(setup, mischief=mischief, pad_s=dice.between(shortest_s, longest_s))


FAULT_CLASSES: dict[str, Change] = {
    "none": _works,
    "drogue-silent": _faults(drogue=Outcome.SILENT),
    "main-silent": _faults(main=Outcome.SILENT),
    "drogue-stays-in": _faults(drogue=Outcome.STAYS_IN),
    "main-stays-in": _faults(main=Outcome.STAYS_IN),
    "tangled-drogue": _tangled(Role.DROGUE),
    "tangled-main": _tangled(Role.MAIN),
    "main-at-apogee": _faults(main=Outcome.WITH_DROGUE),
    "drogue-early": _drogue_early,
    "drogue-late": _drogue_late,
    "both-at-once": _faults(both_at_once=True),
    "ballistic": _ballistic,
    "restart": _restart,
    "link-lost": _link_lost,
    "channels-unknown": _channels_unknown,
    "motor-ejection": _motor_ejection,
    "no-continuity": _unconnected,
    "one-parachute": _one_parachute,
    "lifted-then-flown": _waits_then_flies(Mischief.LIFTED, 30.0, 120.0),
    "sun-then-flown": _waits_then_flies(Mischief.SUN, 120.0, 400.0),
    "front-then-flown": _slow(_waits_then_flies(Mischief.FRONT, 1800.0, 3600.0), 100),
    "pad-gusts": _waits(Mischief.GUSTS, 40.0, 200.0),
    "pad-lifted": _waits(Mischief.LIFTED, 40.0, 200.0),
    "pad-car-door": _waits(Mischief.CAR_DOOR, 40.0, 120.0),
    "pad-front": _slow(_waits(Mischief.FRONT, 8 * 3600.0, 8 * 3600.0), 200),
    "pad-sun": _slow(_waits(Mischief.SUN, 900.0, 3600.0), 100),
}
