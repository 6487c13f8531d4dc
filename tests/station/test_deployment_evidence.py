"""Every verdict from made-up flights whose story is known; and none `confirmed` that the descent does not show."""

import random
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf

import pytest

from station.channels import ChannelReport
from station.deployment_evidence import judge_deployments, opening_events
from station.deployment_facts import Facts, planned_roles
from station.flight_state import Basis, Deployment, Estimate, Event, EventName, Unit, Verdict
from station.plan import FlightPlan, Recovery
from station.records import ChannelState, Role
from station.stretch import Stretch

LIFTOFF_MS = 40_000.0
APOGEE_S = 10.0
APOGEE_M = 490.0
MAIN_M = 150.0
BARE_MPS = 60.0


@dataclass(frozen=True)
class Part:
    """A part of the descent: from when (s since liftoff), how fast, and whether a parachute holds it."""

    start_s: float
    rate_mps: float
    held: bool = True


FREE = Part(APOGEE_S, 12.0, held=False)
DROGUE = Part(11.5, 18.0)
# 1.5 s of free fall at 12 m/s, then 18 m/s: the main's height is reached after 29.4 s.
MAIN_AT_S = 29.5
MAIN = Part(MAIN_AT_S + 0.5, 5.5)


def ms(t_s: float) -> float:
    return LIFTOFF_MS + 1000.0 * t_s


def track_of(parts: Sequence[Part], end_s: float, silences: Sequence[tuple[float, float]]) -> tuple[Estimate, ...]:
    found = []
    h = APOGEE_M
    for k in range(round(end_s / 0.05)):
        t = 0.05 * k
        if t < APOGEE_S:
            v, height = 9.8 * (APOGEE_S - t), APOGEE_M - 4.9 * (APOGEE_S - t) ** 2
        else:
            v = -next(p.rate_mps for p in reversed(parts) if p.start_s <= t + 1e-9)
            h = max(0.0, h + 0.05 * v)
            v, height = (v, h) if h > 0.0 else (0.0, 0.0)
        if not any(a < t < b for a, b in silences):
            found.append(Estimate(ms(t), height, v, 0.0, 0.3, 0.3, 0.5))
    return tuple(found)


def stretches_of(parts: Sequence[Part], track: Sequence[Estimate], landed_s: float) -> tuple[Stretch, ...]:
    found = []
    for part, end_s in zip(parts, [*(p.start_s for p in parts[1:]), landed_s], strict=True):
        inside = [e for e in track if ms(part.start_s) <= e.t_ms <= ms(end_s)]
        if not inside:
            continue
        steady = sum(b.t_ms - a.t_ms for a, b in pairwise(inside) if b.t_ms - a.t_ms < 1500.0)
        steady_s = max(0.0, steady / 1000.0 - 1.2) if part.held else 0.0
        rate = part.rate_mps if steady_s >= 0.5 else None
        before = [e for e in track if e.t_ms < ms(part.start_s)]
        hidden = inside[0].t_ms - before[-1].t_ms > 1500.0
        opened = 0.5 * (inside[0].t_ms + before[-1].t_ms) if hidden else ms(part.start_s)
        found.append(
            Stretch(
                start_ms=inside[0].t_ms,
                end_ms=inside[-1].t_ms,
                opened_ms=opened if part.held else None,
                opened_sigma_s=(inside[0].t_ms - before[-1].t_ms) / 3464.0 if hidden else 0.1,
                opened_altitude_m=inside[0].altitude_m,
                speed_at_opening_mps=-before[-1].velocity_mps,
                rate_mps=rate if part.held else None,
                rate_sigma_mps=0.1,
                steady_s=steady_s,
                called_ms=inside[0].t_ms + 300.0,
                mean_rate_mps=rate if part.held else None,
                surely_under_mps=part.rate_mps + 0.2 if steady_s >= 1.5 else inf,
            )
        )
    return tuple(found)


def unit(role_1: Role = Role.DROGUE, role_2: Role = Role.MAIN, main_m: float | None = MAIN_M) -> Unit:
    return Unit("WREN-11", 1, 20, role_1, role_2, main_m)


def channel(
    number: int, role: Role, fired_s: float | None, heard_s: float, state: ChannelState | None = None
) -> ChannelReport:
    """As last heard of at `heard_s`; if it had not fired by then it was ready."""
    fired = fired_s is not None and fired_s <= heard_s
    return ChannelReport(
        number=number,
        role=role,
        state=state or (ChannelState.FIRED if fired else ChannelState.READY),
        heard_ms=ms(heard_s),
        fired_ms=ms(fired_s) if fired and fired_s is not None else None,
        ready_heard_ms=ms(min(heard_s, fired_s - 0.5) if fired and fired_s is not None else heard_s),
    )


def flown(
    parts: Sequence[Part],
    *,
    drogue_fired_s: float | None = 10.3,
    main_fired_s: float | None = MAIN_AT_S,
    channels_heard_to_s: float | None = 100.0,
    end_s: float = 80.0,
    silences: Sequence[tuple[float, float]] = (),
    plan: FlightPlan | None = None,
    over: bool = True,
) -> Facts:
    track = track_of(parts, end_s, silences)
    last_ms = track[-1].t_ms
    down = next((e for e in track if e.t_ms > ms(APOGEE_S) and e.altitude_m == 0.0), None)
    landed_s = (down.t_ms - LIFTOFF_MS) / 1000.0 if down else (last_ms - LIFTOFF_MS) / 1000.0
    heard_s = channels_heard_to_s
    seen_apogee = any(abs(e.t_ms - ms(APOGEE_S)) < 500.0 for e in track) and last_ms > ms(APOGEE_S + 0.3)

    def event(name: EventName, t_s: float, height: float) -> Event:
        return Event(name, ms(t_s), height, 0.0, 0.05, Basis.ESTIMATED, ms(t_s + 0.2))

    return Facts(
        plan=plan,
        unit=unit(),
        channels=(
            channel(1, Role.DROGUE, drogue_fired_s, min(heard_s, end_s)),
            channel(2, Role.MAIN, main_fired_s, min(heard_s, end_s)),
        )
        if heard_s is not None
        else (),
        channels_heard=heard_s is not None,
        liftoff=event(EventName.LIFTOFF, 0.0, 0.0),
        apogee=event(EventName.APOGEE, APOGEE_S, APOGEE_M) if seen_apogee else None,
        touchdown=event(EventName.TOUCHDOWN, landed_s, 0.0) if down else None,
        stretches=stretches_of(parts, track, landed_s) if seen_apogee else (),
        track=track,
        last_sample_ms=last_ms,
        isa_to_true=1.0,
        restarts_ms=(),
        over=over,
    )


def channels_unknown(facts: Facts) -> Facts:
    """No `CHN` line was ever heard: roles are known from `ID`, nothing else."""
    silent = tuple(
        ChannelReport(number, role, None, None, None, None) for number, role in ((1, Role.DROGUE), (2, Role.MAIN))
    )
    return replace(facts, channels=silent, channels_heard=False)


def unheard(facts: Facts) -> Facts:
    """Neither an `ID` nor a `CHN` line was ever heard."""
    return replace(facts, unit=None, channels=(), channels_heard=False)


def judged(facts: Facts) -> tuple[Deployment, Deployment]:
    drogue, main = judge_deployments(facts)
    assert (drogue.role, main.role) == (Role.DROGUE, Role.MAIN)
    return drogue, main


def verdicts(facts: Facts) -> tuple[Verdict | None, Verdict | None]:
    drogue, main = judged(facts)
    return drogue.verdict, main.verdict


GOOD = (FREE, DROGUE, MAIN)


def test_a_good_flight_is_confirmed_with_its_places_rates_and_reasons() -> None:
    drogue, main = judged(flown(GOOD))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.CONFIRMED)
    assert (drogue.channel, main.channel) == (1, 2)
    assert (drogue.charge, main.charge) == (ChannelState.FIRED, ChannelState.FIRED)
    assert (drogue.fired_t_ms, main.fired_t_ms) == (ms(10.3), ms(MAIN_AT_S))
    assert (drogue.opened_t_ms, main.opened_t_ms) == (ms(11.5), pytest.approx(ms(MAIN_AT_S + 0.5)))
    assert (drogue.rate_after_mps, main.rate_after_mps) == (18.0, 5.5)
    assert main.rate_before_mps == 18.0
    assert main.opened_altitude_m == pytest.approx(140.0, abs=10.0)
    assert all("held at" in d.reasons[0] for d in (drogue, main))
    assert all("reported firing" in d.reasons[-1] for d in (drogue, main))


def test_a_drogue_that_never_fired_and_was_known_to_be_ready() -> None:
    parts = (FREE, Part(11.0, BARE_MPS, held=False), Part(16.5, 5.5))
    drogue, main = judged(flown(parts, drogue_fired_s=None, main_fired_s=16.0))
    assert drogue.verdict is Verdict.NOT_FIRED
    assert drogue.charge is ChannelState.READY
    assert drogue.opened_t_ms is None
    assert any("not fired" in reason for reason in drogue.reasons)
    assert main.verdict is Verdict.CONFIRMED


def test_a_drogue_that_fired_and_stayed_in() -> None:
    parts = (FREE, Part(11.0, BARE_MPS, held=False), Part(16.5, 5.5))
    assert verdicts(flown(parts, main_fired_s=16.0)) == (Verdict.NO_EFFECT, Verdict.CONFIRMED)


@pytest.mark.parametrize("rate_mps", [34.0, 40.0, 46.0])
def test_a_tangled_drogue_is_too_fast(rate_mps: float) -> None:
    parts = (FREE, Part(11.5, rate_mps), Part(20.0, 5.5))
    drogue, _ = judged(flown(parts, main_fired_s=19.5))
    assert drogue.verdict is Verdict.TOO_FAST
    assert any(f"{rate_mps:.0f} m/s" in reason for reason in drogue.reasons)


def test_a_hold_that_did_not_slow_the_fall_is_none() -> None:
    """The descent has it as held at 28 m/s, but a quarter of that time the rocket fell at 55 m/s and more."""
    facts = flown((FREE, Part(11.5, 24.0), Part(14.0, 55.0, held=False), Part(19.0, 5.5)), main_fired_s=18.5)
    free, first, fast, main = facts.stretches
    false_hold = replace(first, end_ms=fast.end_ms, rate_mps=28.0, mean_rate_mps=28.0, steady_s=6.0)
    assert verdicts(replace(facts, stretches=(free, false_hold, main))) == (Verdict.NO_EFFECT, Verdict.CONFIRMED)


@pytest.mark.parametrize(
    ("rate_mps", "verdict"), [(22.0, Verdict.NOT_OBSERVED), (35.0, Verdict.NO_EFFECT), (48.0, Verdict.NO_EFFECT)]
)
def test_a_late_drogue_that_the_main_soon_takes_over_is_not_said_to_have_done_nothing(rate_mps, verdict) -> None:
    """It came to 52 m/s before; the moments until the main show that it is slower, and not at what rate."""
    parts = FREE, Part(11.5, 52.0, held=False), Part(17.0, rate_mps), Part(18.6, 5.5)
    facts = flown(parts, drogue_fired_s=15.6, main_fired_s=18.4)
    assert facts.stretches[2].rate_mps is None
    assert verdicts(facts) == (verdict, Verdict.CONFIRMED)


def test_neither_the_ground_nor_the_main_is_a_drogue_that_came_late() -> None:
    bare = Part(11.5, 52.0, held=False)
    # Lying on the ground, taken for a hold.
    down_s = 20.6
    alone = flown((FREE, bare, Part(down_s, 0.1)), drogue_fired_s=18.0, end_s=down_s + 1.5)
    alone = replace(alone, unit=unit(Role.DROGUE, Role.NONE, None), channels=alone.channels[:1])
    assert judge_deployments(alone)[0].verdict is Verdict.NO_EFFECT
    # Both charges near each other, and what opens just above the ground is the main.
    low = flown((FREE, bare, Part(20.45, 6.0)), drogue_fired_s=17.0, main_fired_s=18.4)
    assert judged(low)[0].verdict is Verdict.NO_EFFECT


def test_a_main_that_slows_a_bare_fall_does_not_give_the_drogue_its_hold_back() -> None:
    """Live, and the main has only just begun to slow it: 55 m/s for five seconds were no drogue's."""
    parts = (FREE, Part(11.5, 24.0), Part(14.0, 55.0, held=False), Part(19.0, 5.5))
    facts = flown(parts, main_fired_s=18.5, end_s=19.4, over=False)
    free, first, fast, main = facts.stretches
    false_hold = replace(first, end_ms=fast.end_ms, rate_mps=28.0, mean_rate_mps=28.0, steady_s=6.0)
    drogue, _ = judged(replace(facts, stretches=(free, false_hold, main)))
    assert drogue.opened_t_ms is None


def test_a_fall_that_ends_on_the_ground_is_not_slowed_by_lying_there() -> None:
    """No main came out and touchdown was not called: the seconds on the ground do not make it a slower fall."""
    facts = flown((FREE, DROGUE))
    assert verdicts(replace(facts, touchdown=None))[1] is Verdict.NO_EFFECT


def test_a_tangled_drogue_that_hardly_holds_is_too_fast_by_its_steady_fall() -> None:
    """No hold was seen, but the fall stopped speeding up at 40 m/s: a bare airframe would not."""
    drogue, _ = judged(flown((FREE, Part(11.0, 40.0, held=False), Part(20.5, 5.5)), main_fired_s=20.0))
    assert drogue.verdict is Verdict.TOO_FAST
    assert drogue.opened_t_ms is None
    assert drogue.rate_after_mps == pytest.approx(40.0, rel=0.05)


def test_a_main_that_slows_the_fall_a_little_is_too_fast_though_no_step_was_found() -> None:
    merged = flown((FREE, DROGUE, Part(30.0, 12.5)))
    drogue_stretch = replace(merged.stretches[1], end_ms=merged.stretches[2].end_ms, rate_mps=16.0, mean_rate_mps=16.0)
    drogue, main = judged(replace(merged, stretches=(merged.stretches[0], drogue_stretch)))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.TOO_FAST)
    assert main.opened_t_ms is None
    assert main.rate_before_mps == pytest.approx(18.0, rel=0.05)
    assert main.rate_after_mps == pytest.approx(12.5, rel=0.05)


def test_a_drogue_fired_while_still_climbing_is_early() -> None:
    drogue, main = judged(flown(GOOD, drogue_fired_s=7.0))
    assert (drogue.verdict, main.verdict) == (Verdict.EARLY, Verdict.CONFIRMED)
    assert "3.0 s before apogee" in drogue.reasons[0]
    assert drogue.fired_velocity_mps == pytest.approx(29.4, abs=0.6)


def test_a_drogue_fired_just_before_apogee_is_in_its_place() -> None:
    assert verdicts(flown(GOOD, drogue_fired_s=9.7)) == (Verdict.CONFIRMED, Verdict.CONFIRMED)


def test_a_drogue_a_few_seconds_late_is_confirmed_all_the_same() -> None:
    parts = (FREE, Part(11.0, 35.0, held=False), Part(14.0, 18.0), Part(29.0, 5.5))
    assert verdicts(flown(parts, drogue_fired_s=13.5, main_fired_s=28.5))[0] is Verdict.CONFIRMED


def test_a_drogue_out_though_its_channel_says_ready_is_early() -> None:
    assert verdicts(flown(GOOD, drogue_fired_s=None))[0] is Verdict.EARLY


def test_a_main_that_never_fired() -> None:
    drogue, main = judged(flown((FREE, DROGUE), main_fired_s=None))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.NOT_FIRED)
    assert main.opened_t_ms is None
    assert any("below the main's height" in reason for reason in main.reasons)


def test_a_main_that_fired_and_stayed_in() -> None:
    drogue, main = judged(flown((FREE, DROGUE)))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.NO_EFFECT)
    assert main.fired_t_ms == ms(MAIN_AT_S)
    assert main.opened_t_ms is None


def test_a_main_whose_link_was_lost_until_it_lay_on_the_ground_is_not_observed() -> None:
    lost = flown((FREE, DROGUE, MAIN), end_s=120.0, silences=((MAIN_AT_S - 0.3, 80.0),))
    drogue, main = judged(lost)
    assert lost.track[-1].altitude_m == 0.0
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.NOT_OBSERVED)
    # The same flight without a main: of that, too, nothing was seen.
    assert judged(flown((FREE, DROGUE), end_s=120.0, silences=((MAIN_AT_S - 0.3, 80.0),)))[1].verdict is (
        Verdict.NOT_OBSERVED
    )


def test_a_single_main_that_stays_in_is_no_effect_though_no_rate_ever_settles() -> None:
    facts = flown((FREE, Part(11.5, 61.0, held=False)), main_fired_s=12.0)
    _drogue, main = judged(facts)
    assert main.verdict is Verdict.NO_EFFECT
    assert "61 m/s near the ground" in main.reasons[-1]
    # The last of the fall was not seen: the link went just after the firing.
    lost = flown((FREE, Part(11.5, 61.0, held=False)), main_fired_s=12.0, silences=((12.2, 100.0),))
    assert judged(lost)[1].verdict is Verdict.NOT_OBSERVED


def test_a_main_that_tore_away_is_not_confirmed_by_what_it_held_before() -> None:
    facts = flown((FREE, DROGUE, MAIN, Part(MAIN_AT_S + 8.0, 24.0)))
    # As the descent's tracker may leave it: the fall after it was too short for a stretch of its own.
    held = replace(facts.stretches[2], end_ms=facts.stretches[3].end_ms)
    _, main = judged(replace(facts, stretches=(*facts.stretches[:2], held)))
    assert main.verdict is Verdict.TOO_FAST
    assert "did not hold to the end" in main.reasons[-1]
    assert "24 m/s" in main.reasons[-1]


def test_a_drogue_that_tore_away_is_not_confirmed_by_what_it_held_before() -> None:
    facts = flown((FREE, DROGUE, Part(MAIN_AT_S - 3.0, 45.0, held=False), MAIN))
    drogue, main = judged(facts)
    assert (drogue.verdict, main.verdict) == (Verdict.TOO_FAST, Verdict.CONFIRMED)
    assert "did not hold to the end" in drogue.reasons[-1]


def test_a_silence_before_the_main_does_not_hide_that_the_drogue_had_let_go() -> None:
    parts = FREE, DROGUE, Part(20.0, 40.0, held=False), Part(23.5, 5.5)
    facts = flown(parts, main_fired_s=23.0, silences=((21.8, 22.9),))
    drogue = judged(facts)[0]
    assert drogue.verdict is Verdict.TOO_FAST
    assert "did not hold to the end" in drogue.reasons[-1]


def test_a_drogue_that_let_go_and_a_bare_airframe_that_settled_are_no_drogue_without_effect() -> None:
    """The fall that settles after it may look like another hold, at a bare airframe's speed."""
    parts = FREE, DROGUE, Part(17.0, 45.0, held=False), Part(19.0, 48.0), Part(21.5, 5.5)
    facts = flown(parts, main_fired_s=21.0)
    drogue = judged(facts)[0]
    assert drogue.verdict is Verdict.TOO_FAST
    assert "did not hold to the end" in drogue.reasons[-1]


def test_a_rate_of_after_the_firing_makes_no_opening_before_it_early() -> None:
    """Two seconds under the drogue and then the main, taken for one hold: its rate is the main's."""
    facts = flown(GOOD)
    joined = replace(facts.stretches[2], opened_ms=facts.stretches[1].opened_ms, start_ms=facts.stretches[1].start_ms)
    _, main = judged(replace(facts, stretches=(facts.stretches[0], joined)))
    assert main.verdict is Verdict.NOT_OBSERVED


def test_a_parachute_that_began_to_hold_just_above_the_ground_is_not_said_to_have_done_nothing() -> None:
    fall = Part(APOGEE_S + 1.0, 45.0, held=False)
    # 478 m at 45 m/s: 28 m up after 10 s.
    main = by_motor((FREE, fall, Part(21.0, 9.0, held=False)), end_s=40.0)
    assert main.verdict is Verdict.NOT_OBSERVED
    assert "only just begun" in main.reasons[-1]
    assert by_motor((FREE, fall), end_s=40.0).verdict is Verdict.NO_EFFECT


@pytest.mark.parametrize("from_s", [21.4, 21.45, 21.5])
def test_a_parachute_that_opened_lower_than_heights_are_sure_of_is_not_said_to_have_done_nothing(from_s) -> None:
    """10, 8 and 6 m up."""
    fall = Part(APOGEE_S + 1.0, 45.0, held=False)
    main = by_motor((FREE, fall, Part(from_s, 5.0, held=False)), end_s=40.0)
    assert main.verdict is Verdict.NOT_OBSERVED
    assert "only just begun" in main.reasons[-1]


def test_what_lies_on_a_hillside_was_not_slowed_by_a_parachute() -> None:
    fall = Part(APOGEE_S + 1.0, 45.0, held=False)
    facts = flown((FREE, fall), end_s=60.0, channels_heard_to_s=None)
    falls = [e.t_ms > ms(APOGEE_S) and e.altitude_m < 40.0 for e in facts.track]
    hill = tuple(
        e._replace(altitude_m=40.0, velocity_mps=0.0) if down else e for e, down in zip(facts.track, falls, strict=True)
    )
    landed = next(e for e in hill if e.t_ms > ms(APOGEE_S) and e.altitude_m == 40.0)
    touchdown = Event(EventName.TOUCHDOWN, landed.t_ms, 40.0, 0.0, 0.1, Basis.ESTIMATED, landed.t_ms)
    facts = replace(facts, track=hill, touchdown=touchdown, unit=unit(Role.NONE, Role.NONE, None), channels=())
    assert judge_deployments(facts)[0].verdict is Verdict.NO_EFFECT


def test_what_rises_is_not_held() -> None:
    facts = flown(GOOD)
    rising = replace(facts.stretches[1], rate_mps=-11.8, mean_rate_mps=-11.8, surely_under_mps=-11.0)
    drogue, _ = judged(replace(facts, stretches=(facts.stretches[0], rising, facts.stretches[2])))
    assert drogue.verdict is not Verdict.CONFIRMED
    assert not any("-11" in reason for reason in drogue.reasons)


def test_a_tangled_main_is_too_fast() -> None:
    drogue, main = judged(flown((FREE, DROGUE, Part(30.0, 12.0))))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.TOO_FAST)
    assert "18.0 only to 12.0 m/s" in main.reasons[-1]


def test_a_main_out_at_apogee_is_early() -> None:
    """Thrown out by the drogue's charge: long before its own channel fired, far above its height."""
    parts = (FREE, Part(11.0, 5.5))
    drogue, main = judged(flown(parts, main_fired_s=73.0, end_s=110.0))
    assert main.verdict is Verdict.EARLY
    assert drogue.verdict is Verdict.NOT_OBSERVED
    assert drogue.opened_t_ms is None
    assert "the main is out too" in drogue.reasons[0]


def test_a_main_out_under_its_drogue_far_too_high_is_early() -> None:
    parts = (FREE, DROGUE, Part(15.0, 5.5))
    assert verdicts(flown(parts, main_fired_s=70.0, end_s=110.0)) == (Verdict.CONFIRMED, Verdict.EARLY)


def test_both_charges_at_the_top() -> None:
    parts = (FREE, Part(11.0, 5.5))
    drogue, main = verdicts(flown(parts, main_fired_s=10.3, end_s=110.0))
    assert main is Verdict.EARLY
    assert drogue is Verdict.NOT_OBSERVED


@pytest.mark.parametrize(
    ("rate_mps", "verdict"), [(29.5, Verdict.CONFIRMED), (31.0, Verdict.NOT_OBSERVED), (33.0, Verdict.TOO_FAST)]
)
def test_a_drogue_faster_than_drogues_are_made_for_may_be_a_larger_one_tangled(
    rate_mps: float, verdict: Verdict
) -> None:
    """15 to 30 m/s under a drogue: common practice, no source."""
    facts = flown((FREE, Part(11.0, rate_mps), Part(MAIN_AT_S, 5.5)))
    assert verdicts(facts)[0] is verdict
    # The plan says what rate was meant.
    planned = replace(facts, plan=FlightPlan(drogue_rate_mps=25.0))
    assert verdicts(planned)[0] is Verdict.CONFIRMED


def test_a_rate_too_near_a_planned_limit_is_not_confirmed() -> None:
    plan = FlightPlan(drogue_rate_mps=20.0)

    def held_at(rate_mps: float) -> Verdict | None:
        return verdicts(replace(flown((FREE, Part(11.0, rate_mps), Part(MAIN_AT_S, 5.5))), plan=plan))[0]

    assert held_at(29.0) is Verdict.CONFIRMED
    assert held_at(29.9) is Verdict.NOT_OBSERVED
    assert held_at(31.0) is Verdict.TOO_FAST


@pytest.mark.parametrize(
    ("rate_mps", "density_kgpm3", "verdict", "without_drogue"),
    [
        (7.7, 1.225, Verdict.CONFIRMED, Verdict.CONFIRMED),
        (8.6, 1.225, Verdict.NOT_OBSERVED, Verdict.CONFIRMED),
        (8.6, 0.94, Verdict.CONFIRMED, Verdict.CONFIRMED),
        (9.2, 0.94, Verdict.NOT_OBSERVED, Verdict.CONFIRMED),
        (10.0, 0.94, Verdict.TOO_FAST, Verdict.TOO_FAST),
    ],
)
def test_a_main_faster_than_mains_are_made_for_may_be_a_larger_one_tangled(
    rate_mps: float, density_kgpm3: float, verdict: Verdict, without_drogue: Verdict
) -> None:
    """7.5 m/s (25 ft/s) at sea level (common practice, no source) is 8.6 m/s in air of 0.94 kg/m^3."""
    facts = replace(flown((FREE, DROGUE, Part(30.0, rate_mps))), pad_density_kgpm3=density_kgpm3)
    assert verdicts(facts)[1] is verdict
    # Where the drogue stayed in, a whole main of the same size falls so fast.
    alone = flown((FREE, Part(11.5, 55.0, held=False), Part(19.0, rate_mps)), main_fired_s=18.5)
    alone = replace(alone, pad_density_kgpm3=density_kgpm3)
    assert verdicts(alone)[1] is without_drogue
    # The plan says what rate was meant.
    planned = replace(facts, plan=FlightPlan(main_rate_mps=7.0))
    assert verdicts(planned)[1] is Verdict.CONFIRMED


def test_of_two_channels_for_one_parachute_the_one_that_fired_counts() -> None:
    facts = flown((FREE, Part(11.0, 18.0), Part(MAIN_AT_S, 5.5)))
    spare = channel(1, Role.DROGUE, None, 100.0, ChannelState.OPEN)
    fired = channel(2, Role.DROGUE, 10.3, 100.0)
    both = replace(facts, unit=unit(Role.DROGUE, Role.DROGUE, None), channels=(spare, fired))
    (drogue,) = judge_deployments(both)
    assert (drogue.verdict, drogue.channel) == (Verdict.CONFIRMED, 2)


def test_after_a_restart_in_flight_ready_is_no_proof_that_it_had_not_fired() -> None:
    facts = flown((FREE, Part(11.0, 18.0), Part(MAIN_AT_S, 5.5)), drogue_fired_s=None)
    assert verdicts(facts)[0] is Verdict.EARLY
    assert verdicts(replace(facts, restarts_ms=(ms(20.0),)))[0] is Verdict.CONFIRMED


def test_a_charge_of_unknown_role_that_fired_in_the_climb_keeps_the_drogue_open() -> None:
    facts = replace(flown((FREE, Part(11.0, 18.0), Part(MAIN_AT_S, 5.5))), unit=None, channels=())
    assert verdicts(facts)[0] is Verdict.CONFIRMED
    assert verdicts(replace(facts, fired_without_role_ms=(ms(6.0),)))[0] is Verdict.NOT_OBSERVED


def test_without_height_and_report_a_main_straight_after_apogee_is_early() -> None:
    facts = flown((FREE, Part(11.0, 5.5)), end_s=110.0)
    both = channels_unknown(replace(facts, unit=unit(main_m=None)))
    assert verdicts(both) == (Verdict.NOT_OBSERVED, Verdict.EARLY)


def test_where_nobody_heard_whether_there_is_a_drogue_no_main_is_early_for_taking_its_place() -> None:
    """The only parachute of a flight comes down so as well."""
    facts = replace(flown((FREE, Part(11.0, 5.5)), end_s=110.0), unit=None, channels=())
    _, main = judged(facts)
    assert main.verdict is Verdict.NOT_OBSERVED
    assert "whether a drogue should come first was not heard" in main.reasons[-1]
    planned = replace(facts, plan=FlightPlan(recovery=Recovery.DUAL))
    assert judged(planned)[1].verdict is Verdict.EARLY


def test_two_charges_that_were_heard_of_are_two_parachutes_without_the_id_line_too() -> None:
    facts = replace(flown((FREE, Part(11.0, 5.5)), end_s=110.0), unit=None, channels=(), charges=2)
    assert judged(facts)[1].verdict is Verdict.EARLY


def test_a_main_that_came_out_high_up_in_a_silence_is_early_by_where_it_was_seen_after_it() -> None:
    facts = flown((FREE, Part(11.0, 5.5)), silences=((10.5, 15.9),), end_s=110.0)
    assert facts.stretches[-1].opened_sigma_s > 1.0
    assert judged(channels_unknown(facts))[1].verdict is Verdict.EARLY
    # Seen no higher than about its place, it may have come out there.
    low = flown((FREE, Part(11.5, 55.0, held=False), Part(17.0, 5.5)), silences=((12.5, 18.0),), end_s=110.0)
    halfway = replace(low.stretches[-1], opened_altitude_m=0.5 * (MAIN_M + APOGEE_M))
    assert (
        judged(channels_unknown(replace(low, stretches=(*low.stretches[:-1], halfway))))[1].verdict is not Verdict.EARLY
    )


def test_a_link_lost_before_the_mains_height_leaves_the_main_open() -> None:
    drogue, main = judged(flown(GOOD, end_s=27.0))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.NOT_OBSERVED)
    assert main.opened_t_ms is None
    assert main.reasons


def test_a_link_lost_at_the_very_firing_leaves_the_main_open() -> None:
    assert verdicts(flown(GOOD, end_s=30.4))[1] is Verdict.NOT_OBSERVED


def test_a_link_lost_from_before_apogee_leaves_both_open() -> None:
    assert verdicts(flown(GOOD, end_s=9.0)) == (Verdict.NOT_OBSERVED, Verdict.NOT_OBSERVED)


def test_a_silence_over_the_drogues_part_leaves_the_drogue_open_and_the_main_decided() -> None:
    assert verdicts(flown(GOOD, silences=[(10.6, 29.0)]))[1] is Verdict.CONFIRMED
    drogue = verdicts(flown((FREE, Part(11.0, 30.0, held=False), MAIN), silences=[(10.6, 29.6)]))[0]
    assert drogue is Verdict.NOT_OBSERVED


def test_a_main_that_opened_inside_a_silence_is_seen_afterwards() -> None:
    drogue, main = judged(flown(GOOD, silences=[(28.0, 34.0)]))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.CONFIRMED)
    assert main.opened_sigma_s is not None
    assert main.opened_sigma_s > 1.0


def test_with_the_channels_unknown_the_descent_alone_decides() -> None:
    drogue, main = judged(channels_unknown(flown(GOOD)))
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, Verdict.CONFIRMED)
    assert (drogue.fired_t_ms, main.fired_t_ms) == (None, None)
    bare = (FREE, Part(11.0, BARE_MPS, held=False))
    assert Verdict.NOT_FIRED not in verdicts(channels_unknown(flown(bare)))
    assert Verdict.CONFIRMED not in verdicts(channels_unknown(flown(bare)))
    assert verdicts(channels_unknown(flown((FREE, DROGUE)))) == (Verdict.CONFIRMED, Verdict.NO_EFFECT)


def test_without_any_id_line_both_parachutes_are_looked_for() -> None:
    facts = replace(channels_unknown(flown(GOOD)), unit=None, channels=())
    assert verdicts(facts) == (Verdict.CONFIRMED, Verdict.CONFIRMED)


def test_not_fired_is_said_only_when_it_was_heard_afterwards() -> None:
    """The last word of the channels came before apogee."""
    bare = (FREE, Part(11.0, BARE_MPS, held=False))
    drogue, main = verdicts(flown(bare, drogue_fired_s=None, main_fired_s=None, channels_heard_to_s=9.0))
    assert Verdict.NOT_FIRED not in (drogue, main)
    assert Verdict.CONFIRMED not in (drogue, main)


def test_without_a_liftoff_nothing_is_observed() -> None:
    facts = replace(flown(GOOD), liftoff=None, apogee=None, touchdown=None, stretches=(), track=())
    drogue, main = judged(facts)
    assert (drogue.verdict, main.verdict) == (Verdict.NOT_OBSERVED, Verdict.NOT_OBSERVED)
    assert drogue.reasons == ("No liftoff was observed.",)


@pytest.mark.parametrize("end_s", [0.5, 5.0, 9.9, 10.5, 11.0])
def test_while_it_flies_nothing_is_said_before_there_is_evidence(end_s: float) -> None:
    assert verdicts(flown(GOOD, end_s=end_s, over=False)) == (None, None)


def test_while_it_flies_each_verdict_comes_with_its_evidence() -> None:
    assert verdicts(flown(GOOD, end_s=20.0, over=False)) == (Verdict.CONFIRMED, None)
    assert verdicts(flown(GOOD, end_s=28.0, over=False)) == (Verdict.CONFIRMED, None)
    assert verdicts(flown(GOOD, end_s=34.0, over=False)) == (Verdict.CONFIRMED, Verdict.CONFIRMED)


@pytest.mark.parametrize(
    ("rate_mps", "verdict"), [(30.2, Verdict.CONFIRMED), (31.9, Verdict.CONFIRMED), (34.0, Verdict.TOO_FAST)]
)
def test_while_it_flies_what_was_surely_in_its_band_stays_so_until_it_plainly_is_not(
    rate_mps: float, verdict: Verdict | None
) -> None:
    """A drogue at 29 m/s in the next gust: the limit is 30 m/s, a tenth of it is forgiven what was under it before."""
    facts = flown((FREE, Part(11.5, 29.0)), end_s=16.0, over=False)
    free, held = facts.stretches
    assert held.surely_under_mps < 30.0
    gust = replace(held, rate_mps=rate_mps, mean_rate_mps=rate_mps)
    assert verdicts(replace(facts, stretches=(free, gust)))[0] is verdict
    never = replace(gust, surely_under_mps=31.0)
    assert verdicts(replace(facts, stretches=(free, never)))[0] is not Verdict.CONFIRMED


def test_while_it_flies_a_rate_that_the_speed_never_agreed_with_is_no_hold() -> None:
    """A charge's gas made the first moments of a bare fall look slow, and the mean rate with them."""
    facts = flown((FREE, Part(11.5, 55.0)), end_s=15.5, over=False)
    free, fast = facts.stretches
    gas = replace(fast, rate_mps=37.0, mean_rate_mps=37.0, surely_under_mps=inf)
    drogue, _ = judged(replace(facts, stretches=(free, gas)))
    assert drogue.verdict is Verdict.NO_EFFECT
    assert drogue.opened_t_ms is None


@pytest.mark.parametrize(("rate_mps", "verdict"), [(18.0, Verdict.NO_EFFECT), (13.0, Verdict.TOO_FAST)])
def test_while_it_flies_a_verdict_against_the_main_waits_three_seconds(rate_mps: float, verdict: Verdict) -> None:
    parts = (FREE, DROGUE) if rate_mps == DROGUE.rate_mps else (FREE, DROGUE, Part(MAIN_AT_S + 0.5, rate_mps))
    assert verdicts(flown(parts, end_s=MAIN_AT_S + 2.9, over=False))[1] is None
    assert verdicts(flown(parts, end_s=MAIN_AT_S + 3.4, over=False))[1] is verdict


@pytest.mark.parametrize(
    ("rate_mps", "verdict"), [(5.5, Verdict.CONFIRMED), (11.0, Verdict.TOO_FAST), (17.0, Verdict.NOT_OBSERVED)]
)
def test_with_its_height_and_firing_unheard_the_main_is_what_slows_the_fall_again(
    rate_mps: float, verdict: Verdict
) -> None:
    facts = unheard(flown((FREE, DROGUE, Part(MAIN_AT_S + 0.5, rate_mps))))
    drogue, main = judged(facts)
    assert (drogue.verdict, main.verdict) == (Verdict.CONFIRMED, verdict)
    if verdict is not Verdict.NOT_OBSERVED:
        assert main.opened_t_ms == pytest.approx(ms(MAIN_AT_S + 0.5))
        assert drogue.rate_after_mps == pytest.approx(18.0)


def test_a_drogue_that_comes_to_hold_better_is_no_main() -> None:
    """From 29 to 18 m/s, as when it came out in two steps; both are a drogue's."""
    parts = (FREE, Part(11.5, 29.0), Part(16.0, 18.0))
    assert verdicts(unheard(flown(parts)))[1] is Verdict.NOT_OBSERVED
    assert verdicts(unheard(flown(parts, end_s=22.0, over=False)))[1] is None
    no_height = replace(flown(parts, main_fired_s=None), unit=unit(main_m=None))
    assert verdicts(no_height)[1] is Verdict.NOT_OBSERVED


def test_a_drogue_fired_far_too_late_is_judged_by_what_it_held() -> None:
    parts = (FREE, Part(11.0, 65.0, held=False), Part(15.0, 18.0))
    assert verdicts(flown(parts, drogue_fired_s=14.5, main_fired_s=None))[0] is Verdict.CONFIRMED
    assert verdicts(unheard(flown(parts)))[0] is Verdict.CONFIRMED
    assert verdicts(unheard(flown(parts, end_s=16.3, over=False)))[0] is not Verdict.CONFIRMED


def test_lying_on_the_ground_does_not_change_what_the_fall_settled_at() -> None:
    facts = unheard(flown((FREE, Part(11.5, 43.0, held=False)), end_s=60.0))
    assert verdicts(facts)[0] is Verdict.TOO_FAST


def test_a_low_main_that_stays_in_is_said_so_in_the_air() -> None:
    facts = flown((FREE, Part(11.5, 24.0)), main_fired_s=None, channels_heard_to_s=None, end_s=30.5, over=False)
    low = replace(facts, unit=unit(main_m=60.0))
    assert low.track[-1].altitude_m > 12.0
    assert verdicts(low)[1] is Verdict.NO_EFFECT


def test_with_its_firing_unheard_a_drogue_that_let_it_fall_for_long_had_no_effect() -> None:
    """Eight seconds of a bare airframe's fall, then a main's rate."""
    facts = flown((FREE, Part(11.0, 65.0, held=False), Part(16.5, 5.5)))
    drogue, main = judged(unheard(facts))
    assert (drogue.verdict, main.verdict) == (Verdict.NO_EFFECT, Verdict.CONFIRMED)


def test_a_silence_before_the_main_was_due_leaves_the_rate_before_it_known() -> None:
    facts = flown((FREE, DROGUE, Part(MAIN_AT_S + 0.5, 11.0)), silences=((23.8, 26.5),))
    free, drogue_held, *_ = flown((FREE, DROGUE, Part(MAIN_AT_S + 0.5, 11.0))).stretches
    main = judged(replace(facts, stretches=(free, drogue_held, facts.stretches[-1])))[1]
    assert main.verdict is Verdict.TOO_FAST
    assert main.rate_before_mps == pytest.approx(18.0, abs=0.3)


def test_a_silence_while_it_flies_is_no_verdict_yet() -> None:
    assert verdicts(flown(GOOD, end_s=27.0, over=False))[1] is None


# -- the plan -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("planned_mps", "rate_mps", "verdict"),
    [
        (None, 7.7, Verdict.CONFIRMED),
        (5.0, 7.0, Verdict.CONFIRMED),
        (5.0, 8.5, Verdict.TOO_FAST),
        (7.5, 10.5, Verdict.CONFIRMED),
    ],
)
def test_the_plans_main_rate_replaces_the_usual_band(
    planned_mps: float | None, rate_mps: float, verdict: Verdict
) -> None:
    facts = flown((FREE, DROGUE, Part(30.0, rate_mps)), plan=FlightPlan(main_rate_mps=planned_mps))
    assert verdicts(facts)[1] is verdict


@pytest.mark.parametrize(
    ("planned_mps", "rate_mps", "verdict"),
    [(15.0, 20.0, Verdict.CONFIRMED), (15.0, 26.0, Verdict.TOO_FAST), (25.0, 35.0, Verdict.CONFIRMED)],
)
def test_the_plans_drogue_rate_replaces_the_usual_band(planned_mps: float, rate_mps: float, verdict: Verdict) -> None:
    parts = (FREE, Part(11.5, rate_mps), Part(19.5, 5.5))
    plan = FlightPlan(drogue_rate_mps=planned_mps)
    assert verdicts(flown(parts, main_fired_s=19.0, plan=plan))[0] is verdict
    # So it is where the main came out before its command.
    assert verdicts(flown(parts, main_fired_s=40.0, plan=plan)) == (verdict, Verdict.EARLY)


def test_which_parachutes_are_planned() -> None:
    facts = flown(GOOD)
    both = (Role.DROGUE, Role.MAIN)
    assert planned_roles(facts) == both
    assert planned_roles(replace(facts, unit=None)) == both
    assert planned_roles(replace(facts, unit=unit(Role.NONE, Role.NONE))) == (Role.MAIN,)
    assert planned_roles(replace(facts, unit=unit(Role.MAIN, Role.NONE))) == (Role.MAIN,)
    assert planned_roles(replace(facts, unit=unit(Role.MAIN, Role.DROGUE))) == both
    assert planned_roles(replace(facts, plan=FlightPlan(recovery=Recovery.MOTOR))) == (Role.MAIN,)
    assert planned_roles(replace(facts, unit=None, plan=FlightPlan(recovery=Recovery.DUAL))) == both


def by_motor(parts: Sequence[Part], **more: float) -> Deployment:
    facts = flown(parts, channels_heard_to_s=None, **more)  # type: ignore[arg-type]
    (found,) = judge_deployments(replace(facts, unit=unit(Role.NONE, Role.NONE, None), channels=()))
    return found


def test_one_parachute_by_motor_ejection() -> None:
    assert by_motor((FREE, Part(13.0, 6.0)), end_s=110.0).verdict is Verdict.CONFIRMED
    assert by_motor((FREE, Part(11.0, BARE_MPS, held=False))).verdict is Verdict.NO_EFFECT
    assert by_motor((FREE, Part(12.0, 16.0))).verdict is Verdict.TOO_FAST
    assert by_motor((FREE, Part(13.0, 6.0)), end_s=12.0).verdict is Verdict.NOT_OBSERVED


# -- what holds always --------------------------------------------------------------------------------------


def a_story(rng: random.Random, *, opens: bool) -> Facts:
    """Anything that may happen; without `opens` no parachute ever holds."""
    parts = [FREE]
    t = APOGEE_S
    for _ in range(rng.randrange(4)):
        t += rng.uniform(0.5, 15.0)
        parts.append(Part(t, rng.choice([4.0, 6.0, 11.0, 18.0, 28.0, 40.0, 60.0, 90.0]), opens and rng.random() < 0.7))
    silences = [(a, a + rng.uniform(0.5, 20.0)) for a in (rng.uniform(5.0, 60.0) for _ in range(rng.randrange(3)))]
    plan = FlightPlan(main_rate_mps=rng.choice([None, 5.0]), drogue_rate_mps=rng.choice([None, 16.0]))
    facts = flown(
        parts,
        drogue_fired_s=rng.choice([None, 5.0, 10.3, 13.0]),
        main_fired_s=rng.choice([None, 10.3, 25.0, 40.0]),
        channels_heard_to_s=rng.choice([3.0, 10.1, 20.0, 100.0]),
        end_s=rng.uniform(2.0, 120.0),
        silences=silences,
        plan=plan,
        over=rng.random() < 0.7,
    )
    return channels_unknown(facts) if rng.random() < 0.2 else facts


def test_nothing_is_ever_confirmed_without_a_hold_in_the_descent() -> None:
    rng = random.Random(11)
    seen = set()
    for _ in range(600):
        facts = a_story(rng, opens=False)
        for deployment in judge_deployments(facts):
            seen.add(deployment.verdict)
            assert deployment.verdict is not Verdict.CONFIRMED
            assert deployment.opened_t_ms is None
    assert {Verdict.NOT_FIRED, Verdict.NO_EFFECT, Verdict.NOT_OBSERVED, Verdict.EARLY, None} <= seen


def test_what_is_confirmed_was_held_at_no_more_than_it_should_and_every_verdict_has_a_reason() -> None:
    rng = random.Random(12)
    confirmed = 0
    for _ in range(600):
        facts = a_story(rng, opens=True)
        for deployment in judge_deployments(facts):
            if deployment.verdict is not None:
                assert deployment.reasons
            if facts.over:
                assert deployment.verdict is not None
            if deployment.verdict is Verdict.CONFIRMED:
                confirmed += 1
                assert deployment.opened_t_ms is not None
                assert facts.apogee is not None
                assert deployment.opened_t_ms > facts.apogee.t_ms - 700.0
                assert deployment.rate_after_mps is not None
                planned = facts.plan.main_rate_mps if facts.plan else None
                most = (9.5 if planned is None else 1.5 * planned) if deployment.role is Role.MAIN else 32.0
                assert deployment.rate_after_mps <= most + 1e-9
    assert confirmed > 50


def test_no_reason_uses_the_word_that_nobody_can_promise() -> None:
    rng = random.Random(13)
    for _ in range(300):
        for deployment in judge_deployments(a_story(rng, opens=True)):
            assert not re.search(r"\bsafe(ly)?\b", " ".join(deployment.reasons).lower())


def test_openings_become_events_and_only_openings() -> None:
    events = opening_events(judge_deployments(flown(GOOD)))
    assert [(e.name, e.basis) for e in events] == [
        (EventName.DROGUE, Basis.ESTIMATED),
        (EventName.MAIN, Basis.ESTIMATED),
    ]
    assert events[0].t_ms == ms(11.5)
    assert events[1].velocity_mps == -18.0
    assert all(e.called_t_ms >= e.t_ms for e in events)
    assert opening_events(judge_deployments(flown((FREE, Part(11.0, BARE_MPS, held=False))))) == []
