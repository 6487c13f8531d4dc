"""Did the parachutes open? What the descent and the altimeter's report together let us say, and no more.

A report that a channel fired says that a current flowed, not that a parachute opened: only the descent can show
that. So every verdict but `not_fired` and `not_observed` rests on the rate of descent:

- `confirmed`: a parachute took hold at its place and the rate fits one;
- `too_fast`: it fired and the descent changed, but the rate is well over the planned one;
- `no_effect`: it fired, or nobody heard whether it did, and the descent shows that it did not hold;
- `early`: out before its command or its place;
- `not_fired`: the altimeter was heard after its place and said that the channel had not fired;
- `not_observed`: lines were lost, or the data leave it open.

The same function speaks live and after landing; live, a verdict is None until the evidence is in.
The default bands (drogue 15-30 m/s, main 3.5-7 m/s) are common practice, no source; a plan's rates replace them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from station.atmosphere import G0_MPS2, SEA_LEVEL_DENSITY_KGPM3
from station.channels import ChannelReport
from station.descent import GROUND_NEAR_M, Stretch
from station.flight_state import Basis, Deployment, Estimate, Event, EventName, Unit, Verdict
from station.plan import FlightPlan
from station.records import ChannelState, Role
from station.seen_fall import SETTLED_S, SeenFall

# Rates at pad density, m/s. A parachute that is well over its planned rate is 1.5 times it.
OVER_PLAN = 1.5
DROGUE_FASTEST_MPS = 32.0
MAIN_FASTEST_MPS = 9.5
# Without a plan: what is over the usual band and not too fast yet may be a larger drogue tangled.
DROGUE_SURE_MPS = 30.0
# Without a plan: mains are made for up to 7.5 m/s (25 ft/s) in the standard air at sea level (common practice, no
# source), and fall faster in the thinner air of the day; where no drogue (of 14 m/s and more) helps them, by up to a
# fifth. Gusts add a little. What is faster still, and not too fast yet, may be a larger one tangled.
MAIN_MADE_FOR_MPS = 7.5
WITH_DROGUE = 1.04
WITHOUT_DROGUE = 1.19
GUSTS_MPS = 0.3
# A bare airframe falls faster than this; between it and the drogue's limit something slows the rocket.
BARE_AIRFRAME_MPS = 48.0
# A free fall of six seconds: no ejection charge of a motor is meant to come so late.
SURELY_BARE_MPS = 60.0
EARLY_BEFORE_APOGEE_MS = 700.0
EARLY_CLIMB_MPS = 7.0
EARLY_BEFORE_FIRING_MS = 1500.0
PLACE_MARGIN_M = 25.0
PLACE_MARGIN_FRACTION = 0.12
NEEDED_AFTER_S = 1.6
REPORT_MARGIN_MS = 600.0
OPENS_FOR_MS = 500.0
KNOWN_LIVE_S = 1.5
# A speed is not known that may err by this part of the fall before.
UNSURE_FRACTION = 0.3
LONG_SINCE_MS = 5000.0
OPENED_MARGIN_MS = 300.0
BOTH_AT_ONCE_MS = 2500.0
# A main opens low down: this soon after apogee, this near its height, it has come out with or for the drogue.
STRAIGHT_AFTER_APOGEE_MS = 5000.0
STRAIGHT_AFTER_APOGEE_SHARE = 0.85
# A hold that began no faster than this may still speed up; after so long it has.
FROM_REST_MPS = 20.0
# Seen for so long between the two, what goes on after a silence is another hold.
BROKE_OFF_S = 0.5
SHOWN_AFTER_S = 2.5
# A descent has changed when it slows to this part of what it was, as by a third more drag area: gusts change the mean
# rate of some seconds by less.
CHANGED_FRACTION = 0.85
FELL_ON_FRACTION = 1.15
# A fall under the drogue that slows to this part once the main is due is the main's hold, whatever rate it comes to.
PLAINLY_SLOWER_FRACTION = 0.6
# What was promised to hold is taken back only when the rate is plainly over the limit: by this part of it, and by more
# while it rests on a short fall, whose ends the charge's own pressure may still have moved.
TAKEN_BACK_FRACTION = 0.1
TAKEN_BACK_M = 7.0


@dataclass(frozen=True, slots=True)
class Facts:
    """What the verdicts rest on. Times ms on the flight's time line, heights m above the pad."""

    plan: FlightPlan | None
    unit: Unit | None
    channels: tuple[ChannelReport, ...]
    channels_heard: bool
    liftoff: Event | None
    apogee: Event | None
    touchdown: Event | None
    stretches: tuple[Stretch, ...]
    track: Sequence[Estimate]
    last_sample_ms: float | None
    isa_to_true: float
    restarts_ms: tuple[float, ...]
    over: bool
    fired_without_role_ms: tuple[float, ...] = ()
    pad_density_kgpm3: float = SEA_LEVEL_DENSITY_KGPM3


def main_sure_mps(pad_density_kgpm3: float, *, with_drogue: bool) -> float:
    """The fastest fall (m/s, at the pad's density) that without a plan surely is a whole main's, in the day's air."""
    alone = WITH_DROGUE if with_drogue else WITHOUT_DROGUE
    return MAIN_MADE_FOR_MPS * alone * sqrt(SEA_LEVEL_DENSITY_KGPM3 / pad_density_kgpm3) + GUSTS_MPS


def planned_roles(facts: Facts) -> tuple[Role, ...]:
    """Which parachutes are planned: by the plan, else by the altimeter's channels, else both."""
    if facts.plan is not None and facts.plan.planned_roles is not None:
        return facts.plan.planned_roles
    if facts.unit is not None:
        roles = {facts.unit.channel_1_role, facts.unit.channel_2_role} - {Role.NONE}
        if not roles:
            return (Role.MAIN,)  # no channels: one parachute, by motor ejection
        return tuple(role for role in (Role.DROGUE, Role.MAIN) if role in roles)
    return (Role.DROGUE, Role.MAIN)


def judge_deployments(facts: Facts) -> tuple[Deployment, ...]:
    """One deployment a planned role, each with its verdict and the reasons in sentences."""
    roles = planned_roles(facts)
    return tuple(_Judge(facts, role, roles).deployment() for role in roles)


def opening_events(deployments: Sequence[Deployment]) -> list[Event]:
    """The moments at which a parachute took hold, as events of the flight."""
    return [
        Event(
            EventName.DROGUE if d.role is Role.DROGUE else EventName.MAIN,
            d.opened_t_ms,
            d.opened_altitude_m or 0.0,
            -(d.rate_before_mps or 0.0),
            d.opened_sigma_s,
            Basis.ESTIMATED,
            d.opened_called_t_ms if d.opened_called_t_ms is not None else d.opened_t_ms,
        )
        for d in deployments
        if d.opened_t_ms is not None and d.opened_sigma_s is not None
    ]


def report_of(channels: Sequence[ChannelReport], role: Role) -> ChannelReport | None:
    """What was heard of a role: where two channels share it (one for safety's sake), the one that fired first."""
    of_role = [c for c in channels if c.role is role]
    fired = [c for c in of_role if c.fired_ms is not None]
    if fired:
        return min(fired, key=lambda c: c.fired_ms or 0.0)
    return of_role[0] if of_role else None


class _Judge:
    """The case of one role; small so that each rule can be read on its own."""

    def __init__(self, facts: Facts, role: Role, roles: tuple[Role, ...]) -> None:
        self.facts = facts
        self.fall = SeenFall(facts.track)
        self.role = role
        self.alone = len(roles) == 1
        self.report = report_of(facts.channels, role)
        self.reasons: list[str] = []
        self.fired_ms = self.report.fired_ms if self.report else None
        self.by_motor = facts.unit is not None and not facts.channels
        plan = facts.plan
        planned = None if plan is None else (plan.drogue_rate_mps if role is Role.DROGUE else plan.main_rate_mps)
        usual = DROGUE_FASTEST_MPS if role is Role.DROGUE else MAIN_FASTEST_MPS
        self.fastest = usual if planned is None else OVER_PLAN * planned
        self.is_planned = planned is not None
        main_planned = None if plan is None else plan.main_rate_mps
        self.main_fastest = MAIN_FASTEST_MPS if main_planned is None else OVER_PLAN * main_planned
        self.main_height_m = self._main_height()
        self.stretch: Stretch | None = None
        self.before: Stretch | None = None
        self.in_climb = False
        self.holds = False
        self.rate_before_mps: float | None = None
        self.rate_after_mps: float | None = None

    def deployment(self) -> Deployment:
        verdict = self._verdict()
        stretch = self.stretch
        # A moment of opening only where this parachute's own hold was seen: not another's, nor the ground's.
        shown = (
            self.holds
            and not self.in_climb
            and stretch is not None
            and stretch.opened_ms is not None
            and verdict in (None, Verdict.CONFIRMED, Verdict.TOO_FAST, Verdict.EARLY)
        )
        fired_at = self.fall.at(self.fired_ms) if self.fired_ms is not None else None
        before = self.before.mean_rate_mps if self.before else None
        after = stretch.mean_rate_mps if stretch else None
        return Deployment(
            role=self.role,
            channel=self.report.number if self.report else None,
            charge=self.report.state if self.report else None,
            fired_t_ms=self.fired_ms,
            fired_altitude_m=fired_at.altitude_m if fired_at else None,
            fired_velocity_mps=fired_at.velocity_mps if fired_at else None,
            opened_t_ms=stretch.opened_ms if shown and stretch else None,
            opened_altitude_m=stretch.opened_altitude_m if shown and stretch else None,
            rate_before_mps=before if self.rate_before_mps is None else self.rate_before_mps,
            rate_after_mps=after if self.rate_after_mps is None else self.rate_after_mps,
            verdict=verdict,
            reasons=tuple(self.reasons),
            opened_sigma_s=stretch.opened_sigma_s if shown and stretch else None,
            opened_called_t_ms=self._called_ms(stretch) if shown and stretch else None,
        )

    def _called_ms(self, stretch: Stretch) -> float:
        """When the data first let us say that this parachute held: at a rate that it may have."""
        due_ms = self._main_due_ms() if self.role is Role.MAIN and not self.alone else None
        before = None if due_ms is None or due_ms > stretch.called_ms else self._rate_about(due_ms)[0]
        limit = self.fastest if before is None else max(self.fastest, PLAINLY_SLOWER_FRACTION * before)
        return next((t_ms for t_ms, rate in stretch.promises if rate <= limit), stretch.called_ms)

    # -- what is asked --------------------------------------------------------------------------------------

    def _verdict(self) -> Verdict | None:
        facts = self.facts
        if facts.liftoff is None:
            if facts.over:
                self.reasons.append("No liftoff was observed.")
                return Verdict.NOT_OBSERVED
            return None
        early = self._fired_in_climb()
        if early is not None:
            return early
        if facts.apogee is None:
            return self._open_question("Apogee was not observed.")
        if self.role is Role.DROGUE:
            return self._judge_drogue()
        return self._judge_main()

    def _fired_in_climb(self) -> Verdict | None:
        fired, apogee = self.fired_ms, self.facts.apogee
        if fired is None:
            return None
        at = self.fall.at(fired)
        if apogee is None or fired > apogee.t_ms - EARLY_BEFORE_APOGEE_MS - 3000.0 * apogee.sigma_s:
            return None
        if at is None or at.velocity_mps < EARLY_CLIMB_MPS:
            return None
        self.reasons.append(
            f"The channel fired {(apogee.t_ms - fired) / 1000.0:.1f} s before apogee, while still climbing at "
            f"{at.velocity_mps:.0f} m/s."
        )
        self.in_climb = True
        self._choose(self._stretch_after(apogee.t_ms, self._main_due_ms()))
        return Verdict.EARLY

    def _judge_drogue(self) -> Verdict | None:
        facts = self.facts
        assert facts.apogee is not None
        start_ms = facts.apogee.t_ms if self.fired_ms is None else max(facts.apogee.t_ms, self.fired_ms)
        due_ms = self._main_due_ms()
        if due_ms is not None and due_ms < start_ms + BOTH_AT_ONCE_MS:
            due_ms = None  # both charges at once: all of the descent is after the main's
        main_ms = self._main_took_over_ms()
        if main_ms is not None and (due_ms is None or main_ms < due_ms):
            due_ms = main_ms
        held = self._stretch_after(facts.apogee.t_ms, due_ms)
        self._choose(held)
        rate = self._rate(held)
        if held is not None and self._fell_on(held, due_ms):
            held, rate = None, None
        if held is not None and held.opened_ms is not None and self._keeps_under(held, self.fastest):
            self.holds = True
            if not self._is_known(held) or not self._has_shown_itself(held):
                # What begins after a main has been seen is no drogue's.
                slow = self._first_slow()
                self.holds = self.alone or slow is None or slow.start_ms > held.start_ms
                return self._open_question("It had only just begun to hold when it was last seen.")
            if rate is None or not self._is_surely_under(held, DROGUE_SURE_MPS):
                return self._open_question(
                    f"The descent was held at {rate:.0f} m/s, too near the {self.fastest:.0f} m/s that a drogue "
                    "should keep it under to tell."
                )
            if self._known_not_fired(held.opened_ms):
                self.reasons.append(f"The descent was held at {rate:.1f} m/s although the channel had not fired.")
                return Verdict.EARLY
            self.reasons.append(
                f"From {self._clock(held.opened_ms)} the descent was held at {rate:.1f} m/s, as a drogue does."
            )
            if rate <= self.main_fastest and not self.alone:
                self.reasons[-1] = (
                    f"From {self._clock(held.opened_ms)} a parachute held the descent at {rate:.1f} m/s. That is a "
                    "main's rate, so the main is out too and what the drogue itself carries cannot be seen."
                )
                self._say_fired()
                self.holds = False
                self.stretch = self.before = None
                return self._open_question("So the drogue was not observed.")
            if self._fired_in_climb_by_some_channel():
                return self._open_question("A charge fired in the climb; which one it was, was not heard.")
            self._say_fired()
            return Verdict.CONFIRMED
        return self._drogue_without_hold(held, rate, start_ms, due_ms)

    def _drogue_without_hold(
        self, held: Stretch | None, rate: float | None, start_ms: float, due_ms: float | None
    ) -> Verdict | None:
        facts = self.facts
        end_ms = due_ms if due_ms is not None else (facts.last_sample_ms or start_ms)
        fast = self.fall.fastest_mps(start_ms, end_ms)
        if self._known_not_fired(start_ms + 1500.0) and self.fired_ms is None:
            self.reasons.append("The altimeter was heard after apogee and said that this channel had not fired.")
            if fast is not None and fast > self.fastest:
                self.reasons.append(f"The rocket came down at up to {fast:.0f} m/s.")
            return Verdict.NOT_FIRED
        if held is not None and held.opened_ms is not None and rate is not None and rate > self.fastest:
            slowed = self._keeps_under(held, BARE_AIRFRAME_MPS)
            # The main may be slowing it down already: what fell like a bare airframe before was not held.
            self.holds = slowed and self._keeps_to(held.fastest_mps, held, BARE_AIRFRAME_MPS)
            if not self._is_known(held) and slowed:
                return self._open_question("It had only just begun to hold when it was last seen.")
            self._say_fired()
            self.reasons.append(
                f"The descent was slowed, but only to {rate:.0f} m/s; a drogue should hold it at no more than "
                f"{self.fastest:.0f} m/s."
            )
            return Verdict.TOO_FAST if slowed else Verdict.NO_EFFECT
        settled = self.fall.settled_mps(start_ms, end_ms)
        if settled is not None and self.fastest < settled < BARE_AIRFRAME_MPS:
            self._say_fired()
            self.rate_after_mps = settled
            self.reasons.append(
                f"The fall settled at {settled:.0f} m/s; a drogue should hold it at no more than "
                f"{self.fastest:.0f} m/s."
            )
            return Verdict.TOO_FAST
        if (
            fast is not None
            and self._fell_past(fast, self.fastest, max(self.fastest, BARE_AIRFRAME_MPS), end_ms)
            and self.fall.was_seen(start_ms, end_ms, NEEDED_AFTER_S)
        ):
            self._say_fired()
            self.reasons.append(f"The fall went on to {fast:.0f} m/s: no drogue held it.")
            return Verdict.NO_EFFECT
        return self._open_question("The descent between apogee and the main's height was not observed enough.")

    def _judge_main(self) -> Verdict | None:
        facts = self.facts
        assert facts.apogee is not None
        slow = self._first_slow()
        due_ms = self._main_due_ms()
        if slow is not None:
            index = self._index(slow)
            self.before = facts.stretches[index - 1] if index > 0 else None
            later = next((s for s in facts.stretches[index + 1 :] if self._is_slow(s) and s.is_steady), None)
            if not slow.is_steady and later is not None:
                slow = slow.with_its_rest(later)
            if self.before is not None and due_ms is not None and self._opens_into(self.before, slow, due_ms):
                slow = self.before.with_its_rest(slow)
                self.before = facts.stretches[index - 2] if index > 1 else None
            self.stretch = slow
            self.holds = True
            if not self._is_known(slow):
                return self._open_question("It had only just begun to hold when it was last seen.")
            return self._main_held(slow)
        if due_ms is None:
            if self.by_motor:
                return self._motor_without_hold()
            return self._open_question("The main's height was not seen to be reached.")
        after = self._stretch_after(due_ms, None)
        self._choose(after)
        rate = self._rate(after)
        if self.fired_ms is None and self._known_not_fired(due_ms + REPORT_MARGIN_MS):
            self.reasons.append(
                "The altimeter was heard below the main's height and said that this channel had not fired."
            )
            if rate is not None:
                self.reasons.append(f"The rocket came down at {rate:.1f} m/s.")
            return Verdict.NOT_FIRED
        if self._still_slows(due_ms):
            return None
        # What lies on the ground shows nothing of what it came down under.
        down_ms = self.fall.clear_of_ground_ms(due_ms)
        if facts.touchdown is not None:
            down_ms = min(down_ms, facts.touchdown.t_ms)
        seen_enough = self.fall.was_seen(due_ms, down_ms, NEEDED_AFTER_S)
        near_ground = self.fall.last_mps(due_ms + 1000.0 * NEEDED_AFTER_S) if rate is None and seen_enough else None
        if near_ground is not None and near_ground > BARE_AIRFRAME_MPS:
            self._say_fired()
            self.reasons.append(f"The fall still was at {near_ground:.0f} m/s near the ground: no main held it.")
            return Verdict.NO_EFFECT
        if not seen_enough or rate is None:
            return self._open_question("Too little of the descent below the main's height was observed.")
        self._say_fired()
        before, now = self._rate_about(due_ms)
        if before is not None and now is not None and now < CHANGED_FRACTION * before:
            if after is None or after.opened_ms is None or not self._is_since(after, due_ms):
                self._choose(self._hold_since(due_ms))  # None: the change is plain, its moment is not
            self.holds = self.stretch is not None
            if now <= self.fastest:
                return self._open_question("The descent slowed, but from when a parachute held the fall was not seen.")
            newest = facts.track[-1]
            if not facts.over and newest.altitude_m > GROUND_NEAR_M and -newest.velocity_mps < self.fastest:
                return None  # it slows down still
            self.rate_before_mps, self.rate_after_mps = before, now
            self.reasons.append(
                f"The descent slowed from {before:.1f} only to {now:.1f} m/s; a main should hold it at no more than "
                f"{self.fastest:.1f} m/s."
            )
            return Verdict.TOO_FAST
        if not facts.over and self.fired_ms is None and self._may_be_above_it():
            return None
        hold = self._hold_since(due_ms)
        slowed = hold is not None and self._keeps_under(hold, CHANGED_FRACTION * (before or 0.0))
        if rate <= self.fastest or (slowed and now is None):
            return self._open_question("It had only just begun to hold when it was last seen.")
        self.reasons.append(f"The descent went on at {rate:.1f} m/s: no main held the fall.")
        return Verdict.NO_EFFECT

    def _still_slows(self, due_ms: float) -> bool:
        """Live: the fall has slowed since the main was due, and to which rate is not known yet.

        A hold that is promised to be plainly slower is the main's then; without one nothing can be said.
        """
        facts = self.facts
        before, now = self._rate_about(due_ms)
        newest = self._hold_since(due_ms)
        if facts.over or facts.track[-1].altitude_m < GROUND_NEAR_M:
            return False  # what stops it there is the ground
        if before is None:
            return newest is not None and not newest.is_steady
        if now is not None and (now < CHANGED_FRACTION * before or (newest is not None and newest.is_steady)):
            return False  # its rate is known
        # Once it has gone on as before for a while, a gust is no opening.
        slower = CHANGED_FRACTION if now is None else PLAINLY_SLOWER_FRACTION
        last = facts.track[-1]
        if -last.velocity_mps > slower * before:
            return last.velocity_sigma_mps > UNSURE_FRACTION * before
        if newest is not None and self._keeps_under(newest, PLAINLY_SLOWER_FRACTION * before):
            self._choose(newest)
            self.holds = True
        return True

    def _hold_since(self, due_ms: float) -> Stretch | None:
        """The newest hold that began after the main was due, at a rate that is known or promised."""
        since = [s for s in self.facts.stretches if self._is_since(s, due_ms) and s.rate_mps is not None]
        if len(since) > 1 and self._opens_into(since[-2], since[-1], due_ms):
            return since[-2].with_its_rest(since[-1])
        return since[-1] if since else None

    def _opens_into(self, first: Stretch, slow: Stretch, due_ms: float) -> bool:
        """The first moments of the main's hold were taken for one of their own, at a rate that was never borne out.

        Nothing but a silence, if anything, was between the two.
        """
        if not self._is_since(first, due_ms) or first.is_borne_out:
            return False
        return slow.start_ms <= first.end_ms or not self.fall.was_seen(first.end_ms, slow.start_ms, BROKE_OFF_S)

    def _is_surely_under(self, stretch: Stretch, usual_most_mps: float) -> bool:
        """Its rate is, by two standard deviations, no more than the plan allows, or without a plan than is usual."""
        most_mps = self.fastest if self.is_planned else usual_most_mps
        return stretch.rate_mps is not None and stretch.rate_mps + 2.0 * stretch.rate_sigma_mps <= most_mps

    def _drogue_held_before(self) -> bool:
        before = self.before
        if before is None or before.opened_ms is None or before.rate_mps is None:
            return False
        return before.is_steady and before.rate_mps <= DROGUE_FASTEST_MPS

    def _is_since(self, stretch: Stretch, due_ms: float) -> bool:
        return stretch.opened_ms is not None and stretch.opened_ms > due_ms - OPENED_MARGIN_MS

    def _main_held(self, slow: Stretch) -> Verdict | None:
        facts = self.facts
        assert facts.apogee is not None
        assert slow.opened_ms is not None
        rate = self._rate(slow)
        opened_ms = slow.opened_ms
        sure_ms = opened_ms + 3000.0 * slow.opened_sigma_s
        height = self.main_height_m
        as_what = "as its parachute does" if self.by_motor else "as a main does"
        self.reasons.append(f"From {self._clock(opened_ms)} the descent was held at {rate:.1f} m/s, {as_what}.")
        most = main_sure_mps(facts.pad_density_kgpm3, with_drogue=self._drogue_held_before())
        if rate is not None and not self._is_surely_under(slow, most):
            return self._open_question("That is too near the most that a main should come down at to tell.")
        if self.by_motor or (self.alone and height is None):
            return Verdict.CONFIRMED
        fired = self.fired_ms
        if height is None and fired is None and not self.alone and self._straight_after_apogee(slow):
            self.reasons.append("That was straight after apogee, the drogue's place and not the main's.")
            return Verdict.EARLY
        if fired is not None and sure_ms < fired - EARLY_BEFORE_FIRING_MS:
            self.reasons.append(
                f"That was {(fired - opened_ms) / 1000.0:.1f} s before its channel fired: it was already out."
            )
            return Verdict.EARLY
        high = height is not None and slow.opened_altitude_m > (height * (1.0 + PLACE_MARGIN_FRACTION) + PLACE_MARGIN_M)
        if high and slow.opened_sigma_s < 1.0:
            self.reasons.append(
                f"That was {slow.opened_altitude_m:.0f} m up, well above the main's height of {height:.0f} m."
            )
            return Verdict.EARLY
        if fired is None and self._known_not_fired(sure_ms):
            self.reasons.append("The altimeter said after it that this channel had not fired.")
            return Verdict.EARLY
        self._say_fired()
        return Verdict.CONFIRMED

    def _motor_without_hold(self) -> Verdict | None:
        facts = self.facts
        assert facts.apogee is not None
        end_ms = facts.last_sample_ms or facts.apogee.t_ms
        fast = self.fall.fastest_mps(facts.apogee.t_ms, end_ms)
        last = facts.stretches[-1] if facts.stretches else None
        self._choose(last)
        rate = self._rate(last)
        if rate is not None and rate > self.fastest and last is not None and last.steady_s > NEEDED_AFTER_S:
            self.holds = rate < BARE_AIRFRAME_MPS
            self.reasons.append(f"The rocket came down at {rate:.1f} m/s, too fast for its parachute.")
            return Verdict.TOO_FAST if rate < BARE_AIRFRAME_MPS else Verdict.NO_EFFECT
        fell_past = fast is not None and self._fell_past(fast, BARE_AIRFRAME_MPS, SURELY_BARE_MPS, end_ms)
        if fell_past or (facts.over and facts.touchdown is not None):
            self.reasons.append("The descent shows no parachute that held.")
            return Verdict.NO_EFFECT
        return self._open_question("Too little of the descent was observed.")

    # -- facts, one at a time ---------------------------------------------------------------------------------

    def _main_height(self) -> float | None:
        facts = self.facts
        if facts.unit is not None and facts.unit.main_altitude_m is not None:
            # The altimeter decides by standard-atmosphere height.
            return facts.unit.main_altitude_m * facts.isa_to_true
        return facts.plan.main_height_m if facts.plan is not None else None

    def _may_be_above_it(self) -> bool:
        """Live: the altimeter, by its own reckoning, may not have come down to the main's height yet."""
        height = self.main_height_m
        lowest_m = None if height is None else height * (1.0 - PLACE_MARGIN_FRACTION) - PLACE_MARGIN_M
        return lowest_m is not None and self.facts.track[-1].altitude_m > lowest_m

    def _main_due_ms(self) -> float | None:
        """When the main was fired, or should have been: on coming down through its height."""
        facts = self.facts
        main = report_of(facts.channels, Role.MAIN)
        if main is not None and main.fired_ms is not None:
            return main.fired_ms
        height = self.main_height_m
        if height is None or facts.apogee is None:
            return None
        return self.fall.passes_ms(height, facts.apogee.t_ms)

    def _stretch_after(self, start_ms: float, end_ms: float | None) -> Stretch | None:
        """The stretch that best tells the rate between two times: the last one that was steady there."""
        best: Stretch | None = None
        broke_off = False
        for stretch in self.facts.stretches:
            if stretch.end_ms < start_ms + 300.0:
                continue
            if end_ms is not None and stretch.start_ms > end_ms - 200.0:
                break
            if best is None or (best.opened_ms is None and stretch.opened_ms is not None):
                best = stretch
            elif stretch.opened_ms is None or stretch.rate_mps is None or (best.is_steady and not stretch.is_borne_out):
                broke_off = False
                continue
            else:
                held = best.opened_ms is not None and best.is_steady and self._keeps_under(best, self.fastest)
                best = best.with_its_rest(stretch) if broke_off or held else stretch
            broke_off = not best.is_borne_out
        return best

    def _first_slow(self) -> Stretch | None:
        stretches = self.facts.stretches
        index = next((n for n, stretch in enumerate(stretches) if self._is_slow(stretch)), None)
        if index is None:
            return None
        before = stretches[index - 1] if index > 0 else None
        if before is None or before.is_steady or before.opened_ms is None:
            return stretches[index]
        # A silence broke off what was at a main's rate before it already, and it is at one after it: one hold.
        return before if self._keeps_under(before, self.main_fastest) else stretches[index]

    def _is_slow(self, stretch: Stretch) -> bool:
        if stretch.opened_ms is None or not self._keeps_under(stretch, self.main_fastest):
            return False
        doubtful = not stretch.is_steady or stretch.rate_mps is None or stretch.rate_mps > self.main_fastest
        if doubtful and not self.facts.over and self._says_ready():
            # The altimeter tells of a firing at once: a blow on the pressure without it is believed less.
            return False
        # Near apogee every fall is slow at first: a drogue's hold must have had the time to show itself as one.
        return self.alone or self._has_shown_itself(stretch)

    def _is_known(self, stretch: Stretch) -> bool:
        """Its rate is known well enough for a verdict: live, one that the next gust would not undo."""
        return stretch.is_steady if self.facts.over else stretch.steady_s >= KNOWN_LIVE_S

    def _keeps_under(self, stretch: Stretch, fastest_mps: float) -> bool:
        """It falls no faster than this; live, one that was promised to is believed until that is plainly wrong."""
        return stretch.rate_mps is not None and self._keeps_to(stretch.rate_mps, stretch, fastest_mps)

    def _keeps_to(self, rate_mps: float, stretch: Stretch, fastest_mps: float) -> bool:
        if rate_mps <= fastest_mps or self.facts.over:
            return rate_mps <= fastest_mps
        if not any(promised <= fastest_mps for _, promised in stretch.promises):
            return False
        most = fastest_mps + max(TAKEN_BACK_FRACTION * fastest_mps, TAKEN_BACK_M / max(stretch.steady_s, 0.1))
        return rate_mps <= most

    def _has_shown_itself(self, stretch: Stretch) -> bool:
        """The first hold after apogee may still speed up; later ones, and those looked back on, tell at once."""
        if stretch.steady_s >= SHOWN_AFTER_S or (self.facts.over and stretch.is_steady):
            return True
        if min(self._speed_before_mps(stretch), self._most_speed_mps(stretch)) >= FROM_REST_MPS:
            return True
        index = self._index(stretch)
        return any(each.opened_ms is not None for each in self.facts.stretches[:index])

    def _speed_before_mps(self, stretch: Stretch) -> float:
        """The speed at the opening, or a moment before it: a dive may end within a sample or two."""
        opened_ms = stretch.opened_ms or stretch.start_ms
        before = self.fall.fastest_mps(opened_ms - OPENS_FOR_MS - 3000.0 * stretch.opened_sigma_s, opened_ms)
        return max(stretch.speed_at_opening_mps, before or 0.0)

    def _most_speed_mps(self, stretch: Stretch) -> float:
        """What a free fall from the top likely reaches until then: a charge's gas may make it look faster."""
        apogee = self.facts.apogee
        if apogee is None or stretch.opened_ms is None:
            return stretch.speed_at_opening_mps
        fallen_s = (stretch.opened_ms - apogee.t_ms) / 1000.0 + hypot(apogee.sigma_s, stretch.opened_sigma_s)
        return G0_MPS2 * max(0.0, fallen_s)

    def _index(self, stretch: Stretch) -> int:
        """Its place; one that goes on from a first that broke off stands at that one's."""
        return next(n for n, each in enumerate(self.facts.stretches) if each.start_ms == stretch.start_ms)

    def _straight_after_apogee(self, stretch: Stretch) -> bool:
        apogee = self.facts.apogee
        return (
            apogee is not None
            and stretch.opened_ms is not None
            and stretch.opened_ms + 1000.0 * stretch.opened_sigma_s < apogee.t_ms + STRAIGHT_AFTER_APOGEE_MS
            and stretch.opened_altitude_m > STRAIGHT_AFTER_APOGEE_SHARE * apogee.altitude_m
        )

    def _fired_in_climb_by_some_channel(self) -> bool:
        """Without the `ID` line nobody knows which channel is whose; one that fired in the climb is no good sign."""
        apogee = self.facts.apogee
        if self.report is not None or apogee is None:
            return False
        limit_ms = apogee.t_ms - EARLY_BEFORE_APOGEE_MS - 3000.0 * apogee.sigma_s
        return any(fired_ms < limit_ms for fired_ms in self.facts.fired_without_role_ms)

    def _main_took_over_ms(self) -> float | None:
        """When a main's rate began after another parachute had held: what is before that is the drogue's."""
        slow = self._first_slow()
        for stretch in self.facts.stretches:
            if stretch is slow:
                return None
            if slow is not None and stretch.opened_ms is not None and stretch.is_steady:
                return slow.start_ms
        return None

    def _choose(self, stretch: Stretch | None) -> None:
        self.stretch = stretch
        if stretch is not None:
            index = self._index(stretch)
            self.before = self.facts.stretches[index - 1] if index > 0 else None

    def _rate(self, stretch: Stretch | None) -> float | None:
        return None if stretch is None else stretch.rate_mps

    def _known_not_fired(self, after_ms: float) -> bool:
        report = self.report
        return (
            report is not None
            and report.fired_ms is None
            and report.ready_heard_ms is not None
            and report.ready_heard_ms > after_ms
            and not self._restarted_in_flight()
            and report.state in (ChannelState.READY, ChannelState.OPEN)
        )

    def _says_ready(self) -> bool:
        """The main's channel was heard and not heard to have fired."""
        main = report_of(self.facts.channels, Role.MAIN)
        return main is not None and main.fired_ms is None and main.ready_heard_ms is not None

    def _restarted_in_flight(self) -> bool:
        """After a restart the altimeter need not know what fired before it."""
        start = self.facts.liftoff
        return start is not None and any(restart_ms > start.t_ms for restart_ms in self.facts.restarts_ms)

    def _fell_past(self, fastest_mps: float, limit_mps: float, plainly_mps: float, end_ms: float) -> bool:
        """It fell faster than the limit; live only when that is plain, and it is not just being slowed down."""
        if self.facts.over:
            return fastest_mps > limit_mps
        if fastest_mps <= plainly_mps:
            return False
        apogee = self.facts.apogee
        long_since = None if apogee is None else self.fall.fastest_mps(apogee.t_ms, end_ms - LONG_SINCE_MS)
        return (long_since or 0.0) > plainly_mps or not self.fall.is_slowed_by(CHANGED_FRACTION, end_ms)

    def _fell_on(self, held: Stretch, due_ms: float | None) -> bool:
        """What looked like a hold did not slow the fall: a quarter of it was faster than a drogue allows."""
        if held.opened_ms is None:
            return False
        end_ms = held.end_ms if due_ms is None else min(held.end_ms, due_ms)
        if held.rate_mps is None or held.rate_mps > self.fastest:
            return False
        usual_most_mps = self.fall.upper_quartile_mps(held.opened_ms + 1000.0 * SETTLED_S, end_ms)
        # Live, what slows now may have been held all along, unless it plainly fell like a bare airframe meanwhile.
        slows = not self.facts.over and -self.facts.track[-1].velocity_mps <= self.fastest
        most_mps = max(BARE_AIRFRAME_MPS, self.fastest) if slows else FELL_ON_FRACTION * self.fastest
        return usual_most_mps is not None and usual_most_mps > most_mps

    def _rate_about(self, due_ms: float) -> tuple[float | None, float | None]:
        """Mean rates (m/s) of the last seconds before a moment, and from a while after it to near the ground."""
        top_ms = self.facts.apogee.t_ms if self.facts.apogee else due_ms
        before = self.fall.mean_mps(max(top_ms + 3000.0, due_ms - 4000.0), due_ms)
        if before is None and not self.facts.over:
            held = [s for s in self.facts.stretches if s.is_steady and s.start_ms < due_ms]
            before = held[-1].rate_mps if held else None
        return before, self.fall.mean_mps(due_ms + 1000.0 * NEEDED_AFTER_S, self.fall.clear_of_ground_ms(due_ms))

    def _open_question(self, reason: str) -> Verdict | None:
        if not self.facts.over:
            return None
        self.reasons.append(reason)
        return Verdict.NOT_OBSERVED

    def _say_fired(self) -> None:
        if self.report is None:
            if self.facts.channels_heard and not self.by_motor:
                self.reasons.append("Which of the altimeter's channels is for it was not heard.")
            elif not self.by_motor:
                self.reasons.append("The altimeter's channels were not heard, so whether it fired is not known.")
            return
        if self.fired_ms is not None:
            self.reasons.append(f"The altimeter reported firing it at {self._clock(self.fired_ms)}.")
        else:
            self.reasons.append("The altimeter was not heard to say that it fired.")

    def _clock(self, t_ms: float) -> str:
        start = self.facts.liftoff.t_ms if self.facts.liftoff else 0.0
        return f"{(t_ms - start) / 1000.0:.1f} s"
