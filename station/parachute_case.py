"""The case of one parachute: what is known of it, what was found, and the questions that both kinds are judged by."""

from itertools import pairwise
from math import hypot, sqrt

from station.atmosphere import G0_MPS2, at_pad_mps
from station.deployment_facts import Facts, report_of
from station.flight_state import Deployment, Verdict
from station.late_opening import UNSEEN_S
from station.parachute_rates import (
    CHANGED_FRACTION,
    DROGUE_FASTEST_MPS,
    DROGUE_SLOWEST_MPS,
    fastest_allowed_mps,
    planned_rate_mps,
)
from station.records import ChannelState, Role
from station.seen_fall import SeenFall
from station.stretch import PLAINLY_OVER_FRACTION, Stretch

EARLY_BEFORE_APOGEE_MS = 700.0
# A speed that was heard so shortly before is that of the moment.
JUST_BEFORE_MS = 300.0
OPENS_FOR_MS = 500.0
# What slows a fall does not undo that it was plainly bare so long before.
PLAINLY_BARE_MS = 1000.0
NEEDED_AFTER_S = 1.6
# A hold that began no faster than this may still speed up; after so long it has.
FROM_REST_MPS = 20.0
SHOWN_AFTER_S = 2.5
# ... whatever part of it was seen.
SHOWN_SINCE_MS = 4000.0
# A parachute has let go where a fall of so long is faster by so much than it held, and than it may hold.
LET_GO_S = 1.2
LET_GO_SEEN_SHARE = 0.75
LET_GO_RATIO = 1.4
LET_GO_OVER = 1.15
# The landing itself slows the fall, and its moment may be off by so much.
LANDS_MS = 600.0
# A hold is young for so long: what it falls at now may still show that it is none.
YOUNG_S = 4.0
# A fall under the drogue that slows to this part once the main is due is the main's hold, whatever rate it comes to.
PLAINLY_SLOWER_FRACTION = 0.6
# What was plainly over a limit once must have come to so much less than it: tangled ones fall near limits for long.
WELL_UNDER_FRACTION = 0.95
# ... and a rate that was under one without a promise to be may come to so much over it.
NEARLY_OVER_FRACTION = 0.05
# A verdict against a parachute is given live only when so much was seen: one that is slow to fill, and a blow of the
# charge's gas, look like it for a moment. The warning of a fast descent does not wait for it.
PLAIN_LIVE_S = 3.0
JUST_BEGUN = "It had only just begun to hold when it was last seen."


class ParachuteCase:
    """One role's; it gathers the reasons for the verdict, and which stretch of the descent is the parachute's."""

    def __init__(self, facts: Facts, role: Role, *, alone: bool) -> None:
        self.facts = facts
        self.fall = SeenFall(facts.track)
        self.role = role
        self.alone = alone
        self.report = report_of(facts.channels, role)
        self.reasons: list[str] = []
        self.fired_ms = self.report.fired_ms if self.report else None
        self.by_motor = facts.unit is not None and not facts.channels
        self.fastest_mps = fastest_allowed_mps(facts.plan, role)
        self.is_planned = planned_rate_mps(facts.plan, role) is not None
        self.main_fastest_mps = fastest_allowed_mps(facts.plan, Role.MAIN)
        self.main_height_m = self._main_height()
        self.stretch: Stretch | None = None
        self.before: Stretch | None = None
        self.in_climb = False
        self.holds = False
        self.rate_before_mps: float | None = None
        self.rate_after_mps: float | None = None

    def deployment(self, verdict: Verdict | None) -> Deployment:
        """All that is said of the parachute, once its verdict is found."""
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

    def main_due_ms(self) -> float | None:
        """When the main was fired, or should have been: on coming down through its height."""
        facts = self.facts
        main = report_of(facts.channels, Role.MAIN)
        if main is not None and main.fired_ms is not None:
            return main.fired_ms
        height = self.main_height_m
        if height is None or facts.apogee is None:
            return None
        return self.fall.passes_ms(height, facts.apogee.t_ms)

    def slowed_again(self) -> Stretch | None:
        """The hold, too slow for a drogue, that took over from a drogue's: wherever the main's place is, it is its."""
        if self.alone:
            return None
        for held, slower in pairwise(self.facts.stretches):
            if held.opened_ms is None or held.rate_mps is None or slower.opened_ms is None or slower.rate_mps is None:
                continue
            is_drogue = held.is_steady and DROGUE_SLOWEST_MPS < held.rate_mps <= DROGUE_FASTEST_MPS
            # By what it is, not by what it first promised: a drogue found anew promises less than it holds.
            # Live, by what it surely is: that stays so.
            at_least_mps = slower.rate_mps - 2.0 * slower.rate_sigma_mps
            least_mps = at_least_mps if self.facts.over else slower.surely_under_mps
            too_slow_mps = min(DROGUE_SLOWEST_MPS, CHANGED_FRACTION * held.rate_mps)
            if is_drogue and slower.is_known and least_mps < too_slow_mps:
                return slower
        return None

    def stretch_after(self, start_ms: float, end_ms: float | None) -> Stretch | None:
        """The stretch that best tells the rate between two times: the last one there whose rate can be told."""
        best: Stretch | None = None
        broke_off = False
        for stretch in self.facts.stretches:
            if stretch.end_ms < start_ms + 300.0:
                continue
            if end_ms is not None and stretch.start_ms > end_ms - 200.0:
                break
            if best is None or (best.opened_ms is None and stretch.opened_ms is not None):
                best = stretch
            elif stretch.opened_ms is None or stretch.rate_mps is None or self._is_told_by(best, stretch):
                # A glimpse between two silences, of which nothing is known, tells nothing of the one before it either.
                broke_off = broke_off and stretch.opened_ms is not None and stretch.rate_mps is None
                continue
            elif broke_off and not self.facts.over and not stretch.is_steady:
                continue  # what it only promises yet takes nothing back
            else:
                under = self.keeps_under(best, self.fastest_mps) or self._goes_on_as(best, stretch)
                held = best.opened_ms is not None and best.is_steady and under
                if held and self._is_let_go(best, stretch):
                    continue
                best = best.with_its_rest(stretch) if broke_off or held else stretch
            broke_off = not best.is_borne_out
        return best

    def first_slow(self) -> Stretch | None:
        """The first hold at a main's rate, from where it began before a silence broke it off."""
        stretches = self.facts.stretches
        slow = (n for n, stretch in enumerate(stretches) if self.is_slow(stretch) and not self._became_too_fast(n))
        index = next(slow, None)
        if index is None:
            return None
        before = stretches[index - 1] if index > 0 else None
        if before is None or before.is_steady or before.opened_ms is None:
            return stretches[index]
        # A silence broke off what was at a main's rate before it already, and it is at one after it: one hold.
        return before if self.keeps_under(before, self.main_fastest_mps) else stretches[index]

    def _became_too_fast(self, index: int) -> bool:
        """What it promised was wrong: it went on, before its rate was known, at what is plainly over a main's."""
        stretch, later = self.facts.stretches[index], self.facts.stretches[index + 1 : index + 2]
        if stretch.is_known or not later or later[0].opened_ms is None:
            return False
        is_at_once = later[0].start_ms - stretch.end_ms < JUST_BEFORE_MS
        is_over = later[0].surely_over_mps > self.main_fastest_mps
        return is_at_once and is_over and not self.keeps_under(later[0], self.main_fastest_mps)

    def is_slow(self, stretch: Stretch) -> bool:
        """It holds at a rate that only a main comes down at."""
        if stretch.opened_ms is None or not self.keeps_under(stretch, self.main_fastest_mps):
            return False
        doubtful = not stretch.is_steady or not self.is_at_a_mains_rate(stretch)
        if doubtful and not self.facts.over and (self._said_ready(stretch) or self._is_first_of_unknown(stretch)):
            # The altimeter tells of a firing at once: a blow on the pressure without it is believed less; nor does the
            # first promise after apogee tell a main from a drogue where nothing is heard of either.
            return False
        # Near apogee every fall is slow at first: a drogue's hold must have had the time to show itself as one.
        return self.alone or self.has_shown_itself(stretch)

    def is_at_a_mains_rate(self, stretch: Stretch) -> bool:
        """Its rate is one that only a main comes down at; live, once it surely is, until it plainly no longer is."""
        return self._is_within(stretch, self.main_fastest_mps)

    def may_be_at_a_mains_rate(self, stretch: Stretch) -> bool:
        """Live: it is near a main's rate, or believed to come to one, and whether it surely does is open."""
        if self.facts.over or stretch.rate_mps is None or self.is_at_a_mains_rate(stretch):
            return False
        is_near = stretch.rate_mps <= (1.0 + NEARLY_OVER_FRACTION) * self.main_fastest_mps
        return is_near or self.keeps_under(stretch, self.main_fastest_mps)

    def is_known(self, stretch: Stretch) -> bool:
        """Its rate is known well enough for a verdict: live, one that the next gust would not undo."""
        return stretch.is_steady if self.facts.over else stretch.is_known

    def keeps_under(self, stretch: Stretch, fastest_mps: float) -> bool:
        """It falls no faster than this; live, one that was promised to is believed until that plainly was wrong."""
        if stretch.rate_mps is None or stretch.rate_mps <= 0.0:
            return False  # what rises is not held
        if self.facts.over:
            return stretch.rate_mps <= fastest_mps
        if stretch.surely_over_mps > fastest_mps:
            # Believed again only where it surely has come to less.
            return max(stretch.rate_mps, stretch.surely_under_mps / WELL_UNDER_FRACTION) <= fastest_mps
        promised_mps = min((rate for _, rate in stretch.promises), default=stretch.rate_mps)
        if min(promised_mps, stretch.rate_mps) <= fastest_mps:
            return True
        # Near a limit a rate goes to and fro over it.
        return stretch.least_rate_mps <= fastest_mps and stretch.rate_mps <= (1.0 + NEARLY_OVER_FRACTION) * fastest_mps

    def is_surely_under(self, stretch: Stretch, usual_most_mps: float) -> bool:
        """Its rate is, by two standard deviations, no more than the plan allows, or without a plan than is usual.

        Live, it is once it was, until it plainly no longer is.
        """
        most_mps = self.fastest_mps if self.is_planned else usual_most_mps
        if stretch.rate_mps is None:
            return False
        if not self.facts.over:
            return stretch.is_known and self._is_within(stretch, most_mps)
        return stretch.rate_mps + 2.0 * stretch.rate_sigma_mps <= most_mps

    def falls_now_mps(self, stretch: Stretch) -> float:
        """At what it surely falls now (at pad density), live and if it has only just begun to hold; else 0."""
        if self.facts.over or stretch.end_ms < self.facts.stretches[-1].start_ms or stretch.steady_s > YOUNG_S:
            return 0.0
        now = self.facts.track[-1]
        return at_pad_mps(max(0.0, -now.velocity_mps - now.velocity_sigma_mps), now.altitude_m)

    def has_shown_itself(self, stretch: Stretch) -> bool:
        """The first hold after apogee may still speed up; later ones, and those looked back on, tell at once."""
        if self.held_for_long(stretch):
            return True
        # What seems to follow it may yet prove to be the same.
        follows = next((later for later in self.facts.stretches if later.start_ms > stretch.start_ms), None)
        is_past = self.facts.over or (follows is not None and follows.is_borne_out)
        opened_ms = stretch.start_ms if stretch.opened_ms is None else stretch.opened_ms
        is_old = self.facts.stretches[-1].end_ms - opened_ms >= SHOWN_SINCE_MS
        if stretch.is_steady and (is_past or is_old):
            return True
        before = [each for each in self.facts.stretches[: self.index(stretch)] if each.opened_ms is not None]
        # One at a main's rate already may prove to be the same.
        another = any(not self.keeps_under(each, self.main_fastest_mps) for each in before)
        return another or (bool(before) and stretch.is_borne_out)

    def held_for_long(self, stretch: Stretch) -> bool:
        """So long, or from such a speed, that a fall which only begins would have shown itself."""
        if stretch.steady_s >= SHOWN_AFTER_S:
            return True
        return min(self._speed_before_mps(stretch), self._most_speed_mps(stretch)) >= FROM_REST_MPS

    def index(self, stretch: Stretch) -> int:
        """Its place; one that goes on from a first that broke off stands at that one's."""
        return next(n for n, each in enumerate(self.facts.stretches) if each.start_ms == stretch.start_ms)

    def choose(self, stretch: Stretch | None) -> None:
        """This stretch tells of the parachute; the one before it, of what the fall was until then."""
        self.stretch = stretch
        if stretch is not None:
            index = self.index(stretch)
            self.before = self.facts.stretches[index - 1] if index > 0 else None

    def known_not_fired(self, after_ms: float) -> bool:
        """The altimeter was heard after this moment to say that the channel had not fired."""
        report = self.report
        return (
            report is not None
            and report.fired_ms is None
            and report.ready_heard_ms is not None
            and report.ready_heard_ms > after_ms
            and not self._restarted_in_flight()
            and report.state in (ChannelState.READY, ChannelState.OPEN)
        )

    def fired_before_apogee(self, fired_ms: float) -> bool:
        """That was so long before apogee that neither is off by as much."""
        apogee = self.facts.apogee
        if apogee is None or fired_ms >= apogee.t_ms:
            return False
        if fired_ms < apogee.t_ms - EARLY_BEFORE_APOGEE_MS - 3000.0 * apogee.sigma_s:
            return True
        # Where a silence hid apogee itself: climbing surely so fast that it was as long away, and half as long again.
        then = self.fall.at(fired_ms) if apogee.altitude_sigma_m is not None else None
        if then is None or fired_ms - then.t_ms > JUST_BEFORE_MS:
            return False
        return then.velocity_mps - 3.0 * then.velocity_sigma_mps > 1.5 * G0_MPS2 * EARLY_BEFORE_APOGEE_MS / 1000.0

    def fell_past(self, fastest_mps: float, limit_mps: float, plainly_mps: float, end_ms: float) -> bool:
        """It fell faster than the limit; live only when that is plain, and it is not just being slowed down."""
        if self.facts.over:
            return fastest_mps > limit_mps
        apogee = self.facts.apogee
        before_mps = None if apogee is None else self.fall.fastest_at_pad_mps(apogee.t_ms, end_ms - PLAINLY_BARE_MS)
        if (before_mps or 0.0) > plainly_mps:
            return True
        is_well_over = fastest_mps > (1.0 + PLAINLY_OVER_FRACTION) * plainly_mps
        return is_well_over and not self.fall.is_slowed_by(CHANGED_FRACTION, end_ms)

    def has_let_go(self, held: Stretch, end_ms: float) -> bool:
        """Looked back on: in the last seconds until then it came down plainly faster than this hold let it. Says so.

        A parachute that tore away, a cord that parted, a canopy that collapsed: it held for a while, and no more.
        """
        settled_ms = (held.opened_ms or held.start_ms) + 1000.0 * SHOWN_AFTER_S
        if not self.facts.over or held.rate_mps is None:
            return False
        # A silence may hide the very last: then the last that was heard.
        while not self.fall.was_seen(end_ms - 1000.0 * LET_GO_S, end_ms, LET_GO_SEEN_SHARE * LET_GO_S):
            end_ms -= 500.0 * LET_GO_S
            if end_ms - 1000.0 * LET_GO_S < settled_ms:
                return False
        start_ms = end_ms - 1000.0 * LET_GO_S
        mean_mps, last = self.fall.mean_mps(start_ms, end_ms), self.fall.at(end_ms)
        if mean_mps is None or last is None or start_ms < settled_ms:
            return False
        at_pad_mps = self.at_pad_mps(mean_mps, end_ms)
        # Where it was seen to speed up, what is over the limit at all; else plainly over it.
        sped_up = any(s.opened_ms is None and held.start_ms < s.start_ms < end_ms for s in self.facts.stretches)
        over_mps = self.fastest_mps if sped_up else LET_GO_OVER * self.fastest_mps
        if at_pad_mps <= max(over_mps, LET_GO_RATIO * held.rate_mps):
            return False
        self.say_fired()
        self.reasons.append(
            f"But it did not hold to the end: {last.altitude_m:.0f} m up the rocket came down at {mean_mps:.0f} m/s."
        )
        return True

    def at_pad_mps(self, speed_mps: float, t_ms: float) -> float:
        """A speed of then, brought to the air density of the pad."""
        then = self.fall.at(t_ms)
        return speed_mps if then is None else at_pad_mps(speed_mps, then.altitude_m)

    def last_fall_ms(self, after_ms: float) -> float:
        """When it was last seen to fall well above the ground, wherever that lies; `after_ms` if that was earlier."""
        touchdown = self.facts.touchdown
        last_ms = self.fall.clear_of_ground_ms(after_ms)
        if touchdown is None or last_ms < touchdown.t_ms - LANDS_MS:
            return last_ms
        return max(after_ms, touchdown.t_ms - LANDS_MS)  # on a hillside, or in a tree

    def rate_about(self, due_ms: float) -> tuple[float | None, float | None]:
        """Mean rates (m/s) of the last seconds before a moment, and from a while after it to near the ground."""
        top_ms = self.facts.apogee.t_ms if self.facts.apogee else due_ms
        before = self.fall.mean_mps(max(top_ms + 3000.0, due_ms - 4000.0), due_ms)
        if before is None and not self.facts.over:
            held = [s for s in self.facts.stretches if s.is_steady and s.start_ms < due_ms]
            before = held[-1].rate_mps if held else None
        return before, self.fall.mean_mps(due_ms + 1000.0 * NEEDED_AFTER_S, self.fall.clear_of_ground_ms(due_ms))

    def open_question(self, reason: str) -> Verdict | None:
        """No verdict yet; when the flight is over, `not_observed` for this reason."""
        if not self.facts.over:
            return None
        self.reasons.append(reason)
        return Verdict.NOT_OBSERVED

    def say_fired(self) -> None:
        """Add to the reasons what the altimeter reported of the firing."""
        if self.report is None:
            if self.facts.channels_heard and not self.by_motor:
                self.reasons.append("Which of the altimeter's channels is for it was not heard.")
            elif not self.by_motor:
                self.reasons.append("The altimeter's channels were not heard, so whether it fired is not known.")
            return
        if self.fired_ms is not None:
            self.reasons.append(f"The altimeter reported firing it at {self.clock(self.fired_ms)}.")
        else:
            self.reasons.append("The altimeter was not heard to say that it fired.")

    def since(self, stretch: Stretch) -> str:
        """From when it held; what a silence hid, from its end at the latest: sqrt(3) standard deviations later."""
        opened_ms = stretch.opened_ms if stretch.opened_ms is not None else stretch.start_ms
        if stretch.opened_sigma_s <= UNSEEN_S:
            return f"From {self.clock(opened_ms)}"
        end_ms = opened_ms + 1000.0 * sqrt(3.0) * stretch.opened_sigma_s
        return f"From {self.clock(end_ms)} at the latest (a silence of the link hid when)"

    def clock(self, t_ms: float) -> str:
        """A moment as the flyer reads it, in seconds from liftoff."""
        start = self.facts.liftoff.t_ms if self.facts.liftoff else 0.0
        return f"{(t_ms - start) / 1000.0:.1f} s"

    def _is_within(self, stretch: Stretch, most_mps: float) -> bool:
        """Its rate is no more than that; live, one that is known only where it surely is, until it plainly is not.

        A rate that is near a limit goes to and fro over it.
        """
        rate = stretch.rate_mps
        if rate is None:
            return False
        if self.facts.over or not stretch.is_known:
            return rate <= most_mps
        return stretch.surely_under_mps <= most_mps and rate <= (1.0 + PLAINLY_OVER_FRACTION) * most_mps

    def _is_let_go(self, held: Stretch, later: Stretch) -> bool:
        """Looked back on: what is known to have held let go, and the fall settled at what is plainly too fast."""
        if not (self.facts.over and held.is_borne_out and held.is_known) or held.rate_mps is None:
            return False
        rate = later.rate_mps or 0.0
        return later.is_borne_out and rate > max(LET_GO_OVER * self.fastest_mps, LET_GO_RATIO * held.rate_mps)

    def _goes_on_as(self, begun: Stretch, later: Stretch) -> bool:
        """A hold that was found anew, at once, before its rate was known: live it was believed by its first promise.

        Looked back on it still is: else it would have begun at another moment than was told.
        """
        is_at_once = later.start_ms - begun.end_ms < JUST_BEFORE_MS
        if not self.facts.over or begun.is_known or not is_at_once or begun.rate_mps is None:
            return False
        return 0.0 < min((rate for _, rate in begun.promises), default=0.0) <= self.fastest_mps

    def _is_told_by(self, best: Stretch, later: Stretch) -> bool:
        """What follows is known less well yet: it takes nothing back."""
        if best.is_steady and not later.is_borne_out:
            return True
        return not self.facts.over and best.is_known and not later.is_known

    def _main_height(self) -> float | None:
        facts = self.facts
        if facts.unit is not None and facts.unit.main_altitude_m is not None:
            # The altimeter decides by standard-atmosphere height.
            return facts.unit.main_altitude_m * facts.isa_to_true
        return facts.plan.main_height_m if facts.plan is not None else None

    def _called_ms(self, stretch: Stretch) -> float:
        """When the data first let us say that this parachute held: at a rate that it may have."""
        due_ms = self.main_due_ms() if self.role is Role.MAIN and not self.alone else None
        before = None if due_ms is None or due_ms > stretch.called_ms else self.rate_about(due_ms)[0]
        limit = self.fastest_mps if before is None else max(self.fastest_mps, PLAINLY_SLOWER_FRACTION * before)
        return next((t_ms for t_ms, rate in stretch.promises if rate <= limit), stretch.called_ms)

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

    def _is_first_of_unknown(self, stretch: Stretch) -> bool:
        first_ms = next((each.start_ms for each in self.facts.stretches if each.opened_ms is not None), None)
        main = report_of(self.facts.channels, Role.MAIN)
        is_unheard = main is None or (main.fired_ms is None and main.ready_heard_ms is None)
        is_first = first_ms == stretch.start_ms and self._speed_before_mps(stretch) <= DROGUE_FASTEST_MPS
        return not self.alone and is_unheard and is_first

    def _said_ready(self, stretch: Stretch) -> bool:
        """The main's channel was heard, and not heard to have fired before this was over."""
        main = report_of(self.facts.channels, Role.MAIN)
        if main is None or main.ready_heard_ms is None:
            return False
        return main.fired_ms is None or main.fired_ms > stretch.end_ms

    def _restarted_in_flight(self) -> bool:
        """After a restart the altimeter need not know what fired before it."""
        start = self.facts.liftoff
        return start is not None and any(restart_ms > start.t_ms for restart_ms in self.facts.restarts_ms)
